"""Which strips to make: they teach more than strips made at random, and keep to the rules."""

import numpy as np
import pytest

from tests.toning.strips_table import chosen as chosen_for
from tests.toning.strips_table import drawn, learned, make_case, prediction_error
from tonematch.errors import ShelfError, ValueRefused
from tonematch.toning.core import Application, Layer, Strip, Surface, Trial
from tonematch.toning.layers.rules import check_layering
from tonematch.toning.layers.shelf import load_shelf
from tonematch.toning.model.layer_model import LayerModel, fit_trials
from tonematch.toning.planning.ground import Ground
from tonematch.toning.planning.strips import choose_strips

BRIGHT = np.array([88.0, 6.0, 35.0])
AGED = np.array([75.0, 8.0, 30.0])
NAMES = ("clear shellac seal", "raw umber wash", "burnt umber glaze", "rottenstone dust")


def some_layers() -> list[Layer]:
    shelf = load_shelf()
    return [shelf[name] for name in NAMES]


def empty_model() -> LayerModel:
    return fit_trials([], load_shelf())


def chosen(count: int = 6, model: LayerModel | None = None) -> tuple[Strip, ...]:
    ground = Ground(Surface("water", "burnished"))
    return choose_strips(model or empty_model(), some_layers(), BRIGHT, AGED, count, ground)


@pytest.mark.proof
@pytest.mark.parametrize(("trials", "lower"), [(0, 0.25), (12, 0.1)])
def test_chosen_strips_teach_more_than_random_ones(trials: int, lower: float) -> None:
    """A quarter from an empty logbook; where there are trials already, less is left to learn."""
    ours, others = [], []
    for seed in range(6):
        case = make_case(seed, trials)
        ours.append(prediction_error(case, learned(case, chosen_for(case), seed)))
        for other in (seed, seed + 1000):
            others.append(prediction_error(case, learned(case, drawn(case, other), seed)))
    assert np.mean(ours) <= (1.0 - lower) * np.mean(others)


def test_as_many_strips_as_asked_for_each_with_a_gain() -> None:
    strips = chosen(6)
    assert len(strips) == 6
    gains = [strip.gain for strip in strips]
    assert min(gains) >= 0.0
    # A second strip may add a little more than the first alone: each makes the other worth more.
    assert gains[0] >= 0.9 * max(gains)
    assert gains[-1] < 0.5 * gains[0]
    assert sum(gains) < 1.0


def test_strengths_and_coats_are_those_of_the_shelf() -> None:
    for strip in chosen(6):
        assert strip.strength in strip.layer.strengths
        assert 1 <= strip.coats <= strip.layer.most_coats


def test_no_strip_breaks_a_rule_of_layering() -> None:
    """Water on burnished water gilding needs a seal first (Rivers and Umney)."""
    surface = Surface("water", "burnished")
    strips = chosen(12)
    for strip in strips:
        findings = check_layering(surface, [*strip.first, strip.layer])
        assert all(finding.severity != "blocked" for finding in findings)
    washes = [strip for strip in strips if strip.layer.solvent == "water"]
    assert washes
    assert all(strip.first for strip in washes)


def test_what_is_well_known_is_not_tried_again() -> None:
    """After twenty trials of one glaze, strips go to the other layers."""
    known: list[Trial] = []
    model = empty_model()
    rng = np.random.default_rng(3)
    strips = [strip for strip in chosen(12) if strip.layer.name == "burnt umber glaze"]
    for i in range(20):
        strip = strips[i % len(strips)]
        application = _application(strip)
        after = model.predict([application])[0] + 0.4 * rng.standard_normal(3)
        known.append(Trial(application, after, f"strip {i}"))
    first = chosen(3, fit_trials(known, load_shelf()))
    assert all(strip.layer.name != "burnt umber glaze" for strip in first)


def test_same_draws_same_strips() -> None:
    one, other = chosen(4), chosen(4)
    assert [(s.layer.name, s.strength, s.coats) for s in one] == [
        (s.layer.name, s.strength, s.coats) for s in other
    ]


def test_strips_without_layers_or_without_number_are_refused() -> None:
    with pytest.raises(ShelfError, match="put at least one on the shelf"):
        choose_strips(empty_model(), [], BRIGHT, AGED)
    with pytest.raises(ValueRefused, match="ask for 1 to"):
        chosen(0)


def _application(strip: Strip) -> Application:
    return Application(
        strip.before, strip.layer.name, strip.layer.kind, strip.strength, strip.coats, "water",
        "burnished",
    )  # fmt: skip
