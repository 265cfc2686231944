"""Fitting one layer to its trials: regularised, robust, and honest about what it cannot know.

A trial's reading after differs from the film law's for four reasons, each with its own covariance:
the two readings' noise, the hand that laid a little more or less, and what the law leaves
unexplained. The fit weighs each row by their sum, leans on the layer's prior, and gives little
weight to a row that fits nothing (Student's t).
"""

from collections.abc import Callable
from dataclasses import dataclass
from functools import cached_property, partial

import numpy as np
import scipy

from tonematch.arrays import Array
from tonematch.measure.colour.convert import lab_by_romm
from tonematch.measure.colour.difference import local_metric
from tonematch.toning.model.prior import Prior, VarianceComponents
from tonematch.toning.optics.film import (
    AT_ONCE,
    OF_BAND,
    PARAMETERS,
    Laid,
    amount_by_theta,
    bands_after,
    lay,
)

# Degrees of freedom of Student's t for rows: heavy tails, yet near normal for honest scatter.
ROW_FREEDOM = 5.0
# Rounds of: error model at the present estimate, then fit; from the prior, and from an earlier fit
# of the same trials. On simulated workshops later rounds move predictions by 0.2 and by 0.05
# CIEDE2000 on average.
ROUNDS, ROUNDS_ON = 3, 2
# Relative change of the sum of squares and of theta that ends a round: finer ones cost a third of
# the time and move predictions by less than 0.05 CIEDE2000.
TOLERANCE = 1e-4
STEP = 1e-4


@dataclass(frozen=True, eq=False)
class Jacobians:
    """How the predicted CIELAB moves, by central differences of the bands, when first asked for.

    `numbers` are the layer's theta, shape (15,).
    """

    numbers: Array
    laid: Laid

    @cached_property
    def of_what_is_laid(self) -> tuple[Array, Array]:
        """With the CIELAB before, (n, 3, 3), and with the logarithm of the amount laid, (n, 3)."""
        lighter, more = STEP * np.array([(1.0, 0.0, -1.0, 0.0, 0.0), (0.0, 1.0, 0.0, -1.0, 0.0)])
        bands = bands_after(self.numbers, self.laid, more[:, None], lighter[:, None, None])
        by_ground, by_amount = (bands[:2] - bands[2:4]) / (2.0 * STEP)
        to_lab, ground = lab_by_romm(bands[4]), self.laid.ground
        # What leaves a band hangs on what comes to it in that band alone.
        before = to_lab * (by_ground / ground)[:, None] @ np.linalg.inv(lab_by_romm(ground))
        return np.asarray(before), np.einsum("nij,nj->ni", to_lab, by_amount)

    @cached_property
    def theta(self) -> Array:
        """With the layer's numbers, shape (n, 3, 15): by way of the bands, in half the time."""
        k = len(AT_ONCE)
        moves = STEP * np.vstack([np.eye(k + 1), -np.eye(k + 1), np.zeros(k + 1)])
        bands = bands_after(self.numbers + moves[:, :k] @ AT_ONCE, self.laid, moves[:, k:])
        slopes = np.moveaxis(bands[: k + 1] - bands[k + 1 : -1], 0, -1) / (2.0 * STEP)
        by_amount = slopes[..., k:] * amount_by_theta(self.numbers, self.laid)[:, None]
        return np.asarray(
            lab_by_romm(bands[-1]) @ (slopes[..., :k] @ AT_ONCE * OF_BAND + by_amount)
        )


@dataclass(frozen=True, eq=False)
class LayerFit:
    """A layer as its trials left it.

    Attributes
    ----------
    theta : ndarray, shape (15,)
    covariance : ndarray, shape (15, 15)
    information : ndarray, shape (15, 15)
        What the trials alone say (precision without the prior).
    strangeness : ndarray, shape (n,)
        Squared Mahalanobis distance of each trial from a fit without it, 3 on average.
    """

    theta: Array
    covariance: Array
    information: Array
    strangeness: Array


def row_covariance(
    moved: Jacobians, metric: Array, components: VarianceComponents, noise: Array
) -> Array:
    """Covariance of each reading after about the film law's value, shape (n, 3, 3).

    `noise`, (n, 2, 3, 3), are the covariances of the reading before and of that after.
    """
    before, amount = moved.of_what_is_laid
    hand = amount[:, :, None] * amount[:, None, :]
    return np.asarray(
        before @ noise[:, 0] @ before.swapaxes(1, 2)
        + noise[:, 1]
        + components.hand**2 * hand
        + components.misfit**2 / 3.0 * np.linalg.inv(metric)
    )


