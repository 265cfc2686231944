"""What the film law leaves: learned beside it where it is smooth, and counted once."""

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.stats import multivariate_normal
from sklearn.gaussian_process import GaussianProcessRegressor
from sklearn.gaussian_process.kernels import RBF, ConstantKernel

from tests.toning.strips import afters, applications, make_strips
from tonematch.measure.colour.difference import delta_e_2000
from tonematch.toning.core import Trial
from tonematch.toning.model.layer_model import LayerModel, fit_trials
from tonematch.toning.model.recalibration import Recalibration
from tonematch.toning.model.residual_process import (
    EXPECTED,
    MOST_LEARNED_FROM,
    WIDTHS,
    ResidualProcess,
    Rows,
    Smoothness,
    spread_out,
    unlikelihood,
)
from tonematch.toning.optics.film import Laid, lay

Array = NDArray[np.float64]


def drawn(n: int = 9, seed: int = 0, prior: float = 0.04) -> Rows:
    """Rows of no layer in particular."""
    rng = np.random.default_rng(seed)
    root = rng.normal(0.0, 0.5, (n, 3, 3))
    return Rows(
        rng.normal(0.0, 1.0, (n, 6)),
        rng.normal(0.0, 1.0, (n, 3, 14)),
        rng.normal(0.0, 1.0, (n, 3)),
        root @ root.swapaxes(1, 2) + 0.1 * np.eye(3),
        prior * np.eye(14),
        rng.uniform(0.5, 1.0, n),
        seed,
    )


SMOOTH = Smoothness(np.array([0.5, 2.0, 1.0]), np.linspace(0.8, 3.0, 6), 0.7)


def whole(rows: Rows, others: Rows, smoothness: Smoothness, *, noise: bool = True) -> Array:
    """Covariance of what is read at some places with others, one entry after another."""
    kernel = RBF(smoothness.lengths)
    covariance = np.zeros((len(rows.places), 3, len(others.places), 3))
    for i, (place, slope) in enumerate(zip(rows.places, rows.slope, strict=True)):
        for j, (other, across) in enumerate(zip(others.places, others.slope, strict=True)):
            near = kernel(place[None], other[None])[0, 0]
            covariance[i, :, j] = near * np.diag(smoothness.sizes) + slope @ rows.prior @ across.T
            if noise and i == j:
                covariance[i, :, j] += smoothness.noise * rows.noise[i] / rows.weight[i] ** 2
    return covariance.reshape(3 * len(rows.places), -1)


def test_likelihood_is_that_of_a_normal_distribution() -> None:
    """Two layers that share nothing but their smoothness, by SciPy's density."""
    layers, u = [drawn(seed=1), drawn(5, seed=2)], np.linspace(-0.6, 0.5, 10)
    smoothness = Smoothness.of(EXPECTED + WIDTHS * u)
    dense = sum(
        multivariate_normal(cov=whole(rows, rows, smoothness)).logpdf(rows.left.ravel())
        for rows in layers
    )
    constant = 0.5 * np.log(2.0 * np.pi) * 3 * 14
    assert unlikelihood(u, layers)[0] == pytest.approx(0.5 * u @ u - dense - constant, rel=1e-9)


def test_gradient_is_that_of_the_likelihood() -> None:
    layers, u, step = [drawn(seed=1), drawn(5, seed=2)], np.linspace(-0.6, 0.5, 10), 1e-5
    found = unlikelihood(u, layers)[1]
    for i, one in enumerate(step * np.eye(10)):
        rise = unlikelihood(u + one, layers)[0] - unlikelihood(u - one, layers)[0]
        assert found[i] == pytest.approx(rise / (2.0 * step), rel=1e-5, abs=1e-6)


def test_law_and_process_together_are_one_normal_distribution() -> None:
    """Equations 2.41 and 2.42 against conditioning what is read on what was read."""
    rows, fresh = drawn(seed=3), drawn(4, seed=4)
    process = ResidualProcess.learn(rows, SMOOTH, np.zeros(14))
    shift, covariance = process.predict(fresh.places, fresh.slope)
    across = whole(fresh, rows, SMOOTH, noise=False)
    taken = across @ np.linalg.inv(whole(rows, rows, SMOOTH))
    np.testing.assert_allclose(shift.ravel(), taken @ rows.left.ravel(), atol=1e-9)
    expected = whole(fresh, fresh, SMOOTH, noise=False) - taken @ across.T
    blocks = expected.reshape(4, 3, 4, 3)[np.arange(4), :, np.arange(4)]
    np.testing.assert_allclose(covariance, blocks, atol=1e-9)


