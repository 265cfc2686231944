"""Splits of trials that keep each piece on one side."""

from collections.abc import Iterator, Sequence

import numpy as np
from numpy.typing import NDArray

Rows = NDArray[np.intp]


def folds_by_piece(pieces: Sequence[str], most: int) -> Iterator[tuple[Rows, Rows]]:
    """Rows to learn from and rows to hold out, once for each part.

    The most frequent pieces first, each is dealt to the part that is then the smallest: the tests
    hold it to scikit-learn's GroupKFold, which takes a second to load.

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
