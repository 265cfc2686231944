"""Whether an area holds two golds, side by side: a boundary crosses it.

Mottle and wear are spread over an area; two golds meet along one line. Means of cells are split
in two along their main direction in CIELAB where the variance between the parts is greatest
(Otsu 1979). They are two golds where the split takes away more of the variance than it does of a
steady slope (three quarters) or of mottle (0.64, a normal distribution), where neither part is
small, where they differ visibly, and where a straight line parts them.

References
----------
Otsu, N. (1979). A threshold selection method from gray-level histograms. IEEE Transactions on
Systems, Man, and Cybernetics 9(1), 62-66.
"""

import numpy as np
from numpy.typing import NDArray

from tonematch.arrays import Array
from tonematch.measure.colour.difference import delta_e_2000
from tonematch.measure.core import Area
from tonematch.swatchbook import limits

# Cells along each side of an area: a boundary crosses few of them.
CELLS = 12
_FEWEST = 36


def check_one_gold(area: Area, cells: Array) -> list[str]:
    """Tell an area that is marked across a boundary.

    Its cells (n, n, 3) are CIELAB, row by row; nan where a cell holds no pixels.
    """
    used = np.isfinite(cells).all(axis=-1)
    if used.sum() < _FEWEST:
        return []
    limit, lab = limits("two_golds"), cells[used]
    second, explained = split_in_two(lab)
    share = float(second.mean())
    if explained < limit["explained"] or min(share, 1.0 - share) < limit["share"]:
        return []
    apart = float(delta_e_2000(lab[~second].mean(axis=0), lab[second].mean(axis=0)))
    if apart < limit["apart"] or _along_a_line(second, np.argwhere(used)) < limit["line"]:
        return []
    return [
        f"'{area.name}' holds two parts of other colours, as where two golds meet or the surface "
        "turns: mark one of them alone."
    ]


def split_in_two(lab: Array) -> tuple[NDArray[np.bool_], float]:
    """Which cells are of the second part, and the share of variance between the parts."""
    centred = lab - lab.mean(axis=0)
    along = centred @ np.linalg.svd(centred, full_matrices=False)[2][0]
    ordered = np.sort(along)
    below = np.arange(1, len(ordered))
    # Between parts of n and m cells whose sums are s and -s lies s^2 (1 / n + 1 / m).
    between = np.cumsum(ordered)[:-1] ** 2 * (1.0 / below + 1.0 / below[::-1])
    at = int(between.argmax())
    explained = float(between[at] / max(float(along @ along), 1e-12))
    return along > (ordered[at] + ordered[at + 1]) / 2.0, explained


def _along_a_line(second: NDArray[np.bool_], places: NDArray[np.int64]) -> float:
    """How well a straight line parts the cells: about 1 for one boundary, 0 for scattered ones.

    Squared correlation with the way across the boundary, beside that of a straight one over a
    square, 3 p (1 - p) for a share p.
    """
    design = np.column_stack([np.ones(len(places)), places])
    part = second - second.mean()
    told = design @ np.linalg.lstsq(design, part, rcond=None)[0]
    share = float(second.mean())
    return float(told @ told / (part @ part)) / (3.0 * share * (1.0 - share))
