"""Fitting one layer to its trials: regularised, robust, and honest about what it cannot know.

A trial's reading after differs from the film law's for four reasons, each with its own covariance:
the two readings' noise, the hand that laid a little more or less, and what the law leaves
unexplained. The fit weighs each row by their sum, leans on the belief about the layer, and gives
little weight to a row that fits nothing (Student's t).
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import least_squares

from tonematch.measure.colour.local_metric import local_metric
from tonematch.toning.model.prior import Belief, Scatter
from tonematch.toning.optics.film import PARAMETERS, Laid, lay

Array = NDArray[np.float64]

# Degrees of freedom of Student's t for rows: heavy tails, yet near normal for honest scatter.
ROW_FREEDOM = 5.0
# Rounds of: error model at the present estimate, then fit. Later rounds change nothing visible.
ROUNDS = 3
# Relative change of the sum of squares and of theta that ends a round: finer ones cost a third of
# the time and move predictions by less than 0.05 CIEDE2000.
TOLERANCE = 1e-4
STEP = 1e-4


@dataclass(frozen=True, eq=False)
class Slopes:
    """How the predicted CIELAB moves.

    Attributes
    ----------
    before : ndarray, shape (n, 3, 3)
        With the CIELAB before.
    amount : ndarray, shape (n, 3)
        With the logarithm of the amount laid.
    theta : ndarray, shape (n, 3, 12)
        With the layer's numbers.
    """

    before: Array
    amount: Array
    theta: Array


@dataclass(frozen=True, eq=False)
class LayerFit:
    """A layer as its trials left it.

    Attributes
    ----------
    theta : ndarray, shape (12,)
    covariance : ndarray, shape (12, 12)
    information : ndarray, shape (12, 12)
        What the trials alone say (precision without the belief).
    strangeness : ndarray, shape (n,)
        Squared Mahalanobis distance of each trial from a fit without it, 3 on average.
    """

    theta: Array
    covariance: Array
    information: Array
    strangeness: Array


def slopes(theta: Array, laid: Laid) -> Slopes:
    """Central differences of the film law.

    Parameters
    ----------
    theta : ndarray, shape (12,)
    laid : Laid

    Returns
    -------
    Slopes
    """
    before = np.stack(
        [(lay(theta, laid.moved(d)) - lay(theta, laid.moved(-d))) / 0.2 for d in 0.1 * np.eye(3)],
        axis=-1,
    )
    amount = (lay(theta, laid, STEP) - lay(theta, laid, -STEP)) / (2.0 * STEP)
    return Slopes(before, amount, theta_slopes(theta, laid))


def theta_slopes(theta: Array, laid: Laid) -> Array:
    """Slope of the predicted CIELAB with each number of the layer, shape (n, 3, 12)."""
    steps = STEP * np.eye(PARAMETERS)
    difference = lay(theta + steps, laid) - lay(theta - steps, laid)
    return np.moveaxis(difference, 0, -1) / (2.0 * STEP)


def row_covariance(slope: Slopes, metric: Array, scatter: Scatter, reading_noise: float) -> Array:
    """Covariance of each reading after about the film law's value, shape (n, 3, 3)."""
    both = np.eye(3) + slope.before @ slope.before.swapaxes(1, 2)
    hand = slope.amount[:, :, None] * slope.amount[:, None, :]
    return np.asarray(
        reading_noise**2 * both
        + scatter.hand**2 * hand
        + scatter.misfit**2 / 3.0 * np.linalg.inv(metric)
    )


def fit_layer(
    laid: Laid, after: Array, belief: Belief, scatter: Scatter, reading_noise: float
) -> LayerFit:
    """Most probable numbers of a layer given its trials, with their covariance (Laplace).

    Parameters
    ----------
    laid : Laid
        n applications of this layer, n >= 0.
    after : ndarray, shape (n, 3)
        CIELAB read after each.
    belief : Belief
    scatter : Scatter
    reading_noise : float
        Standard deviation of each of L*, a*, b* of a reading.

    Returns
    -------
    LayerFit
    """
    theta = belief.mean
    if len(laid) == 0:
        nothing = np.zeros((PARAMETERS, PARAMETERS))
        return LayerFit(theta, belief.covariance, nothing, np.empty(0))
    metric = local_metric(after)
    for _ in range(ROUNDS):
        covariance = row_covariance(slopes(theta, laid), metric, scatter, reading_noise)
        whiten = np.linalg.inv(np.linalg.cholesky(covariance))
        strange = (_whitened(theta, laid, after, whiten) ** 2).sum(axis=1)
        weight = np.sqrt((ROW_FREEDOM + 3.0) / (ROW_FREEDOM + strange))
        theta = _solve(theta, laid, after, belief, weight[:, None, None] * whiten)
    J = weight[:, None, None] * whiten @ theta_slopes(theta, laid)
    information = np.einsum("nip,niq->pq", J, J)
    posterior = np.linalg.inv(information + np.linalg.inv(belief.covariance))
    # Left out, a row pulls the fit no more: its residual grows by (I - H)^-1, H its leverage, and
    # so does its covariance, to first order (Cook and Weisberg 1982, Residuals and Influence).
    free = np.eye(3) - J @ posterior @ J.swapaxes(1, 2)
    z = _whitened(theta, laid, after, whiten)
    strangeness = np.einsum("ni,nij,nj->n", z, np.linalg.inv(free), z)
    return LayerFit(theta, posterior, information, strangeness)


def _whitened(theta: Array, laid: Laid, after: Array, whiten: Array) -> Array:
    return np.asarray(np.einsum("nij,nj->ni", whiten, after - lay(theta, laid)))


def _solve(start: Array, laid: Laid, after: Array, belief: Belief, whiten: Array) -> Array:
    """Least squares in the coordinates in which the belief has unit variance."""

    def theta_of(u: Array) -> Array:
        return np.asarray(belief.mean + belief.root @ u)

    def leftover(u: Array) -> Array:
        rows = np.einsum("nij,nj->ni", whiten, lay(theta_of(u), laid) - after)
        return np.concatenate([rows.ravel(), u])

    def jacobian(u: Array) -> Array:
        rows = (whiten @ theta_slopes(theta_of(u), laid)).reshape(-1, PARAMETERS)
        return np.concatenate([rows @ belief.root, np.eye(PARAMETERS)])

    # The belief keeps u near 0; the bounds only keep exponentials finite.
    at = np.linalg.solve(belief.root, start - belief.mean)
    found = least_squares(
        leftover, at, jacobian, bounds=(-8.0, 8.0), max_nfev=12, ftol=TOLERANCE, xtol=TOLERANCE
    )
    return theta_of(found.x)
