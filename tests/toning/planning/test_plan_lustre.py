"""Where plans leave the lustre, and what is named to bring it nearer."""

import re
from dataclasses import replace

import numpy as np
import pytest
from scipy.stats import foldnorm, norm, t

from tests.toning.tints import SHIFTS, Tints, tint_shelf
from tonematch.arrays import Array
from tonematch.errors import ValueRefused
from tonematch.toning.core import (
    Application,
    Coat,
    Layer,
    Plan,
    PlanLustre,
    Prediction,
    Surface,
    Trial,
)
from tonematch.toning.layers.shelf import load_shelf
from tonematch.toning.model.lustre import LustreModel, learn_lustre
from tonematch.toning.model.lustre_law import LustrePrediction, lustre_after
from tonematch.toning.optics.film import Laid
from tonematch.toning.planning.gap import Gap, Workshop
from tonematch.toning.planning.lustre_words import (
    say_layer_lustre,
    say_lustre_numbers,
    say_trial_lustre,
)
from tonematch.toning.planning.plan import plan_for
from tonematch.toning.planning.plan_lustre import expected_distance, lustre_at_end

BRIGHT, AGED = np.array([88.0, 6.0, 35.0]), np.array([72.0, 6.5, 28.0])
SHELF = load_shelf()
WATER = Surface("water", "burnished")
SEALED = replace(WATER, beneath=(SHELF["clear shellac seal"],))


class Still:
    """Layers that leave the colour as it is, but for those named, which darken it by 10."""

    def __init__(self, *darken: str) -> None:
        self.darken = darken

    tried = frozenset[str]()
    reading_covariance_ = np.zeros((3, 3))

    def freedom_of(self, layer: Layer) -> float:  # noqa: ARG002
        return float("inf")

    def predict_layer(self, layer: Layer, laid: Laid, covariance: Array) -> tuple[Array, Array]:
        darker = 10.0 if layer.name in self.darken else 0.0
        return laid.before - np.array([darker, 0.0, 0.0]), np.array([covariance])


def learned() -> LustreModel:
    """A seal of 2.6 stops, a wax of 1.2 and a dust of 0.4, each known well."""
    rng = np.random.default_rng(4)
    truth = {"clear shellac seal": 2.6, "clear wax": 1.2, "rottenstone dust": 0.4}
    trials = []
    for name, own in truth.items():
        for amount in (0.25, 0.5, 1.0, 2.0) * 4:
            before = rng.uniform(0.3, 3.0)
            after = float(lustre_after(own, 1.5, before, amount)) + 0.03 * rng.standard_normal()
            laid = Application(BRIGHT, name, SHELF[name].kind, amount)
            trials.append(Trial(laid, BRIGHT, before_lustre=before, after_lustre=after))
    return learn_lustre(trials, SHELF)


def ends(
    before: float,
    target: float,
    laid: tuple[Coat, ...] = (),
    layers: tuple[str, ...] = ("clear shellac seal", "clear wax", "rottenstone dust"),
    surface: Surface = SEALED,
    darken: tuple[str, ...] = (),
) -> PlanLustre:
    gap = Gap(AGED, AGED, np.eye(3), np.eye(3), 2.0, (before, target))
    usable = [SHELF[name] for name in layers]
    workshop = Workshop(Still(*darken), usable, surface, learned())
    found = lustre_at_end(gap, workshop, laid, Prediction(AGED, np.eye(3)))
    assert found is not None
    return found


@pytest.mark.parametrize(
    ("before", "target", "others", "named"),
    [
        (1.0, 2.5, ("clear wax", "rottenstone dust"), "clear shellac seal"),
        (2.5, 0.4, ("clear shellac seal", "clear wax"), "rottenstone dust"),
        # A dust would do, too, for less of it stops half way.
        (2.8, 1.2, ("clear shellac seal",), "clear wax"),
    ],
)
def test_the_layer_whose_own_lustre_is_the_old_golds_is_named(
    before: float, target: float, others: tuple[str, ...], named: str
) -> None:
    found = ends(before, target, layers=(*others, named))
    assert found.last is not None
    assert found.last.layer == named
    assert abs(found.last.stops - target) < abs(before - target) / 2.0
    assert found.last.interval[0] < found.last.stops < found.last.interval[1]
    assert re.search(f"Laid last, {named} at (.* of )?full strength", found.words[0])
    assert found.stops == before  # nothing is laid yet


def test_what_counts_as_alike_needs_no_layer() -> None:
    found = ends(1.4, 1.2)
    assert found.last is None
    assert "about like the old gold's" in found.words[0]


def test_nothing_is_named_that_the_rules_forbid() -> None:
    # Nothing holds over wax (common practice, no source; rules.toml).
    waxed = (Coat(SHELF["clear wax"], 1.0),)
    found = ends(1.0, 2.5, waxed)
    assert found.last is None
    assert "No layer of this shelf" in found.words[0]
    # What cannot be undone is no way to set the lustre.
    rub = ends(2.5, 0.4, layers=("rub to bole",), surface=WATER)
    assert rub.last is None


