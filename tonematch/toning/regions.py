"""How far off a reading lies from what was predicted, as a chance."""

import numpy as np
from numpy.typing import NDArray
from scipy.stats import chi2, f

from tonematch.toning.core import Prediction

Array = NDArray[np.float64]


def chance_as_far(predicted: Prediction, read: Array) -> float:
    """Chance that a reading lies as far off as this one or farther.

    Parameters
    ----------
    predicted : Prediction
    read : ndarray, shape (3,)
        CIELAB (D50, 2 degree).

    Returns
    -------
    float
        1 at what was predicted, towards 0 far from it. Readings with 0.5 and more fill the
        prediction's 50 % region, with 0.1 and more its 90 % region.

    Notes
    -----
    The squared Mahalanobis distance of a normal distribution follows chi-squared. Of Student's t
    in p dimensions with nu degrees of freedom and scale matrix S, that by S over p follows
    F(p, nu), and the covariance is S nu / (nu - 2): Kotz, S. and Nadarajah, S. (2004),
    Multivariate t Distributions and Their Applications, chapter 1 (from memory).
    """
    gap = read - predicted.lab
    away = float(gap @ np.linalg.solve(predicted.covariance, gap))
    freedom = predicted.freedom
    if np.isinf(freedom):
        return float(chi2.sf(away, 3))
    return float(f.sf(away * freedom / (freedom - 2.0) / 3.0, 3, freedom))
