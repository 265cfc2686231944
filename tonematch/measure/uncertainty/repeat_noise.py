"""Noise that is new in every photograph, told from mottle that stays, by repeats of an area."""

from collections.abc import Sequence

import numpy as np

from tonematch.arrays import Array, Matrix3
from tonematch.measure.core import Area, Reading

# Parts along each side of an area: as `pixels`, larger than the grain of the noise.
_ACROSS = 6
_FEWEST_PARTS = 12


def part_means(values: Array, places: Array, area: Area, across: int = _ACROSS) -> Array:
    """Means of values (n, 3) at places (n, 2) over parts of an area, shape (across, across, 3).

    Row by row over the area's bounds, so that parts of two photographs of one surface answer to
    each other; nan where none of the values lies.
    """
    corners = np.array(area.corners)
    start, end = corners.min(axis=0), corners.max(axis=0)
    column, row = np.clip((across * (places - start) / (end - start)).astype(int), 0, across - 1).T
    part = row * across + column
    counts = np.bincount(part, minlength=across**2)
    sums = np.stack([np.bincount(part, v, across**2) for v in values.T], axis=-1)
    means = np.full_like(sums, np.nan)
    np.divide(sums, counts[:, None], out=means, where=counts[:, None] > 0)
    return np.asarray(means.reshape(across, across, 3))


def noise_of_repeats(readings: Sequence[Reading]) -> Matrix3:
    """Covariance (3, 3) of the mean of one photograph by what is new in every photograph.

    Of two or more readings of one area, each from its own photograph, and on average over them; 0
    where it cannot be told, as of readings out of a logbook.

    Notes
    -----
    Mottle of a part of the area is the same in every photograph and falls out of the differences
    between photographs; noise stays in them, with twice its variance. A steady change across
    the area is taken off first: a lamp that was moved makes one. Parts are larger than the
    noise's grain, so the variance of the mean of b parts is that of one, divided by b. Noise of
    coarser grain is counted with the mottle, which is cautious. Degrees of freedom as in
    JCGM 100:2008, 4.2.4: b less the three of the plane.
    """
    grids = [reading.parts for reading in readings if reading.parts is not None]
    if len(grids) < len(readings):
        return np.zeros((3, 3))
    values = np.array(grids)
    used = np.isfinite(values).all(axis=(0, 3))
    b = int(used.sum())
    if b < _FEWEST_PARTS:
        return np.zeros((3, 3))
    rows, columns = np.nonzero(used)
    plane = np.column_stack([np.ones(b), rows, columns])
    apart = values[:, used] - values[:, used].mean(axis=0)
    apart = apart - plane @ (np.linalg.pinv(plane) @ apart)
    scatter = np.einsum("nbi,nbj->ij", apart, apart)
    return np.asarray(scatter / ((len(values) - 1) * (b - 3) * b))
