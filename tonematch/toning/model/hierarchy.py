"""Layers of one kind teach each other: their common departure from the shelf's guesses."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from tonematch.toning.core import Kind
from tonematch.toning.model.fit import LayerFit
from tonematch.toning.model.fitted_layer import LayerTrials
from tonematch.toning.model.prior import Belief, first_belief

Array = NDArray[np.float64]

# Share of a belief's variance that all layers of a kind have in common (a choice, no source).
COMMON = 0.5


@dataclass(frozen=True, eq=False)
class Departure:
    """How the layers of a kind differ from their first beliefs.

    Attributes
    ----------
    share : ndarray, shape (12,)
        Common shift, in the unit-variance coordinates of the first belief.
    variance : ndarray, shape (12,)
        Its variance, in the same coordinates.
    """

    share: Array
    variance: Array


def common_departure(pairs: Sequence[tuple[Belief, LayerFit]]) -> Departure:
    """What the fitted layers of one kind say of that kind.

    Parameters
    ----------
    pairs : sequence of (Belief, LayerFit)
        First belief and fit of each layer that has trials.

    Returns
    -------
    Departure

    Notes
    -----
    A two-level normal model, solved in closed form: each layer's shift is the kind's plus its
    own; trials inform the layer through the Laplace precision of its fit.
    """
    size = len(pairs[0][0].mean) if pairs else 0
    precision = np.eye(size) / COMMON
    pull = np.zeros(size)
    own = (1.0 - COMMON) * np.eye(size)
    for belief, fit in pairs:
        H = belief.root.T @ fit.information @ belief.root
        shift = np.linalg.solve(belief.root, fit.theta - belief.mean)
        spread = np.linalg.inv(np.eye(size) + H @ own)
        precision += spread @ H
        pull += spread @ (H + np.eye(size)) @ shift
    covariance = np.linalg.inv((precision + precision.T) / 2.0)
    return Departure(covariance @ pull, np.diag(covariance).copy())


def departures(
    trials: Mapping[str, LayerTrials], fits: Mapping[str, LayerFit]
) -> dict[Kind, Departure]:
    """The common departure of each kind of which some layer has trials.

    Parameters
    ----------
    trials : mapping from layer name to LayerTrials
    fits : mapping from layer name to LayerFit
        Of the same layers.

    Returns
    -------
    dict
    """
    kinds: dict[Kind, list[tuple[Belief, LayerFit]]] = {}
    for name, own in trials.items():
        kinds.setdefault(own.layer.kind, []).append((first_belief(own.layer), fits[name]))
    return {kind: common_departure(pairs) for kind, pairs in kinds.items()}


def informed(belief: Belief, departure: Departure) -> Belief:
    """The belief about a layer once its kind's common departure is known."""
    share = departure.variance + (1.0 - COMMON)
    return Belief(belief.mean + belief.root @ departure.share, belief.root * np.sqrt(share))
