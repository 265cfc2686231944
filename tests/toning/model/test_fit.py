"""Fitting one layer: what went in comes out, and one bad row does not spoil it."""

from dataclasses import replace

import numpy as np
import pytest
from numpy.typing import NDArray

from tests.toning.strips import GROUNDS, afters, applications, known_theta, make_strips
from tonematch.measure.colour.difference import delta_e_2000
from tonematch.toning.core import Application, Layer, Trial
from tonematch.toning.model.fit import Jacobians, LayerFit, fit_layer
from tonematch.toning.model.prior import Prior, VarianceComponents, first_prior
from tonematch.toning.optics import film
from tonematch.toning.optics.film import Laid, lay

Array = NDArray[np.float64]

EXACT = VarianceComponents(hand=0.02, misfit=0.05)
EVERYDAY = VarianceComponents(hand=0.15, misfit=0.3)
FRESH = Laid.of(
    [Application(lab - 3.0, "brown", "glaze", s) for lab in GROUNDS for s in (0.3, 0.6, 0.9)]
)


def even(deviation: float) -> Array:
    """Readings that all err alike, in L*, a* and b*."""
    return np.tile(deviation**2 * np.eye(3), (1, 2, 1, 1))


def prior() -> Prior:
    return first_prior(Layer("brown", "glaze"))


def fit(
    trials: list[Trial], components: VarianceComponents = EVERYDAY, noise: float = 0.4
) -> LayerFit:
    return fit_layer(
        Laid.of(applications(trials)), afters(trials), prior(), components, even(noise)
    )


def error(found: LayerFit) -> float:
    """Mean CIEDE2000 from the truth on surfaces and strengths that no trial had."""
    return float(delta_e_2000(lay(found.theta, FRESH), lay(known_theta(), FRESH)).mean())


def test_known_film_is_found_again() -> None:
    found = fit(make_strips(32), EXACT, 0.05)
    assert error(found) < 0.15
    # K at full strength, where K and the strength curve do not stand in for each other.
    np.testing.assert_allclose(found.theta[film.LN_K], known_theta()[film.LN_K], atol=0.15)


def test_more_trials_come_nearer() -> None:
    few, many = (
        np.mean([error(fit(make_strips(n, hand=0.15, noise=0.4, seed=s))) for s in range(4)])
        for n in (3, 48)
    )
    assert many < 0.7
    assert many < 0.6 * few


def test_a_fit_that_begins_at_an_earlier_one_ends_nearer_to_where_many_rounds_end(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    trials = make_strips(8, hand=0.15, noise=0.4)
    moved = Prior(prior().at(np.full(15, 0.3)), 0.8 * prior().root)
    given = Laid.of(applications(trials)), afters(trials), moved, EVERYDAY, even(0.4)
    anew, further = fit_layer(*given), fit_layer(*given, fit(trials))
    monkeypatch.setattr("tonematch.toning.model.fit.ROUNDS", 20)
    end = lay(fit_layer(*given).theta, FRESH)
    far, near = (delta_e_2000(lay(one.theta, FRESH), end).max() for one in (anew, further))
    assert near < min(far, 0.05)


def test_no_trials_leave_the_prior() -> None:
    found = fit([])
    np.testing.assert_array_equal(found.theta, prior().mean)
    np.testing.assert_allclose(found.covariance, prior().covariance)
    assert not found.information.any()


def test_trials_only_sharpen_the_prior() -> None:
    before, after = prior().covariance, fit(make_strips(8, noise=0.4)).covariance
    assert np.linalg.eigvalsh(before - after).min() > -1e-9
    assert np.linalg.eigvalsh(after).min() > 0.0


@pytest.mark.parametrize(
    "mistake",
    [
        lambda lab: lab[[2, 1, 0]],  # L* and b* swapped
        lambda lab: lab + np.array([-40.0, 20.0, -30.0]),
        lambda lab: lab / 10.0,  # a misplaced decimal point
    ],
)
def test_one_gross_mistake_hardly_moves_the_fit(mistake: object) -> None:
    assert callable(mistake)
    trials = make_strips(16, hand=0.1, noise=0.4)
    wrong = list(trials)
    wrong[5] = Trial(trials[5].application, mistake(trials[5].after), trials[5].piece)
    clean, spoiled = fit(trials), fit(wrong)
    moved = delta_e_2000(lay(spoiled.theta, FRESH), lay(clean.theta, FRESH))
    assert moved.max() < 1.0
    assert spoiled.strangeness.argmax() == 5
    assert spoiled.strangeness[5] > 5.0 * np.delete(spoiled.strangeness, 5).max()


def test_jacobians_are_those_of_the_law() -> None:
    theta = known_theta()
    theta[film.LN_REACH] = -0.1  # at 0 the law has a kink: no more than all can be covered
    moved = Jacobians(theta, FRESH)
    before, amount = moved.of_what_is_laid
    step = np.array([0.02, -0.01, 0.03])
    np.testing.assert_allclose(
        lay(theta, replace(FRESH, before=FRESH.before + step)) - lay(theta, FRESH),
        before @ step,
        atol=1e-4,
    )
    np.testing.assert_allclose(
        lay(theta, FRESH, 0.001) - lay(theta, FRESH), 0.001 * amount, atol=1e-4
    )
    turn = 0.001 * np.linspace(-2.0, 3.0, 15)
    np.testing.assert_allclose(
        lay(theta + turn, FRESH) - lay(theta, FRESH), moved.theta @ turn, atol=5e-3
    )


def test_order_of_trials_does_not_matter() -> None:
    trials = make_strips(12, hand=0.15, noise=0.4)
    np.testing.assert_allclose(fit(trials).theta, fit(trials[::-1]).theta, atol=1e-4)