def test_nothing_is_named_that_takes_the_colour_away() -> None:
    last = ends(2.5, 0.4, darken=("rottenstone dust",)).last
    assert last is not None
    assert last.layer == "clear wax"  # the second best, see above


def test_the_end_is_the_models_and_says_what_is_only_guessed() -> None:
    model = learned()
    coats = (Coat(SHELF["raw umber glaze"], 0.5), Coat(SHELF["clear shellac seal"], 1.0))
    found = ends(1.0, 2.4, coats)
    expected = model.predict(LustrePrediction(1.0, 0.0), coats)[-1]
    assert found.stops == pytest.approx(expected.stops)
    assert found.interval == pytest.approx(expected.interval)
    # Student's t with 5 degrees of freedom, of the scale at which its 90 % are those of the normal.
    reach = t.ppf(0.975, 5) / t.ppf(0.95, 5) * norm.ppf(0.95)
    assert found.interval[1] - found.stops == pytest.approx(reach * expected.deviation)
    assert "guess" not in " ".join(found.words)
    assert "it is the shelf's guess" in ends(1.0, 2.4, coats[:1]).words[-1]


@pytest.mark.parametrize(("stops", "deviation"), [(1.0, 0.5), (2.5, 0.3), (0.2, 1.5)])
def test_the_expected_distance_is_that_of_the_folded_normal(stops: float, deviation: float) -> None:
    ours = expected_distance(LustrePrediction(stops, deviation), 1.0)
    assert ours == pytest.approx(foldnorm.mean(abs(stops - 1.0) / deviation, scale=deviation))
    assert expected_distance(LustrePrediction(stops, 0.0), 1.0) == abs(stops - 1.0)


def plans(lustres: tuple[float, float] | None, target: Array = AGED) -> tuple[Plan, ...]:
    exact = np.zeros((3, 3))
    gap = Gap(BRIGHT, target, exact, exact, lustres=lustres)
    layers, model = list(tint_shelf().values()), LustreModel(tint_shelf())
    return plan_for(gap, Workshop(Tints(0.1), layers, Surface("water"), model)).plans


def test_plans_say_the_lustre_only_where_it_was_measured() -> None:
    with_it, without = plans((2.5, 1.0)), plans(None)
    assert [p.steps[0].layer for p in with_it] == [p.steps[0].layer for p in without]
    assert all(plan.lustre is None for plan in without)
    for plan in with_it:
        assert plan.lustre is not None
        assert plan.lustre.original == 1.0
        assert {*plan.lustre.words} <= {*plan.cautions}
        assert not any("in a moving light" in caution for caution in plan.cautions)


def test_a_match_of_colour_still_says_that_the_lustre_is_apart() -> None:
    (stop,) = plans((2.5, 1.0), BRIGHT)
    assert stop.steps == ()
    assert stop.lustre is not None
    assert "The lustre is now shinier than the old gold's." in stop.lustre.words[0]
    assert "lustre 2.5 stops" in say_lustre_numbers(stop.lustre)
    assert stop.cautions == stop.lustre.words


@pytest.mark.parametrize(("before", "target"), [(-0.1, 1.0), (1.0, 11.0), (float("nan"), 1.0)])
def test_a_lustre_that_cannot_be_is_refused(before: float, target: float) -> None:
    with pytest.raises(ValueRefused, match="from 0 to 10"):
        Gap(BRIGHT, AGED, np.eye(3), np.eye(3), lustres=(before, target))


def test_a_layer_says_what_was_learned_beside_the_guess() -> None:
    model, guess = learned(), LustreModel(SHELF)
    seal, button, wash = (
        SHELF[name] for name in ("clear shellac seal", "button shellac", "raw umber wash")
    )
    said = say_layer_lustre(model.known(seal), guess.known(seal))
    assert said.startswith("Learned from 16 trials with a lustre: its own lustre is 2.")
    assert "First guess: its own lustre is 1.9 stops" in said
    said = say_layer_lustre(model.known(button), guess.known(button))
    assert said.startswith("No trial of it has a lustre yet. First guess: ")
    assert "From layers like it" in said
    assert "From layers like it" not in say_layer_lustre(model.known(wash), guess.known(wash))


def test_a_trial_says_its_lustre_where_it_has_one() -> None:
    trial = Trial(Application(BRIGHT, "clear wax", "wax", 1.0), BRIGHT)
    assert say_trial_lustre(trial) == ""
    measured = replace(trial, after_lustre=1.25)
    assert say_trial_lustre(measured) == "lustre before not measured, after 1.25 stops"


def test_a_layer_that_only_trials_know_is_learned_too() -> None:
    assert SHIFTS.keys().isdisjoint(SHELF)
    unknown = Layer("mystery varnish", "glaze")
    laid = Application(BRIGHT, unknown.name, unknown.kind, 1.0, 2)
    trial = Trial(laid, BRIGHT, before_lustre=1.0, after_lustre=2.8)
    before = LustreModel(SHELF).known(unknown)
    after = learn_lustre([trial] * 5, SHELF).known(unknown)
    assert (after.trials, before.trials) == (5, 0)
    assert after.own > before.own
