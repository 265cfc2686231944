"""How far off a reading lies from what was predicted, as a chance."""

import numpy as np
import scipy

from tonematch.arrays import Array
from tonematch.toning.core import Prediction

# Beyond so many degrees of freedom Student's t is normal to double precision.
ENDLESS = 1e9


def chance_as_far(predicted: Prediction, read: Array) -> float:
    """Chance that a reading (CIELAB, D50, 2 degree) lies as far off as this one or farther.

    1 at what was predicted, towards 0 far from it. Readings with 0.5 and more fill the prediction's
    50 % region, with 0.1 and more its 90 % region.

    Notes
    -----
    The squared Mahalanobis distance of a normal distribution follows chi-squared. Of Student's t
    in p dimensions with nu degrees of freedom and scale matrix S, that by S over p follows
    F(p, nu), and the covariance is S nu / (nu - 2): Kotz, S. and Nadarajah, S. (2004),
    Multivariate t Distributions and Their Applications, chapter 1 (from memory).
    """
    away = float(squared_distance(read - predicted.lab, predicted.covariance))
    freedom = min(predicted.freedom, ENDLESS)
    return float(scipy.special.fdtrc(3.0, freedom, away / _scale(freedom)))


def squared_distance(gap: Array, covariance: Array) -> Array:
    """Squared Mahalanobis distance of gaps (..., 3) by covariances (..., 3, 3)."""
    return np.asarray((gap * np.linalg.solve(covariance, gap[..., None])[..., 0]).sum(axis=-1))


def squared_reach(share: float, freedom: float | Array) -> Array:
    """Squared Mahalanobis distance within which a share of the readings should lie.

    Of the shape of `freedom`, degrees of freedom above 2.
    """
    freedom = np.minimum(freedom, ENDLESS)
    return np.asarray(_scale(freedom) * scipy.special.fdtri(3.0, freedom, share))


def _scale(freedom: float | Array) -> float | Array:
    """By how much the squared distance over F(3, freedom) is greater; see `chance_as_far`."""
    return 3.0 * (1.0 - 2.0 / freedom)
