"""How much wider or narrower the model's regions must be than it reckons, told by left-out pieces.

A model fits its own trials better than new ones, the more so the fewer they are. So whole pieces
are left out, everything is learned anew without them, and the distances of their readings from
what is then foretold are held against what they should be.
"""

from collections.abc import Iterator, Mapping
from math import ceil

import numpy as np
from numpy.typing import NDArray

from tonematch.arrays import Array
from tonematch.toning.model.fitted_layer import LayerTrials, folds_by_piece
from tonematch.toning.model.mahalanobis import squared_reach

# Shares of the readings for which the distances are compared.
SHARES = (0.5, 0.65, 0.8, 0.9)
# As many left-out trials as the assumption that stated noise and scatter are right counts for.
# This and the next two are choices of this project, held against simulated logbooks, the invented
# trials of the demonstration and measured overprints.
LEANING = 25.0
# Parts into which pieces are dealt; each is left out once, until so many trials were left out.
PARTS, ENOUGH = 5, 100
# A long logbook is asked by so many trials, of layers drawn evenly from it.
MOST_ASKED = 300


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

    left_out = 0
    for learn, test in folds_by_piece(pieces, PARTS):
        yield only(learn), only(test)
        left_out += len(test)
        if left_out >= ENOUGH:
            return


def recalibration_factor(squared: Array, freedom: Array, expected: float = 1.0) -> float:
    """Factor on the model's variances that makes left-out readings as far off as they should be.

    Above 0. By quantiles, which a few mistyped trials hardly move, leaning on what is expected as
    far as readings are few. Of each reading is told the squared Mahalanobis distance from what a
    model foretold which did not know its piece, shape (n,), and the degrees of freedom of that.
    """
    n = len(squared)
    if n == 0:
        return expected
    changes = [
        np.log(np.quantile(squared / squared_reach(share, freedom), share)) for share in SHARES
    ]
    return float(np.exp((np.mean(changes) * n + np.log(expected) * LEANING) / (n + LEANING)))
