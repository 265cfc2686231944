"""What layers teach each other: their kind's common shift, and the workshop's variance components.

Every layer leans on its kind in whatever its own trials leave open, and one trial more of a layer
moves its kind in some of that, by a hundredth of a standard deviation after 1,200 trials: the
layers of that kind are learned anew. What the others lean on, the workshop's components, is rounded
more finely than anything that is printed, so that they mostly stay as they were.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from tonematch.arrays import Array
from tonematch.measure.colour.difference import local_metric
from tonematch.toning.core import Kind
from tonematch.toning.model.fit import ROW_FREEDOM, Jacobians, LayerFit, row_covariance
from tonematch.toning.model.fitted_layer import LayerTrials
from tonematch.toning.model.prior import Prior, VarianceComponents, first_prior
from tonematch.toning.optics.film import lay

# Share of a prior's variance that all layers of a kind have in common (a choice, no source).
COMMON = 0.5
HANDS = (0.03, 0.06, 0.1, 0.15, 0.2, 0.27, 0.36, 0.5)
MISFITS = (0.05, 0.15, 0.3, 0.5, 0.8, 1.2, 1.8, 2.7, 4.0, 6.0)
# What is expected before any trial, and how far (in natural logarithms) one workshop's layers may
# lie from it and from each other: choices of this project, no source.
EXPECTED = VarianceComponents(hand=0.15, misfit=0.8)
WORKSHOP_WIDTH, LAYER_WIDTH = 0.7, 0.5
# Scale of Student's t (5 degrees of freedom, 3 variables) that fits normal rows best, so that the
# heavy tails do not make honest scatter look smaller: c with E[8 (x/c) / (5 + x/c)] = 3 for x
# distributed as chi-squared with 3 degrees of freedom.
NORMAL_SCALE = 0.7841
# Decimals of a kind's shift in standard deviations (with two, plans of the demonstration change
# places), and of the logarithms of the components: one per cent of a deviation is never seen.
SHIFT_DECIMALS, COMPONENT_DECIMALS = 3, 2


@dataclass(frozen=True, eq=False)
class KindEffect:
    """How the layers of a kind differ from their first priors: a common shift, and its variance.

    Both are of shape (14,), in the unit-variance coordinates of the first prior.
    """

    shift: Array
    variance: Array


def kind_effect(pairs: Sequence[tuple[Prior, LayerFit]]) -> KindEffect:
    """What the fitted layers of one kind, each with its first prior, say of that kind.

    Notes
    -----
    A two-level normal model, solved in closed form: each layer's shift is the kind's plus its
    own; trials inform the layer through the Laplace precision of its fit.
    """
    size = len(pairs[0][0].mean) if pairs else 0
    precision = np.eye(size) / COMMON
    pull = np.zeros(size)
    own = (1.0 - COMMON) * np.eye(size)
    for prior, fit in pairs:
        H = prior.root.T @ fit.information @ prior.root
        shift = np.linalg.solve(prior.root, fit.theta - prior.mean)
        spread = np.linalg.inv(np.eye(size) + H @ own)
        precision += spread @ H
        pull += spread @ (H + np.eye(size)) @ shift
    covariance = np.linalg.inv((precision + precision.T) / 2.0)
    shift, variance = np.round([covariance @ pull, np.diag(covariance)], SHIFT_DECIMALS)
    return KindEffect(shift, variance)


def kind_effects(
    trials: Mapping[str, LayerTrials], fits: Mapping[str, LayerFit]
) -> dict[Kind, KindEffect]:
    """The effect of each kind of which some layer has trials, by the fits of those layers."""
    kinds: dict[Kind, list[tuple[Prior, LayerFit]]] = {}
    for name, own in trials.items():
        kinds.setdefault(own.layer.kind, []).append((first_prior(own.layer), fits[name]))
    return {kind: kind_effect(pairs) for kind, pairs in kinds.items()}


def informed(prior: Prior, effect: KindEffect) -> Prior:
    """The prior of a layer once its kind's effect is known."""
    variance = effect.variance + (1.0 - COMMON)
    return Prior(prior.at(effect.shift), prior.root * np.sqrt(variance))


def pool_components(
    evidence: Mapping[str, Array],
) -> tuple[VarianceComponents, dict[str, VarianceComponents]]:
    """Variance components of the workshop and of each layer that has trials.

    `evidence` is what `weigh_components` says of each. The workshop's are expected of a layer
    without trials; a layer's own lean on them as far as its trials are few.
    """
    pooled = _lean(EXPECTED, WORKSHOP_WIDTH) + sum(evidence.values(), start=np.zeros(_SHAPE))
    workshop = _best(pooled)
    lean = _lean(workshop, LAYER_WIDTH)
    return workshop, {name: _best(lean + own) for name, own in evidence.items()}


_SHAPE = (len(HANDS), len(MISFITS))


def _lean(centre: VarianceComponents, width: float) -> Array:
    hand = (np.log(HANDS) - np.log(centre.hand)) / width
    misfit = (np.log(MISFITS) - np.log(centre.misfit)) / width
    return np.asarray(-0.5 * (hand[:, None] ** 2 + misfit[None, :] ** 2))


def _best(score: Array) -> VarianceComponents:
    """Mean of ln(hand) and ln(misfit) under exp(score), which moves smoothly with the data."""
    share = np.exp(score - score.max())
    share /= share.sum()
    logs = share.sum(axis=1) @ np.log(HANDS), share.sum(axis=0) @ np.log(MISFITS)
    hand, misfit = np.exp(np.round(logs, COMPONENT_DECIMALS))
    return VarianceComponents(float(hand), float(misfit))


def weigh_components(
    trials: LayerTrials, fit: LayerFit, prior: Prior, reading_noise: float
) -> Array:
    """Log marginal likelihood (Laplace) of a layer's trials for each of HANDS and MISFITS, (8, 10).

    The rows are taken to be linear near the fit; `reading_noise` is the standard deviation of each
    of L*, a*, b* of a reading.
    """
    moved = Jacobians(fit.theta, trials.laid)
    metric = local_metric(trials.after)
    gap = (trials.after - lay(fit.theta, trials.laid))[:, :, None]
    precision = np.linalg.inv(prior.covariance)
    misfits = np.square(MISFITS)[:, None, None, None] / 3.0 * np.linalg.inv(metric)
    score = np.empty(_SHAPE)
    for i, hand in enumerate(HANDS):
        exact = row_covariance(moved, metric, VarianceComponents(hand, 0.0), reading_noise)
        root = np.linalg.inv(np.linalg.cholesky(exact + misfits))
        strange = ((root @ gap) ** 2).sum(axis=(2, 3))
        J = (root @ moved.theta).reshape(len(MISFITS), -1, len(fit.theta))
        information = J.swapaxes(1, 2) @ J
        log_root = np.log(np.diagonal(root, axis1=2, axis2=3)).sum(axis=(1, 2))
        tails = np.log1p(strange / (ROW_FREEDOM * NORMAL_SCALE)).sum(axis=1)
        within = np.linalg.slogdet(information + precision)[1]
        score[i] = log_root - (ROW_FREEDOM + 3.0) / 2.0 * tails - 0.5 * within
    return score
