"""What layers teach each other: a common shift, and the workshop's variance components.

Every layer leans on its kind in whatever its own trials leave open: on its kind in what is in it,
and in how it lies and what its surface does on all that lies as a film, since one hand brushes them
on one gilding, and their binders are alike. One trial more of a layer moves the others in some of
that, by a hundredth of a standard deviation after 1,200 trials: they are learned anew. The
workshop's components are rounded more finely than anything that is printed, so that they mostly
stay as they were.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import get_args

import numpy as np
from numpy.typing import NDArray

from tonematch.arrays import Array
from tonematch.measure.colour.difference import local_metric
from tonematch.toning.core import Kind
from tonematch.toning.model.fit import ROW_FREEDOM, Jacobians, LayerFit, row_covariance
from tonematch.toning.model.fitted_layer import LayerTrials
from tonematch.toning.model.prior import Prior, VarianceComponents, first_prior
from tonematch.toning.optics.film import FILMS, LN_GAMMA, PARAMETERS, lay

# Shares of a prior's variance that layers may have in common: those of a kind of K and S, and all
# films of how a layer lies and what its surface does.
SHARES = (0.05, 0.2, 0.35, 0.5, 0.65, 0.8, 0.95)
ASPECTS = slice(0, LN_GAMMA), slice(LN_GAMMA, PARAMETERS)
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
# places), of the logarithms of the components, and of the shares: one per cent is never seen.
SHIFT_DECIMALS, COMPONENT_DECIMALS, SHARE_DECIMALS = 3, 2, 1


@dataclass(frozen=True, eq=False)
class KindEffect:
    """How the layers of a kind differ from their first priors: a shift, and the variance about it.

    Both are of shape (15,), in the unit-variance coordinates of the first prior.
    """

    shift: Array
    variance: Array


@dataclass(frozen=True, eq=False)
class Told:
    """What one layer's trials alone say, as if of a normal distribution about them.

    `precision` is of shape (15, 15), `pull`, (15,), that times the mean, in the unit-variance
    coordinates of the first prior.
    """

    precision: Array
    pull: Array

    @classmethod
    def by(cls, prior: Prior, fit: LayerFit) -> "Told":
        """By the Laplace precision of a fit that leaned on its first prior."""
        precision = prior.root.T @ fit.information @ prior.root
        shift = np.linalg.solve(prior.root, fit.theta - prior.mean)
        return cls(precision, (precision + np.eye(len(shift))) @ shift)


def effects(
    told: Mapping[Kind, Sequence[Told]], share: Array
) -> tuple[dict[Kind, KindEffect], float]:
    """What layers say of their kinds, and the log marginal likelihood of the `share`.

    That is the share, (15,), of the prior's variance which layers have in common.

    Notes
    -----
    A two-level normal model, solved in closed form: each layer's shift is the common one plus its
    own. A number that no layer tells of stays as likely as it was.
    """
    own, places = np.diag(1.0 - share), _places(list(told))
    many = np.tile(share, len(told) + 1)
    precision, pull, likely = np.diag(1.0 / many), np.zeros(len(many)), -np.log(many).sum()
    for kind, layers in told.items():
        place = places[kind]
        for layer in layers:
            spread = np.linalg.inv(np.eye(len(share)) + layer.precision @ own)
            precision[np.ix_(place, place)] += spread @ layer.precision
            pull[place] += spread @ layer.pull
            likely += np.linalg.slogdet(spread)[1] + layer.pull @ own @ spread @ layer.pull
    covariance = np.linalg.inv((precision + precision.T) / 2.0)
    shift, variance = covariance @ pull, np.diag(covariance)
    likely += np.linalg.slogdet(covariance)[1] + pull @ shift
    found = {
        kind: KindEffect(*np.round([shift[at], variance[at] + 1.0 - share], SHIFT_DECIMALS))
        for kind, at in places.items()
    }
    return found, float(likely) / 2.0


def _places(kinds: Sequence[Kind]) -> dict[Kind, NDArray[np.intp]]:
    """Where the common numbers of each kind stand among those of all, (15,); films share some."""
    numbers = np.arange(PARAMETERS)
    return {
        kind: numbers + PARAMETERS * np.where((numbers >= LN_GAMMA) & (kind in FILMS), 0, block)
        for block, kind in enumerate(kinds, start=1)
    }


def common_share(told: Mapping[Kind, Sequence[Told]]) -> Array:
    """Share of variance that layers have in common, by the evidence of all, (15,).

    One share of what is in a layer, and one of how it lies and what its surface does, each weighed
    while the other is a half; all of SHARES are as likely before.
    """
    share = np.full(PARAMETERS, 0.5)
    for aspect in ASPECTS:
        tried = np.full((len(SHARES), PARAMETERS), 0.5)
        tried[:, aspect] = np.array(SHARES)[:, None]
        likely = np.array([effects(told, one)[1] for one in tried])
        weight = np.exp(likely - likely.max())
        share[aspect] = np.round(weight @ SHARES / weight.sum(), SHARE_DECIMALS)
    return share


def kind_effects(
    trials: Mapping[str, LayerTrials], fits: Mapping[str, LayerFit]
) -> dict[Kind, KindEffect]:
    """The effect of each kind, by the fits of layers that have trials."""
    told: dict[Kind, list[Told]] = {kind: [] for kind in get_args(Kind)}
    for name, own in trials.items():
        told[own.layer.kind].append(Told.by(first_prior(own.layer), fits[name]))
    return effects(told, common_share(told))[0]


def informed(prior: Prior, effect: KindEffect) -> Prior:
    """The prior of a layer once its kind's effect is known."""
    return Prior(prior.at(effect.shift), prior.root * np.sqrt(effect.variance))


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


def weigh_components(trials: LayerTrials, fit: LayerFit, prior: Prior) -> Array:
    """Log marginal likelihood (Laplace) of a layer's trials for each of HANDS and MISFITS, (8, 10).

    The rows are taken to be linear near the fit.
    """
    moved = Jacobians(fit.theta, trials.laid)
    metric = local_metric(trials.after)
    gap = (trials.after - lay(fit.theta, trials.laid))[:, :, None]
    precision = np.linalg.inv(prior.covariance)
    misfits = np.square(MISFITS)[:, None, None, None] / 3.0 * np.linalg.inv(metric)
    score = np.empty(_SHAPE)
    for i, hand in enumerate(HANDS):
        exact = row_covariance(moved, metric, VarianceComponents(hand, 0.0), trials.noise)
        root = np.linalg.inv(np.linalg.cholesky(exact + misfits))
        strange = ((root @ gap) ** 2).sum(axis=(2, 3))
        J = (root @ moved.theta).reshape(len(MISFITS), -1, len(fit.theta))
        information = J.swapaxes(1, 2) @ J
        log_root = np.log(np.diagonal(root, axis1=2, axis2=3)).sum(axis=(1, 2))
        tails = np.log1p(strange / (ROW_FREEDOM * NORMAL_SCALE)).sum(axis=1)
        within = np.linalg.slogdet(information + precision)[1]
        score[i] = log_root - (ROW_FREEDOM + 3.0) / 2.0 * tails - 0.5 * within
    return score
