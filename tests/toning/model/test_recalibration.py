"""Recalibration: as unsure as left-out pieces bear out, and no piece on both sides."""

from collections import Counter
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as some
from scipy.stats import multivariate_t

from tests.toning.learning import NO_OVERPRINTS, OVERPRINTS, demo_trials, overprints
from tests.toning.simulated import make_with_truth
from tests.toning.simulator import FIRST, by_hand
from tonematch.arrays import Array
from tonematch.toning.core import Prediction
from tonematch.toning.layers.shelf import load_shelf
from tonematch.toning.model.fitted_layer import LayerTrials, Memory
from tonematch.toning.model.layer_model import LayerModel, fit_trials
from tonematch.toning.model.mahalanobis import chance_as_far, squared_distance, squared_reach
from tonematch.toning.model.recalibration import (
    LEANING,
    MOST_ASKED,
    SHARES,
    WIDEST,
    LeftOut,
    factors_within,
    leaning,
    recalibrate,
    without_some_pieces,
)

STEADY, PART = np.diag([1.0, 0.5, 2.0]), np.outer([1.0, 0.5, -0.5], [1.0, 0.5, -0.5])


def scores(n: int, freedom: float, factor: float = 1.0, part: Array = PART) -> Array:
    """Of SciPy's draws, a part of whose covariance is a factor times that foretold."""
    scale = (STEADY + factor * part) * (1.0 if np.isinf(freedom) else (freedom - 2.0) / freedom)
    gaps = multivariate_t(np.zeros(3), scale, df=freedom, seed=n).rvs(n).reshape(n, 3)  # type: ignore[arg-type]
    every = np.ones((n, 1, 1))
    return factors_within(gaps, STEADY * every, part * every, np.full(n, freedom))


@pytest.mark.parametrize("freedom", [3.5, 8.0, np.inf])
@pytest.mark.parametrize("factor", [0.5, 1.0, 2.0])
def test_the_factor_is_found_under_any_tails(freedom: float, factor: float) -> None:
    """Where nearly all of what is foretold is unknown; where little is, less surely."""
    for part, rel in ((9.0 * STEADY, 0.06), (PART, 0.18)):
        assert leaning(scores(6000, freedom, factor, part), 1.0) == pytest.approx(factor, rel=rel)


def test_a_gap_lies_on_the_bound_of_its_region() -> None:
    gap, freedom = np.array([[2.0, 1.0, -3.0]]), np.array([5.0])
    part = PART + 0.1 * np.eye(3)
    for share, times in zip(
        SHARES, np.exp(factors_within(gap, STEADY[None], part[None], freedom))[0], strict=True
    ):
        told = Prediction(np.zeros(3), STEADY + times * part, 5.0)
        assert chance_as_far(told, gap[0]) == pytest.approx(1.0 - share, abs=1e-3)


@given(some.floats(0.3, 3.0), some.integers(1, 200))
def test_it_leans_on_what_is_expected_as_far_as_readings_are_few(times: float, n: int) -> None:
    plain = scores(n, np.inf)
    far = leaning(plain + np.log(times), 1.0)
    assert far == pytest.approx(leaning(plain, 1.0) * times ** (n / (n + LEANING)))
    assert leaning(plain, times) == pytest.approx(
        leaning(plain, 1.0) * times ** (LEANING / (n + LEANING))
    )


def test_nothing_left_out_leaves_what_is_expected() -> None:
    assert leaning(np.empty((0, len(SHARES))), 1.4) == 1.4


@pytest.mark.parametrize("n", [9, 19])
def test_one_more_lies_within_as_often_as_is_said(n: int) -> None:
    """Split conformal prediction (Vovk, Gammerman and Shafer 2005): of n past scores one more lies
    below the (n + 1) p-th with chance p, whatever they are drawn from."""
    drawn = np.random.default_rng(n).exponential(size=(20_000, n + 1))
    for share in SHARES:
        bounds = np.quantile(drawn[:, :n], share, axis=1, method="weibull")
        assert np.mean(drawn[:, n] <= bounds) == pytest.approx(share, abs=0.01)


def test_a_few_mistyped_trials_hardly_count() -> None:
    plain = scores(200, np.inf)
    slips = np.vstack([plain, np.full((2, len(SHARES)), WIDEST)])
    assert leaning(slips, 1.0) == pytest.approx(leaning(plain, 1.0), rel=0.08)


def left_out(layers: dict[str, tuple[int, float]], hand: float = 1.0) -> LeftOut:
    """Normal gaps of so many trials of each layer, whose unknown part is a factor too small."""
    rng, parts = np.random.default_rng(7), []
    by_hand = np.outer([1.0, 0.2, 0.5], [1.0, 0.2, 0.5])
    for name, (n, factor) in layers.items():
        every = np.ones((n, 1, 1))
        covariance = 0.2 * np.eye(3) + hand * by_hand + factor * STEADY
        gaps = rng.multivariate_normal(np.zeros(3), covariance, n)
        parts.append(
            LeftOut(
                np.full(n, name),
                np.arange(n),
                gaps,
                0.2 * np.eye(3) * every,
                by_hand * every,
                STEADY * every,
                np.full(n, np.inf),
            )
        )
    return LeftOut.of(parts)


