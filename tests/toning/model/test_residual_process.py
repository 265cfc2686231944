"""What the film law leaves: learned where it can be predicted, left alone where it cannot."""

import numpy as np
import pytest
from numpy.typing import NDArray
from sklearn.gaussian_process import GaussianProcessRegressor
from sklearn.gaussian_process.kernels import RBF, ConstantKernel, WhiteKernel

from tests.toning.strips import afters, applications, known_theta, make_strips
from tonematch.toning.core import Trial
from tonematch.toning.model.residual_process import (
    FEWEST_FOR_PROCESS,
    MOST_LEARNED_FROM,
    Process,
    ResidualProcess,
    learn_residual_process,
    trusted,
    unlikelihood,
)
from tonematch.toning.optics.film import Laid, lay

Array = NDArray[np.float64]

THETA = known_theta()


def learned(trials: list[Trial], extra: Array) -> ResidualProcess | None:
    """Learn what is left when something that the law does not know is added."""
    laid = Laid.of(applications(trials))
    pieces = np.array([t.piece for t in trials])
    return learn_residual_process(THETA, laid, lay(THETA, laid), afters(trials) + extra, pieces)


def bend(laid: Laid) -> Array:
    """A smooth departure: coats on dark ground turn out redder."""
    dark = (90.0 - laid.before[:, 0]) / 30.0
    return np.stack([-2.0 * dark, 4.0 * dark, dark], axis=1)


@pytest.mark.parametrize("n", [12, 24, 48])
def test_noise_does_little_harm_where_it_is_taken_for_more(n: int) -> None:
    fresh = Laid.of(applications(make_strips(16, seed=900)))
    law = lay(THETA, fresh)
    for seed in range(6):
        noise = np.random.default_rng(100 + seed).normal(0.0, 0.5, (n, 3))
        found = learned(make_strips(n, seed=seed), noise)
        lab = law if found is None else found.predict(fresh, law)[0]
        assert np.sqrt(np.mean((lab - law) ** 2)) < 0.5


def test_a_smooth_departure_is_learned() -> None:
    trials = make_strips(32)
    found = learned(trials, bend(Laid.of(applications(trials))))
    assert found is not None
    fresh = Laid.of(applications(make_strips(16, seed=9)))
    lab, variance = found.predict(fresh, lay(THETA, fresh))
    expected = lay(THETA, fresh) + bend(fresh)
    assert np.abs(lab - expected).mean() < 0.3
    assert (variance > 0.0).all()


def test_too_few_trials_are_left_to_the_law() -> None:
    trials = make_strips(FEWEST_FOR_PROCESS - 1)
    assert learned(trials, np.full((len(trials), 3), 5.0)) is None


def test_what_holds_on_one_piece_only_is_not_learned() -> None:
    strips = make_strips(16)
    trials = [Trial(t.application, t.after, f"piece {i // 4}") for i, t in enumerate(strips)]
    by_piece = np.repeat(np.random.default_rng(3).normal(0.0, 3.0, (4, 3)), 4, axis=0)
    assert learned(trials, by_piece) is None


def test_left_out_errors_are_those_of_leaving_out() -> None:
    # Sundararajan and Keerthi 2001, against fitting again without one trial, kernel kept.
    trials = make_strips(12)
    extra = bend(Laid.of(applications(trials)))
    found = learned(trials, extra)
    assert found is not None
    laid = Laid.of(applications(trials))
    others = np.delete(np.arange(12), 4)
    left = afters(trials) + extra - trusted(found.trust, laid, lay(THETA, laid))
    X = found.process.places
    again = reference(found.process.logs[0], X[others], left[others, 0])
    mean, sd = again.predict(X[[4]], return_std=True)
    assert left[4, 0] - mean[0] == pytest.approx(found.errors[4, 0], abs=1e-3)
    assert sd[0] ** 2 == pytest.approx(found.variances[4, 0], rel=1e-2)


def reference(logs: Array, X: Array, y: Array) -> GaussianProcessRegressor:
    """scikit-learn's process with these numbers."""
    kernel = ConstantKernel() * RBF(np.ones(X.shape[1])) + WhiteKernel()
    return GaussianProcessRegressor(kernel.clone_with_theta(logs), optimizer=None).fit(X, y)


def test_predictions_are_those_of_scikit_learn() -> None:
    rng = np.random.default_rng(4)
    X, y, fresh = (rng.normal(0.0, 1.0, shape) for shape in ((14, 6), (14, 3), (5, 6)))
    logs = rng.uniform(-1.0, 1.0, (3, 8))
    mean, variance = Process.learn(logs, X, y).predict(fresh)
    for i in range(3):
        expected, sd = reference(logs[i], X, y[:, i]).predict(fresh, return_std=True)
        np.testing.assert_allclose(mean[:, i], expected, rtol=1e-9, atol=1e-12)
        np.testing.assert_allclose(variance[:, i], sd**2, rtol=1e-9)


def test_likelihood_and_gradient_are_those_of_scikit_learn() -> None:
    rng = np.random.default_rng(2)
    X, y = rng.normal(0.0, 1.0, (14, 6)), rng.normal(0.0, 1.5, 14)
    logs = np.log([2.0, *rng.uniform(0.5, 3.0, 6), 0.4])
    process = reference(logs, X, y)
    likelihood, gradient = process.log_marginal_likelihood(logs, eval_gradient=True)
    squares = (X[:, None] - X[None]).transpose(2, 0, 1) ** 2
    found, slope = unlikelihood(logs, squares, y)
    assert found == pytest.approx(-likelihood, rel=1e-9)
    np.testing.assert_allclose(slope, -gradient, rtol=1e-7, atol=1e-9)


def test_many_trials_are_thinned() -> None:
    trials = make_strips(MOST_LEARNED_FROM + 20)
    found = learned(trials, bend(Laid.of(applications(trials))))
    assert found is not None
    assert len(set(found.rows.tolist())) == MOST_LEARNED_FROM == len(found.errors)
