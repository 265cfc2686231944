"""Splits of trials that keep each piece on one side."""

from collections.abc import Iterator, Sequence

import numpy as np
from numpy.typing import NDArray
from sklearn.model_selection import GroupKFold

Rows = NDArray[np.intp]


def folds_by_piece(pieces: Sequence[str], most: int) -> Iterator[tuple[Rows, Rows]]:
    """Rows to learn from and rows to hold out, once for each part.

    Parameters
    ----------
    pieces : sequence of str, length n
        Piece of each trial; where all are of one piece, each trial counts as its own.
    most : int
        Greatest number of parts, at least 2.

    Yields
    ------
    learn, held_out : ndarray of int
        None where there are fewer than two trials.
    """
    groups = pieces if len(set(pieces)) > 1 else [str(i) for i in range(len(pieces))]
    parts = min(most, len(set(groups)))
    if parts > 1:
        yield from GroupKFold(parts).split(np.zeros(len(groups)), groups=groups)
