"""What is learned of lustre: the law's limits, parameters found again, and pieces held out."""

import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.cases import in_ci
from tests.measure.metal_renders import ORIGINAL, old_gold, ring
from tests.measure.shine_cases import photographs, read_lustre
from tests.toning.gleams import gleaming_shelf, make_lustre_trials
from tests.toning.lustre_table import held_out_errors
from tonematch.toning.core import Application, Coat, Layer, Trial
from tonematch.toning.layers.shelf import load_shelf
from tonematch.toning.model.lustre import learn_lustre
from tonematch.toning.model.lustre_law import LustrePrediction, load_lustre_priors, lustre_after

stops = st.floats(0.0, 5.0)
SEAL, WAX = Layer("my seal", "seal", lustre="raises"), Layer("my wax", "wax", lustre="satin")
SHELF = {layer.name: layer for layer in (SEAL, WAX)}


def lustre_trial(layer: Layer, before: float, after: float, amount: float = 1.0) -> Trial:
    """A trial of which only the lustre counts."""
    laid = Application(np.array([80.0, 5, 30]), layer.name, layer.kind, amount)
    return Trial(laid, laid.before, before_lustre=before, after_lustre=after)


@given(own=stops, pull=st.floats(0.01, 3.0), before=stops, amounts=st.tuples(stops, stops))
def test_a_thicker_layer_never_ends_farther_from_its_own_lustre(
    own: float, pull: float, before: float, amounts: tuple[float, float]
) -> None:
    thin, thick = lustre_after(own, pull, before, sorted(amounts))
    assert abs(thick - own) <= abs(thin - own) + 1e-12
    assert abs(thin - own) <= abs(before - own) + 1e-12


def test_known_parameters_are_found_again() -> None:
    rng = np.random.default_rng(1)
    truth = {SEAL: (2.4, 0.9), WAX: (0.9, 0.4)}
    trials = []
    for layer, (own, pull) in truth.items():
        for _ in range(60):
            before, amount = rng.uniform(0.3, 3.0), float(rng.choice([0.25, 0.5, 1.0, 2.0]))
            after = float(lustre_after(own, pull, before, amount)) + 0.02 * rng.standard_normal()
            trials.append(lustre_trial(layer, before, after, amount))
    model = learn_lustre(trials, SHELF)
    for layer, (own, pull) in truth.items():
        found = model.known(layer)
        assert found.trials == 60
        sd = np.sqrt(np.diag(found.covariance))
        assert abs(found.own - own) < max(3.0 * sd[0], 0.1)
        assert abs(math.log(found.pull / pull)) < max(3.0 * sd[1], 0.15)
    assert model.components_.reading < load_lustre_priors().reading / 2.0


def test_the_order_of_trials_does_not_matter() -> None:
    trials = make_lustre_trials(30, 3)
    shelf = gleaming_shelf()
    one, other = learn_lustre(trials, shelf), learn_lustre(trials[::-1], shelf)
    for name, known in one.layers_.items():
        assert (known.own, known.pull) == (other.layers_[name].own, other.layers_[name].pull)


def test_a_mistyped_lustre_hardly_moves_what_is_learned() -> None:
    rng = np.random.default_rng(2)
    trials = [
        lustre_trial(SEAL, b, float(lustre_after(2.0, 0.8, b, 1.0)) + 0.1 * rng.standard_normal())
        for b in rng.uniform(0.3, 3.0, 15)
    ]
    honest = learn_lustre(trials, SHELF).known(SEAL)
    spoilt = learn_lustre([*trials, lustre_trial(SEAL, 1.0, 9.5)], SHELF).known(SEAL)
    assert spoilt.own == pytest.approx(honest.own, abs=0.2)


