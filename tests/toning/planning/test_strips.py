"""Which strips to make: the best plans as stacks, what nobody tried, nothing against the rules.

What stacks are worth in the loop of plan, layer and reading is told by tests.toning.loop_table.
"""

import numpy as np
import pytest

from tests.toning.simulator import FIRST, make_trials
from tonematch.errors import ShelfError, ValueRefused
from tonematch.record.strip_layout import StripLayout
from tonematch.toning.core import MOST_STRIPS, Layer, Strip, Surface
from tonematch.toning.layers.rules import check_layering
from tonematch.toning.layers.shelf import at_hand, load_shelf
from tonematch.toning.model.layer_model import LayerModel, fit_trials
from tonematch.toning.planning.gap import Workshop, typed_gap
from tonematch.toning.planning.ground import Ground, Lying
from tonematch.toning.planning.plan import plan_for
from tonematch.toning.planning.strips import choose_strips

BRIGHT, AGED = np.array([88.0, 6.0, 35.0]), np.array([70.0, 9.0, 28.0])
WATER = Ground(Surface("water", "burnished"))


def chosen(
    layers: list[Layer],
    model: LayerModel | None = None,
    ground: Ground = WATER,
    most: int = MOST_STRIPS,
) -> tuple[Strip, ...]:
    model = model or fit_trials([], load_shelf())
    gap = typed_gap(BRIGHT, AGED, model)
    return choose_strips(gap, Workshop(model, layers, ground.surface), ground, most)


def names(strip: Strip) -> set[str]:
    return {layer.name for layer in strip.layers}


@pytest.mark.proof
def test_the_first_stack_is_the_best_plan() -> None:
    """Where every layer has trials there are stacks alone, and the first is what would be laid."""
    model, layers = fit_trials(make_trials(60, 3), {}), list(FIRST.layers.values())
    strips = chosen(layers, model, Ground(Surface("oil", "matte")))
    gap = typed_gap(BRIGHT, AGED, model)
    plan = plan_for(gap, Workshop(model, layers, Surface("oil", "matte"))).plans[0]
    assert [(c.layer.name, c.strength, c.coats) for c in strips[0].steps] == [
        (step.layer, step.strength, step.coats) for step in plan.steps
    ]
    assert len(strips) == 3
    # Each tones with something that none before it has.
    for number, strip in enumerate(strips):
        assert names(strip) - {name for one in strips[:number] for name in names(one)}


def test_what_nobody_tried_is_on_some_strip() -> None:
    shelf = load_shelf()
    usual = ("clear shellac seal", "raw umber wash", "burnt umber glaze")
    few = [layer for name, layer in shelf.items() if name in usual or " black " in name]
    assert {name for strip in chosen(few) for name in names(strip)} == {one.name for one in few}


@pytest.mark.parametrize("technique", ["water", "oil"])
def test_no_strip_breaks_a_rule_and_all_fit_one_sheet(technique: str) -> None:
    """Water on burnished water gilding needs a seal first (Rivers and Umney)."""
    surface = Surface(technique, "burnished")  # type: ignore[arg-type]
    strips = chosen(at_hand(load_shelf()), ground=Ground(surface))
    StripLayout.of(strips)
    for strip in strips:
        findings = check_layering(surface, strip.layers)
        assert all(finding.severity != "blocked" for finding in findings)
        for coat in strip.steps:
            assert coat.strength in coat.layer.strengths
            assert 1 <= coat.coats <= coat.layer.most_coats
    washes = [strip for strip in strips if strip.layers[-1].solvent == "water"]
    assert washes
    assert technique == "oil" or all(strip.layers[0].kind == "seal" for strip in washes)


def test_strips_go_on_where_the_repair_is() -> None:
    """Nothing holds over wax (from memory), and what breaks a rule is not repeated."""
    shelf = load_shelf()
    waxed = Ground(Surface("oil", "matte"), (Lying(shelf["dark wax"]),))
    assert chosen([shelf["raw umber wash"]], ground=waxed) == ()
    broken = Ground(Surface("water", "burnished"), (Lying(shelf["raw umber wash"]),))
    assert chosen(at_hand(shelf), ground=broken) == ()


@pytest.mark.proof
def test_as_many_as_asked_for_the_stacks_first() -> None:
    every = chosen(at_hand(load_shelf()))
    assert [names(strip) for strip in chosen(at_hand(load_shelf()), most=4)] == [
        names(strip) for strip in every[:4]
    ]
    assert [len(strip.steps) > 1 for strip in every[:4]] == [True, True, True, False]
    with pytest.raises(ShelfError, match="put at least one on the shelf"):
        chosen([])
    with pytest.raises(ValueRefused, match="ask for 1 to"):
        chosen(at_hand(load_shelf()), most=0)
