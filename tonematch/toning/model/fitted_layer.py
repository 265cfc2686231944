"""What one layer's trials teach: a fit, its variance components, and what the film law leaves."""

from collections import OrderedDict
from collections.abc import Callable, Hashable
from dataclasses import dataclass, replace
from functools import cached_property
from typing import TypeVar, cast

import numpy as np
from numpy.typing import NDArray

from tonematch.arrays import Array
from tonematch.measure.colour.local_metric import local_metric
from tonematch.toning.core import Layer
from tonematch.toning.model.fit import Jacobians, LayerFit, fit_layer, row_covariance
from tonematch.toning.model.mahalanobis import squared_distance
from tonematch.toning.model.prior import Prior, VarianceComponents
from tonematch.toning.model.residual_process import ResidualProcess, learn_residual_process
from tonematch.toning.optics.film import Laid, lay

T = TypeVar("T")

# Found on simulated logbooks and on measured overprints.
FEWEST_FREEDOM = 3.0


@dataclass(frozen=True, eq=False)
class LayerTrials:
    """The trials of one layer.

    Attributes
    ----------
    laid : Laid
        n applications.
    after : ndarray, shape (n, 3)
        CIELAB (D50, 2 degree) read after each.
    pieces : ndarray of str, shape (n,)
    places : ndarray of int, shape (n,)
        Where each stands among the trials of all layers.
    """

    layer: Layer
    laid: Laid
    after: Array
    pieces: NDArray[np.str_]
    places: NDArray[np.intp]

    def __len__(self) -> int:
        return len(self.laid)

    def only(self, rows: NDArray[np.intp]) -> "LayerTrials":
        """Some of them."""
        return LayerTrials(
            self.layer,
            self.laid.only(rows),
            self.after[rows],
            self.pieces[rows],
            self.places[rows],
        )

    @cached_property
    def key(self) -> Hashable:
        """The same for the same trials alone, wherever they stand."""
        laid = self.laid
        columns = [laid.strength, laid.coats, laid.technique, laid.finish]
        under = [] if laid.under is None else [laid.under]
        numbers = np.column_stack([laid.before, self.after, *columns, *under])
        return self.layer, numbers.tobytes(), tuple(self.pieces)


class Memory:
    """What was reckoned from the same inputs before, so that it is not reckoned again.

    The results asked for last are kept, `most` of them.
    """

    def __init__(self, most: int = 2000) -> None:
        self.most = most
        self._kept: OrderedDict[Hashable, object] = OrderedDict()

    def recall(self, reckon: Callable[..., T], *inputs: object) -> T:
        """The result of a function that depends on its inputs alone; not to be written to.

        Each input is hashable by its content, or has a `key` that is.
        """
        key = (reckon, *(getattr(one, "key", one) for one in inputs))
        found = self._kept.pop(key, None)
        if found is None:
            found = reckon(*inputs)
        self._kept[key] = found
        while len(self._kept) > self.most:
            self._kept.popitem(last=False)
        return cast(T, found)


@dataclass(frozen=True, eq=False)
class LearnedLayer:
    """What the model knows of one layer.

    Attributes
    ----------
    prior : Prior
        Before this layer's own trials, after those of its kind.
    strangeness : ndarray
        Squared Mahalanobis distance of each trial when it (or its piece) is left out.
    """

    prior: Prior
    fit: LayerFit
    components: VarianceComponents
    residual_process: ResidualProcess | None
    trials: int
    strangeness: Array

    @property
    def freedom(self) -> float:
        """Degrees of freedom of what is predicted: few trials leave its scale uncertain too."""
        return FEWEST_FREEDOM + self.trials**2 / 2.0


def learn_layer(
    trials: LayerTrials, prior: Prior, components: VarianceComponents, reading_noise: float
) -> LearnedLayer:
    """Fit the film law to a layer's trials, and what is left over where that can be predicted.

    `reading_noise` is the standard deviation of each of L*, a*, b* of a reading, above 0.
    """
    laid, after = trials.laid, trials.after
    fit = fit_layer(laid, after, prior, components, reading_noise)
    learned = LearnedLayer(prior, fit, components, None, len(trials), fit.strangeness)
    law = lay(fit.theta, laid)
    process = learn_residual_process(fit.theta, laid, law, after, trials.pieces)
    if process is None:
        return learned
    repeats = replace(components, misfit=0.0)
    laid, after = laid.only(process.rows), after[process.rows]
    covariance = process.variances[:, :, None] * np.eye(3) + row_covariance(
        Jacobians(fit.theta, laid), local_metric(after), repeats, reading_noise
    )
    strangeness = squared_distance(process.errors, covariance)
    return replace(learned, residual_process=process, components=repeats, strangeness=strangeness)


def never_laid(prior: Prior, components: VarianceComponents) -> LearnedLayer:
    """What is known of a layer without trials."""
    nothing = np.empty(0)
    empty = Laid(np.empty((0, 3)), nothing, nothing, nothing, nothing)
    # Without a row there is no noise to weigh.
    fit = fit_layer(empty, np.empty((0, 3)), prior, components, reading_noise=1.0)
    return LearnedLayer(prior, fit, components, None, 0, fit.strangeness)
