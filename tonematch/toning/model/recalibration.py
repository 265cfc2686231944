"""How sure the model may be, told by left-out pieces.

A model fits its own trials better than new ones, the more so the fewer they are. So whole pieces
are left out, everything is learned anew without them, and their readings are held against what is
then foretold. Noise, hand and misfit are estimates of what scatters, and stay; what a model is
unsure of is reckoned as if it knew how large these and the smoothness are, and comes out too small.

References
----------
Vovk, V., Gammerman, A. and Shafer, G. (2005). Algorithmic Learning in a Random World, Springer:
of n scores of the past one more lies below the (n + 1) p-th smallest with chance p. Weibull's
plotting positions are the same between whole ranks.
"""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field, fields
from math import ceil

import numpy as np
from numpy.typing import NDArray

from tonematch.arrays import Array
from tonematch.toning.model.fitted_layer import LayerTrials, folds_by_piece
from tonematch.toning.model.mahalanobis import squared_reach

# Shares of the readings for which the distances are compared.
SHARES = (0.5, 0.65, 0.8, 0.9)
# Factor on the variance of what is unknown before anything was left out, and as many left-out
# trials as it counts for, and as those of all layers do beside a layer's own. Both, and the next
# two, are choices of this project, held against simulated logbooks, the invented trials of the
# demonstration and measured overprints.
EXPECTED, LEANING = 1.3, 50.0
# Greatest factor that one trial may call for, or its reciprocal, as a natural logarithm.
WIDEST, HALVINGS = 3.0, 12
# Parts into which pieces are dealt; each is left out once. A long logbook is asked by so many
# trials, of layers drawn evenly from it.
PARTS, MOST_ASKED = 5, 300


@dataclass(frozen=True)
class Recalibration:
    """Factors on the variances that a model reckons, above 0.

    `unknown` is that on what trials leave unknown of any layer, `of_layer` of those that were left
    out themselves, `hand` that on what the hand scatters at the bench that is foretold.
    """

    unknown: float = EXPECTED
    of_layer: Mapping[str, float] = field(default_factory=dict)
    hand: float = 1.0

    def of(self, layer: str) -> float:
        """The factor on what is unknown of a layer."""
        return self.of_layer.get(layer, self.unknown)


@dataclass(frozen=True, eq=False)
class LeftOut:
    """Readings of n trials beside what was foretold by models that did not know their pieces.

    Attributes
    ----------
    layer : ndarray of str, shape (n,)
    place : ndarray of int, shape (n,)
        Among the trials of all layers.
    gap : ndarray, shape (n, 3)
        CIELAB read less that foretold.
    steady, hand, unknown : ndarray, shape (n, 3, 3)
        Covariance of the two readings and the misfit, of the hand, and of what was unknown.
    freedom : ndarray, shape (n,)
    """

    layer: NDArray[np.str_]
    place: NDArray[np.intp]
    gap: Array
    steady: Array
    hand: Array
    unknown: Array
    freedom: Array

    @classmethod
    def of(cls, parts: Sequence["LeftOut"]) -> "LeftOut":
        """Several together."""
        return cls(*(np.concatenate([getattr(p, f.name) for p in parts]) for f in fields(cls)))


def recalibrate(out: LeftOut, own: NDArray[np.bool_] | None = None) -> Recalibration:
    """What left-out trials bear out; `own`, shape (n,), are those of the bench that is foretold.

    A layer leans on all layers, and a bench's hand on that of all, as far as its trials are few.
    """
    scores = factors_within(out.gap, out.steady + out.hand, out.unknown, out.freedom)
    common = leaning(scores, EXPECTED)
    layers = {
        str(name): leaning(scores[out.layer == name], common) for name in np.unique(out.layer)
    }
    if own is None or own.all():
        return Recalibration(common, layers)
    factor = np.array([layers[str(name)] for name in out.layer])[:, None, None]
    steady = out.steady + factor * out.unknown
    hands = factors_within(out.gap[own], steady[own], out.hand[own], out.freedom[own])
    return Recalibration(common, layers, leaning(hands, 1.0))


def without_some_pieces(
    trials: Mapping[str, LayerTrials],
) -> Iterator[tuple[dict[str, LayerTrials], dict[str, LayerTrials]]]:
    """Trials by layer to learn from, and those of the pieces that were left out.

    Layers without a trial are not among them.
    """
    names = list(trials)[:: max(1, ceil(sum(map(len, trials.values())) / MOST_ASKED))]
    layer = np.repeat(np.arange(len(names)), [len(trials[name]) for name in names])
    row = np.concatenate([np.arange(len(trials[name])) for name in names] or [np.empty(0, int)])
    pieces = [piece for name in names for piece in trials[name].pieces]

    def only(places: NDArray[np.intp]) -> dict[str, LayerTrials]:
        return {
            names[i]: trials[names[i]].only(row[places[layer[places] == i]])
            for i in np.unique(layer[places])
        }

    for learn, test in folds_by_piece(pieces, PARTS):
        yield only(learn), only(test)


def factors_within(gap: Array, steady: Array, part: Array, freedom: Array) -> Array:
    """Factors on a part of the covariance at which each gap just lies within the regions.

    Natural logarithms, shape (n, 4): of the regions that hold SHARES of the readings. Gaps are
    (n, 3), both parts of their covariance (n, 3, 3), degrees of freedom (n,).
    """
    whiten = np.linalg.inv(np.linalg.cholesky(steady))
    sizes, turn = np.linalg.eigh(whiten @ part @ whiten.swapaxes(1, 2))
    squares = (turn.swapaxes(1, 2) @ whiten @ gap[:, :, None])[:, None, :, 0] ** 2
    reach = np.stack([squared_reach(share, freedom) for share in SHARES], axis=1)
    found, step = np.zeros_like(reach), WIDEST / 2.0
    for _ in range(HALVINGS):
        far = (squares / (1.0 + np.exp(found)[:, :, None] * sizes[:, None])).sum(axis=2) > reach
        found, step = found + np.where(far, step, -step), step / 2.0
    return found


def leaning(scores: Array, expected: float) -> float:
    """The factor at which shares of the readings lie within, leaning on what is expected.

    Above 0. `scores`, shape (n, 4), are `factors_within`. By quantiles, which a few mistyped trials
    hardly move, and as far as readings are few by what is expected.
    """
    n = len(scores)
    if n == 0:
        return expected
    called = np.mean(
        [np.quantile(own, p, method="weibull") for own, p in zip(scores.T, SHARES, strict=True)]
    )
    return float(np.exp((called * n + np.log(expected) * LEANING) / (n + LEANING)))
