"""Splits of trials that keep each piece on one side."""

from collections.abc import Iterator, Sequence

import numpy as np
from numpy.typing import NDArray

Rows = NDArray[np.intp]


def folds_by_piece(pieces: Sequence[str], most: int) -> Iterator[tuple[Rows, Rows]]:
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