def test_without_trials_the_shelf_guesses_with_its_width() -> None:
    shelf, priors = load_shelf(), load_lustre_priors()
    assert {layer.lustre or "none" for layer in shelf.values()} == set(priors.words)
    # A trial in which nobody measured lustre teaches nothing of it.
    model = learn_lustre([replace(lustre_trial(SEAL, 1.0, 2.0), after_lustre=None)], SHELF)
    for layer in (*shelf.values(), SEAL):
        known, prior = model.known(layer), priors.words[layer.lustre or "none"]
        assert known.trials == 0
        assert (known.own, known.pull) == pytest.approx((prior.own, prior.pull))
        np.testing.assert_allclose(
            np.sqrt(np.diag(known.covariance)), [prior.own_deviation, prior.pull_deviation]
        )


def test_layers_of_one_word_teach_each_other() -> None:
    other = Layer("another seal", "seal", lustre="raises")
    shelf = {**SHELF, other.name: other}
    trials = [lustre_trial(SEAL, b, 2.9, 2.0) for b in (0.5, 1.0, 1.5, 2.0, 2.5)]
    model, prior = learn_lustre(trials, shelf), load_lustre_priors().words["raises"]
    assert prior.own < model.known(other).own < model.known(SEAL).own
    assert model.known(SEAL).covariance[0, 0] < model.known(other).covariance[0, 0]
    assert model.known(WAX).own == pytest.approx(load_lustre_priors().words["satin"].own)


def test_a_prediction_is_the_mean_over_what_is_not_known() -> None:
    """Against draws from the same distributions: Monte Carlo as in JCGM 101."""
    model = learn_lustre([lustre_trial(SEAL, 1.0, 1.8), lustre_trial(WAX, 2.0, 1.4, 0.5)], SHELF)
    before = LustrePrediction(1.2, 0.3)
    ends = model.predict(before, [Coat(SEAL, 0.5), Coat(WAX, 1.0, 2)])
    rng = np.random.default_rng(0)
    drawn = before.stops + before.deviation * rng.standard_normal(200_000)
    for end, (layer, amount) in zip(ends, ((SEAL, 0.5), (WAX, 2.0)), strict=True):
        known = model.known(layer)
        own, ln_pull = rng.multivariate_normal(
            [known.own, math.log(known.pull)], known.covariance, len(drawn)
        ).T
        after = lustre_after(own, np.exp(ln_pull), drawn, amount)
        drawn = after + model.components_.spread(after - drawn) * rng.standard_normal(len(drawn))
        assert end.stops == pytest.approx(drawn.mean(), abs=0.01)
        assert end.deviation == pytest.approx(drawn.std(), rel=0.02)
    low, high = ends[-1].interval
    assert low < ends[-1].stops < high


@pytest.mark.parametrize("size", [12, *(in_ci(n) for n in (30, 60))])
def test_held_out_pieces_are_foretold_and_the_intervals_hold(size: int) -> None:
    errors = held_out_errors(size, range(10))  # 600 readings on other pieces
    assert errors.model <= 1.1 * min(errors.no_change, errors.mean_change)
    assert 0.91 <= errors.coverage <= 0.99
    # Through up to four layers, some 240 pieces: chance alone moves this by 2 %.
    assert 0.91 <= errors.end_coverage <= 0.99


@pytest.mark.proof
def test_lustre_read_from_photographs_is_learned() -> None:
    """Renders of gold of several burnishes, and of it under something satin that hides it."""
    rng = np.random.default_rng(8)

    def rise(height: float) -> float:
        metal = old_gold(0.2, 0.05, 6.0, height)
        photos = photographs(metal, metal, ring(5, rng), rng)
        return read_lustre(photos, ORIGINAL).rise

    trials = [lustre_trial(WAX, rise(height), rise(0.5)) for height in (0.3, 1.0, 2.0, 3.0)]
    model = learn_lustre(trials, SHELF)
    bright = rise(2.5)
    (end,) = model.predict(LustrePrediction(bright, 0.1), [Coat(WAX, 1.0)])
    low, high = end.interval
    assert low <= rise(0.5) <= high
    assert end.stops < bright - 0.5