def fit_layer(
    laid: Laid,
    after: Array,
    prior: Prior,
    components: VarianceComponents,
    noise: Array,
    earlier: LayerFit | None = None,
) -> LayerFit:
    """Most probable numbers of a layer given its trials, with their covariance (Laplace).

    Parameters
    ----------
    laid : Laid
        n applications of this layer, n >= 0.
    after : ndarray, shape (n, 3)
        CIELAB read after each.
    noise : ndarray, shape (n, 2, 3, 3)
        Covariances of the reading before and of that after; of one row where it holds for all.
    earlier : LayerFit, optional
        Of these trials under another prior: to begin from, which takes half the time.
    """
    if len(laid) == 0:
        nothing = np.zeros((PARAMETERS, PARAMETERS))
        return LayerFit(prior.mean, prior.covariance, nothing, np.empty(0))
    metric = local_metric(after)
    theta = prior.mean if earlier is None else earlier.theta
    u = np.asarray(np.linalg.solve(prior.root, theta - prior.mean), dtype=np.float64)
    for _ in range(ROUNDS if earlier is None else ROUNDS_ON):
        covariance = row_covariance(Jacobians(theta, laid), metric, components, noise)
        whiten = np.linalg.inv(np.linalg.cholesky(covariance))
        strange = (_gaps(theta, laid, after, whiten) ** 2).sum(axis=1)
        weighted = row_weight(strange, 3)[:, None, None] * whiten
        gaps = partial(_gaps, laid=laid, after=after, whiten=weighted)
        jacobian_of = partial(_gap_jacobian, laid=laid, whiten=weighted)
        u = most_probable(prior, u, gaps, jacobian_of)
        theta = prior.at(u)
    J = _gap_jacobian(theta, laid, weighted)
    information = np.einsum("nip,niq->pq", J, J)
    posterior = np.linalg.inv(information + np.linalg.inv(prior.covariance))
    # Left out, a row pulls the fit no more: its residual grows by (I - H)^-1, H its leverage, and
    # so does its covariance, to first order (Cook and Weisberg 1982, Residuals and Influence).
    free = np.eye(3) - J @ posterior @ J.swapaxes(1, 2)
    z = _gaps(theta, laid, after, whiten)
    strangeness = np.einsum("ni,nij,nj->n", z, np.linalg.inv(free), z)
    return LayerFit(theta, posterior, information, strangeness)


def row_weight(strange: Array, dimensions: int) -> Array:
    """Factor on each row, (n,), by which least squares are those of Student's t.

    `strange` is the squared length of each whitened row of so many dimensions, shape (n,).
    """
    return np.asarray(np.sqrt((ROW_FREEDOM + dimensions) / (ROW_FREEDOM + strange)))


def most_probable(
    prior: Prior,
    start: Array,
    residuals: Callable[[Array], Array],
    jacobian_of: Callable[[Array], Array],
) -> Array:
    """Regularised least squares, (k,), in the coordinates in which the prior has unit variance.

    The prior is of p numbers theta by k coordinates. Residuals are weighted, of any shape, at a
    theta; their Jacobian has that shape and p more.
    """

    def at(u: Array) -> Array:
        # The prior keeps u near 0; only a first step that is far too long must stay finite.
        return prior.at(np.clip(u, -8.0, 8.0))

    def leftover(u: Array) -> Array:
        return np.concatenate([residuals(at(u)).ravel(), u])

    def turned(u: Array) -> Array:
        rows = jacobian_of(at(u)).reshape(-1, len(prior.mean))
        return np.concatenate([rows @ prior.root, np.eye(len(u))])

    found = scipy.optimize.least_squares(
        leftover, start, turned, method="lm", max_nfev=24, ftol=TOLERANCE, xtol=TOLERANCE
    )
    return np.asarray(found.x)


def _gaps(theta: Array, laid: Laid, after: Array, whiten: Array) -> Array:
    return np.asarray(np.einsum("nij,nj->ni", whiten, lay(theta, laid) - after))


def _gap_jacobian(theta: Array, laid: Laid, whiten: Array) -> Array:
    return np.asarray(whiten @ Jacobians(theta, laid).theta)