def test_a_layer_has_a_factor_of_its_own_where_it_was_left_out_often() -> None:
    found = recalibrate(left_out({"even": (400, 1.0), "wild": (400, 4.0), "rare": (3, 4.0)}))
    assert found.of("even") < 1.3
    assert found.of("wild") > 3.0
    assert found.of("rare") == pytest.approx(found.unknown, rel=0.15)
    assert found.of("never laid") == found.unknown
    assert found.hand == 1.0


def test_a_bench_has_a_hand_of_its_own_and_layers_are_known_alike_at_all() -> None:
    layers = {"brown": (300, 1.0), "grey": (300, 1.0)}
    both = LeftOut.of([left_out(layers), left_out(layers, hand=6.0)])
    at_the_second = np.arange(1200) >= 600
    second, of_all = recalibrate(both, at_the_second), recalibrate(both)
    assert second.hand > 2.0 > of_all.hand == 1.0
    assert second.of_layer == of_all.of_layer


def rows_of(layers: dict[str, LayerTrials]) -> Counter[tuple[object, ...]]:
    return Counter(
        (name, str(piece), *map(float, after))
        for name, own in layers.items()
        for piece, after in zip(own.pieces, own.after, strict=True)
    )


def test_no_piece_is_on_both_sides_and_each_trial_is_left_out_once(
    demo_model: LayerModel,
) -> None:
    all_trials = dict(demo_model.trials_)
    left_out: Counter[tuple[object, ...]] = Counter()
    for learn, test in without_some_pieces(all_trials):
        assert not {row[1] for row in rows_of(learn)} & {row[1] for row in rows_of(test)}
        assert rows_of(learn) + rows_of(test) == rows_of(all_trials)
        left_out += rows_of(test)
    assert left_out == rows_of(all_trials)


def test_a_long_logbook_is_asked_by_some_of_its_layers(demo_model: LayerModel) -> None:
    long = {f"{name} {copy}": own for copy in range(12) for name, own in demo_model.trials_.items()}
    for learn, test in without_some_pieces(long):
        assert sum(map(len, [*learn.values(), *test.values()])) <= 1.2 * MOST_ASKED


@pytest.mark.proof
def test_a_steady_workshop_is_called_steadier_than_assumed(demo_model: LayerModel) -> None:
    """The invented trials were read with noise of 0.3 (make_trials.py), not the 0.4 that
    the model assumes where nobody states it."""
    steady = np.sqrt(demo_model.reading_covariance_[0, 0])
    assert 0.2 < steady < 0.35
    told = fit_trials(demo_trials(), load_shelf(), reading_noise=0.2)
    # What is nearer the truth is sooner taken at its word.
    assert np.sqrt(told.reading_covariance_[0, 0]) / 0.2 > steady / 0.4


@pytest.mark.proof
def test_each_bench_has_a_scatter_of_its_own_that_leans_on_that_of_all() -> None:
    """Two hands in one simulated workshop: regions of each cover 90 % of its further trials."""
    hands = {"by the window": 0.05, "by the door": 0.5}
    trials, further = [], {}
    for seed, (bench, hand) in enumerate(hands.items()):
        made = [one.trial for one in make_with_truth(by_hand(hand), 120, seed)]
        trials += [replace(trial, bench=bench) for trial in made[:60]]
        further[bench] = made[60:]
    memory = Memory()
    models = {
        bench: fit_trials(trials, FIRST.layers, memory=memory, bench=bench)
        for bench in ("", "new", *hands)
    }
    common, new, steady, unsteady = (model.recalibration_.hand for model in models.values())
    assert steady < 0.9 * common
    assert unsteady > 1.1 * common
    assert new == common == 1.0

    def covered(model: LayerModel, bench: str) -> float:
        inside = []
        for trial in further[bench]:
            told = model.predict_distribution(trial.application)
            far = squared_distance((trial.after - told.lab)[None], told.covariance[None])
            inside.append(far <= squared_reach(0.9, np.array([told.freedom])))
        return float(np.mean(inside))

    for bench in hands:
        own, of_all = (abs(covered(models[one], bench) - 0.9) for one in (bench, ""))
        assert own <= of_all


@pytest.mark.proof
@pytest.mark.skipif(not OVERPRINTS.exists(), reason=NO_OVERPRINTS)
def test_press_and_spectrophotometer_repeat_better_than_a_hand_and_a_phone() -> None:
    model = fit_trials(overprints(), load_shelf())
    assert np.sqrt(model.reading_covariance_[0, 0]) < 0.5 * model.reading_noise
