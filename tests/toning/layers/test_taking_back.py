"""Stacks from which layers are taken back, and trials that are told what lay beneath."""

from dataclasses import replace

import numpy as np

from tonematch.toning.core import Application, Layer, Surface, Trial
from tonematch.toning.layers.shelf import find_layer, load_shelf
from tonematch.toning.layers.taking_back import lift_of, lifts_on, stack_after, with_beneath

SHELF = load_shelf()
SEAL, UMBER, WAX = (SHELF[name] for name in ("clear shellac seal", "raw umber wash", "dark wax"))


def test_all_coats_on_top_come_off_and_nothing_beneath() -> None:
    stack = (UMBER, SEAL, UMBER, UMBER)
    assert stack_after(stack, lift_of(UMBER)) == (UMBER, SEAL)
    assert stack_after(stack, lift_of(SEAL)) == stack
    assert stack_after((SEAL,), UMBER, coats=2) == (SEAL, UMBER, UMBER)


def test_layers_are_offered_from_the_top_down_to_the_lowest_that_tones() -> None:
    glaze = SHELF["raw umber glaze"]  # hard once it is dry

    def offered(*stack: Layer) -> list[str]:
        return [lift.name for lift, _ in lifts_on(Surface(beneath=stack))]

    assert offered(SEAL, UMBER, WAX) == ["dark wax, taken back", "raw umber wash, taken back"]
    assert offered(UMBER, SEAL) == ["clear shellac seal, taken back", "raw umber wash, taken back"]
    assert offered(UMBER, glaze, WAX) == ["dark wax, taken back"]
    assert offered(SEAL) == offered(UMBER, glaze) == offered() == []


def test_a_lift_is_found_by_the_name_of_its_layer() -> None:
    lift = find_layer(SHELF, "Raw umber wash, taken back")
    assert (lift.kind, lift.solvent, lift.at_hand) == ("lift", "water", False)


def test_a_lift_is_told_what_was_read_before_its_layer_was_laid() -> None:
    def trial(layer: Layer, step: int, before: float, piece: str = "frame") -> Trial:
        laid = Application(np.array([before, 8, 30]), layer.name, layer.kind, 1.0)
        return Trial(laid, np.zeros(3), piece, step=step)

    lift = lift_of(UMBER)
    stack = [trial(SEAL, 1, 84), trial(UMBER, 2, 83), trial(UMBER, 3, 75), trial(lift, 4, 70)]
    *_, told = with_beneath([*stack[:2], trial(WAX, 1, 60, "other"), *stack[2:]])
    assert told.application.under is not None
    assert told.application.under[0] == 83
    assert with_beneath([replace(stack[-1], piece="bare")])[0].application.under is None