def test_predictions_are_those_of_scikit_learn_where_the_law_is_certain() -> None:
    rows, fresh = drawn(14, prior=1e-12), drawn(5, seed=5)
    noise = np.linspace(0.1, 0.4, 14)
    rows = Rows(
        rows.places, rows.slope, rows.left, noise[:, None, None] * np.eye(3), rows.prior,
        np.ones(14), 0,
    )  # fmt: skip
    process = ResidualProcess.learn(rows, SMOOTH, np.zeros(14))
    shift, covariance = process.predict(fresh.places, fresh.slope)
    for i, size in enumerate(SMOOTH.sizes):
        kernel = ConstantKernel(size) * RBF(SMOOTH.lengths)
        reference = GaussianProcessRegressor(kernel, alpha=SMOOTH.noise * noise, optimizer=None)
        reference.fit(rows.places, rows.left[:, i])
        mean, sd = reference.predict(fresh.places, return_std=True)
        np.testing.assert_allclose(shift[:, i], mean, rtol=1e-6)
        np.testing.assert_allclose(covariance[:, i, i], sd**2, rtol=1e-6)


def test_strangeness_is_that_of_leaving_out() -> None:
    """By fitting again without two rows."""
    rows, out = drawn(8, seed=6), np.array([2, 5])
    found = rows.strangeness(SMOOTH, [out])[out]
    others = np.setdiff1d(np.arange(8), out)
    parts = (rows.places, rows.slope, rows.left, rows.noise)
    places, slope, left, noise = (part[others] for part in parts)
    kept = Rows(places, slope, left, noise, rows.prior, rows.weight[others], 0)
    process = ResidualProcess.learn(kept, SMOOTH, np.zeros(14))
    mean, covariance = process.predict(rows.places[out], rows.slope[out])
    own = covariance + SMOOTH.noise * rows.noise[out]
    gap = (rows.left[out] - mean)[:, :, None]
    expected = (gap * np.linalg.solve(own, gap)).sum(axis=(1, 2))
    np.testing.assert_allclose(found, expected, rtol=1e-8)


def bent(trials: list[Trial]) -> list[Trial]:
    """A smooth departure: coats on dark ground turn out redder."""
    dark = (90.0 - Laid.of(applications(trials)).before[:, 0]) / 30.0
    extra = np.stack([-2.0 * dark, 4.0 * dark, dark], axis=1)
    return [
        Trial(t.application, t.after + more, t.piece) for t, more in zip(trials, extra, strict=True)
    ]


def without_process(model: LayerModel, trials: list[Trial]) -> Array:
    """How far off the law alone is, CIEDE2000."""
    laid = Laid.of(applications(trials))
    law = lay(model.layers_["brown"].fit.theta, laid)
    return np.asarray(delta_e_2000(law, afters(trials)))


def test_a_smooth_departure_is_learned() -> None:
    model, fresh = fit_trials(bent(make_strips(32)), {}), bent(make_strips(16, seed=9))
    off = delta_e_2000(model.predict(applications(fresh)), afters(fresh))
    assert off.mean() < 0.5 * without_process(model, fresh).mean()


def test_scatter_is_counted_once() -> None:
    """Stated deviations are what fresh readings scatter, where the law is right and known."""
    trials = make_strips(80, hand=0.1, noise=0.4)
    model = fit_trials(trials, {}, recalibration=Recalibration(1.0))
    fresh = make_strips(200, hand=0.1, noise=0.4, seed=5)
    found = [model.predict_distribution(t.application) for t in fresh]
    stated = np.sqrt(np.mean([np.diag(p.covariance) for p in found], axis=0))
    gaps = np.array([t.after - p.lab for t, p in zip(fresh, found, strict=True)])
    np.testing.assert_allclose(stated, np.sqrt((gaps**2).mean(axis=0)), rtol=0.25)


def test_many_trials_are_thinned() -> None:
    places = np.random.default_rng(0).normal(size=(MOST_LEARNED_FROM + 20, 6))
    assert len(set(spread_out(places).tolist())) == MOST_LEARNED_FROM
