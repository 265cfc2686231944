"""How well layers repeat: the hand's scatter and the law's misfit, by evidence, partly pooled."""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from tonematch.measure.colour.local_metric import local_metric
from tonematch.toning.model.fit import ROW_FREEDOM, LayerFit, row_covariance, slopes
from tonematch.toning.model.prior import Belief, Scatter
from tonematch.toning.optics.film import Laid, lay

Array = NDArray[np.float64]

HANDS = (0.03, 0.06, 0.1, 0.15, 0.2, 0.27, 0.36, 0.5)
MISFITS = (0.05, 0.15, 0.3, 0.5, 0.8, 1.2, 1.8, 2.7, 4.0, 6.0)
# What is expected before any trial, and how far (in natural logarithms) one workshop's layers may
# lie from it and from each other: choices of this project, no source.
EXPECTED = Scatter(hand=0.15, misfit=0.8)
WORKSHOP_WIDTH, LAYER_WIDTH = 0.7, 0.5
# Scale of Student's t (5 degrees of freedom, 3 variables) that fits normal rows best, so that the
# heavy tails do not make honest scatter look smaller: c with E[8 (x/c) / (5 + x/c)] = 3 for x
# distributed as chi-squared with 3 degrees of freedom.
NORMAL_SCALE = 0.7841


@dataclass(frozen=True, eq=False)
class FittedRows:
    """What the estimate of scatter needs of one layer."""

    laid: Laid
    after: Array
    belief: Belief
    fit: LayerFit


def pool_scatter(evidence: Mapping[str, Array]) -> tuple[Scatter, dict[str, Scatter]]:
    """Scatter of the workshop and of each layer.

    Parameters
    ----------
    evidence : mapping from layer name to ndarray
        What `weigh_scatter` says of each layer with at least one trial.

    Returns
    -------
    workshop : Scatter
        What a layer without trials is expected to show.
    by_layer : dict
        Each layer's own, leaning on the workshop's as far as its trials are few.
    """
    pooled = _lean(EXPECTED, WORKSHOP_WIDTH) + sum(evidence.values(), start=np.zeros(_SHAPE))
    workshop = _best(pooled)
    lean = _lean(workshop, LAYER_WIDTH)
    return workshop, {name: _best(lean + own) for name, own in evidence.items()}


_SHAPE = (len(HANDS), len(MISFITS))


def _lean(centre: Scatter, width: float) -> Array:
    hand = (np.log(HANDS) - np.log(centre.hand)) / width
    misfit = (np.log(MISFITS) - np.log(centre.misfit)) / width
    return np.asarray(-0.5 * (hand[:, None] ** 2 + misfit[None, :] ** 2))


def _best(score: Array) -> Scatter:
    """Mean of ln(hand) and ln(misfit) under exp(score), which moves smoothly with the data."""
    share = np.exp(score - score.max())
    share /= share.sum()
    hand = np.exp(share.sum(axis=1) @ np.log(HANDS))
    misfit = np.exp(share.sum(axis=0) @ np.log(MISFITS))
    return Scatter(float(hand), float(misfit))


def weigh_scatter(rows: FittedRows, reading_noise: float) -> Array:
    """How well each pair of hand and misfit explains a layer's trials.

    Parameters
    ----------
    rows : FittedRows
    reading_noise : float
        Standard deviation of each of L*, a*, b* of a reading.

    Returns
    -------
    ndarray, shape (8, 10)
        Log marginal likelihood (Laplace) for each of HANDS and MISFITS.
    """
    theta, belief = rows.fit.theta, rows.belief
    slope = slopes(theta, rows.laid)
    metric = local_metric(rows.after)
    gap = rows.after - lay(theta, rows.laid)
    prior = np.linalg.inv(belief.covariance)
    score = np.empty(_SHAPE)
    for i, hand in enumerate(HANDS):
        for j, misfit in enumerate(MISFITS):
            covariance = row_covariance(slope, metric, Scatter(hand, misfit), reading_noise)
            root = np.linalg.inv(np.linalg.cholesky(covariance))
            strange = (np.einsum("nij,nj->ni", root, gap) ** 2).sum(axis=1)
            J = root @ slope.theta
            information = np.einsum("nip,niq->pq", J, J)
            log_root = np.log(np.diagonal(root, axis1=1, axis2=2)).sum()
            scaled = strange / (ROW_FREEDOM * NORMAL_SCALE)
            tails = (ROW_FREEDOM + 3.0) / 2.0 * np.log1p(scaled).sum()
            score[i, j] = log_root - tails - 0.5 * np.linalg.slogdet(information + prior)[1]
    return score
