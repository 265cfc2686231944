"""Regions of a prediction: they hold the share of readings that they state."""

import numpy as np
import pytest
from scipy.stats import chi2, multivariate_t

from tonematch.toning.core import Prediction
from tonematch.toning.model.mahalanobis import chance_as_far

COVARIANCE = np.array([[2.0, 0.5, 0.0], [0.5, 1.0, 0.2], [0.0, 0.2, 0.5]])


@pytest.mark.parametrize("freedom", [3.5, 8.0, np.inf])
def test_regions_hold_their_share_of_readings(freedom: float) -> None:
    """Draws are SciPy's, whose scale matrix is the covariance times (nu - 2) / nu."""
    scale = COVARIANCE * (1.0 if np.isinf(freedom) else (freedom - 2.0) / freedom)
    drawn = multivariate_t(np.zeros(3), scale, df=freedom, seed=0).rvs(4000)  # type: ignore[arg-type]
    predicted = Prediction(np.zeros(3), COVARIANCE, freedom)
    chances = np.array([chance_as_far(predicted, draw) for draw in drawn])
    for share in (0.5, 0.9):
        assert np.mean(chances >= 1.0 - share) == pytest.approx(share, abs=0.02)


def test_normal_distance_is_chi_squared() -> None:
    read = np.array([1.0, -0.5, 0.25])
    away = float(read @ np.linalg.solve(COVARIANCE, read))
    found = chance_as_far(Prediction(np.zeros(3), COVARIANCE), read)
    assert found == pytest.approx(chi2.sf(away, 3))
    assert chance_as_far(Prediction(read, COVARIANCE), read) == 1.0


def test_heavy_tails_are_less_surprised_by_the_same_far_reading() -> None:
    far = np.array([6.0, 0.0, 0.0])
    normal, heavy = (
        chance_as_far(Prediction(np.zeros(3), COVARIANCE, freedom), far)
        for freedom in (np.inf, 4.0)
    )
    assert heavy > 10.0 * normal
