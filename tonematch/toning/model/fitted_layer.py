"""What one layer's trials teach: a fit, its variance components, and what the film law leaves."""

from collections import OrderedDict
from collections.abc import Callable, Hashable, Iterator, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from typing import TypeVar, cast

import numpy as np
from numpy.typing import NDArray

from tonematch.arrays import Array
from tonematch.measure.colour.difference import local_metric
from tonematch.toning.core import Layer
from tonematch.toning.model.fit import Jacobians, LayerFit, fit_layer, row_covariance
from tonematch.toning.model.prior import Prior, VarianceComponents
from tonematch.toning.model.residual_process import (
    ResidualProcess,
    Rows,
    Smoothness,
    features,
    spread_out,
)
from tonematch.toning.optics.film import Laid, lay

T = TypeVar("T")

# Found on simulated logbooks and on measured overprints.
FEWEST_FREEDOM = 5.0


@dataclass(frozen=True, eq=False)
class LayerTrials:
    """The trials of one layer: n applications, and CIELAB (D50, 2 degree) read after each, (n, 3).

    `noise`, (n, 2, 3, 3), are the covariances of the reading before and of that after; `pieces` and
    `places`, (n,) each, tell on which piece each was laid, and where it stands among the trials of
    all layers.
    """

    layer: Layer
    laid: Laid
    after: Array
    noise: Array
    pieces: NDArray[np.str_]
    places: NDArray[np.intp]

    def __len__(self) -> int:
        return len(self.laid)

    def only(self, rows: NDArray[np.intp]) -> "LayerTrials":
        """Some of them."""
        columns = {
            name: getattr(self, name)[rows] for name in ("after", "noise", "pieces", "places")
        }
        return replace(self, laid=self.laid.only(rows), **columns)

    @cached_property
    def key(self) -> Hashable:
        """The same for the same trials alone, wherever they stand."""
        laid = self.laid
        columns = [laid.strength, laid.coats, laid.technique, laid.finish, laid.skin]
        under = [] if laid.under is None else [laid.under]
        noise = self.noise.reshape(len(self), 18)
        numbers = np.column_stack([laid.before, self.after, noise, *columns, *under])
        return self.layer, numbers.tobytes(), tuple(self.pieces)


def folds_by_piece(
    pieces: Sequence[str], most: int
) -> Iterator[tuple[NDArray[np.intp], NDArray[np.intp]]]:
    """Rows to learn from and rows to hold out, once for each of `most` parts, or fewer.

    The most frequent pieces first, each is dealt to the part that is then the smallest: the tests
    hold it to scikit-learn's GroupKFold, which takes a second to load. Where all trials are of one
    piece, each counts as its own; of fewer than two trials there is no part.
    """
    groups = pieces if len(set(pieces)) > 1 else [str(i) for i in range(len(pieces))]
    _, group, sizes = np.unique(groups, return_inverse=True, return_counts=True)
    parts = min(most, len(sizes))
    if parts < 2:
        return
    part_of, in_part = np.zeros(len(sizes), int), np.zeros(parts, int)
    for number in np.argsort(sizes, kind="stable")[::-1]:
        part_of[number] = in_part.argmin()
        in_part[part_of[number]] += sizes[number]
    for part in range(parts):
        held_out = part_of[group] == part
        yield np.flatnonzero(~held_out), np.flatnonzero(held_out)


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
class Foretold:
    """What n applications of a layer should leave, CIELAB (n, 3), and why it may come otherwise.

    `by_before` is how that moves with the CIELAB before; `hand`, `misfit` and `unknown` are the
    covariances of what the hand scatters, of what the law leaves, and of what trials leave unknown
    of the layer, (n, 3, 3) each.
    """

    lab: Array
    by_before: Array
    hand: Array
    misfit: Array
    unknown: Array

    def carried(self, covariance: Array) -> Array:
        """What a covariance of the surfaces before, (3, 3) or (n, 3, 3), becomes."""
        return np.asarray(self.by_before @ covariance @ self.by_before.swapaxes(1, 2))


@dataclass(frozen=True, eq=False)
class LearnedLayer:
    """What the model knows of one layer: its prior is what was thought after those of its kind.

    `strangeness` is the squared Mahalanobis distance of each trial when it (or its piece) is left
    out.
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

    def foretell(self, laid: Laid) -> Foretold:
        """What the surfaces become when it is laid."""
        theta = self.fit.theta
        lab, moved = lay(theta, laid), Jacobians(theta, laid)
        by_before, amount = moved.of_what_is_laid
        hand = self.components.hand**2 * amount[:, :, None] * amount[:, None, :]
        misfit = np.asarray(self.components.misfit**2 / 3.0 * np.linalg.inv(local_metric(lab)))
        if self.residual_process is None:
            unknown = moved.theta @ self.fit.covariance @ moved.theta.swapaxes(1, 2)
        else:
            shift, unknown = self.residual_process.predict(features(theta, laid), moved.theta)
            lab = lab + shift
        return Foretold(lab, by_before, hand, misfit, unknown)


@dataclass(frozen=True, eq=False)
class LawFit:
    """A layer's trials, the law fitted to them, and the rows that are learned from beside it.

    `at`, shape (m,), tells which trials the rows are.
    """

    trials: LayerTrials
    prior: Prior
    components: VarianceComponents
    fit: LayerFit
    at: NDArray[np.intp]
    rows: Rows

    @property
    def key(self) -> Hashable:
        """The same for the same fit alone."""
        return self.rows.key


def fit_law(
    trials: LayerTrials,
    prior: Prior,
    components: VarianceComponents,
    alone: LayerFit | None = None,
) -> LawFit:
    """Fit the film law to a layer's trials, from where they lead alone."""
    fit = fit_layer(trials.laid, trials.after, prior, components, trials.noise, alone)
    at = spread_out(features(fit.theta, trials.laid))
    laid, after = trials.laid.only(at), trials.after[at]
    moved = Jacobians(fit.theta, laid)
    rows = Rows(
        features(fit.theta, laid),
        moved.theta,
        after - lay(fit.theta, laid) - moved.theta @ (prior.mean - fit.theta),
        row_covariance(moved, local_metric(after), components, trials.noise[at]),
        prior.covariance,
        np.ones(len(at)),
        (trials.key, prior.key, components),
    )
    return LawFit(trials, prior, components, fit, at, rows)


def learn_layer(law: LawFit, smoothness: Smoothness) -> LearnedLayer:
    """What a layer's trials teach, beside its law, in a workshop of such smoothness."""
    rows = law.rows.weighed(smoothness)
    folds = [piece for _, piece in folds_by_piece(list(law.trials.pieces[law.at]), len(law.at))]
    strangeness = law.fit.strangeness.copy()
    strangeness[law.at] = rows.strangeness(smoothness, folds)
    steadier = np.sqrt(smoothness.noise)
    return LearnedLayer(
        law.prior,
        law.fit,
        VarianceComponents(law.components.hand * steadier, law.components.misfit * steadier),
        ResidualProcess.learn(rows, smoothness, law.prior.mean - law.fit.theta),
        len(law.trials),
        strangeness,
    )


def never_laid(
    layer: Layer, prior: Prior, components: VarianceComponents, smoothness: Smoothness
) -> LearnedLayer:
    """What is known of a layer without trials."""
    none, noise = np.empty(0, dtype=np.intp), np.empty((0, 2, 3, 3))
    trials = LayerTrials(layer, Laid.of([]), np.empty((0, 3)), noise, none.astype(np.str_), none)
    return learn_layer(fit_law(trials, prior, components), smoothness)
