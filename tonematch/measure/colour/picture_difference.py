"""CIEDE2000 for whole pictures: single precision, in blocks that fit the cache, on all cores."""

import math
import os
from concurrent.futures import ThreadPoolExecutor

import numpy as np

from tonematch.measure.colour.ciede2000 import ciede2000
from tonematch.photo.core import FloatPicture

# Pixels of a block: few enough for a core's cache, many enough for a call to cost nothing.
_BLOCK = 65536


def picture_difference(
    lab1: FloatPicture,
    lab2: FloatPicture,
    kL: float = 1.0,
    kC: float = 1.0,
    kH: float = 1.0,
) -> FloatPicture:
    """CIEDE2000 pixel by pixel.

    Parameters
    ----------
    lab1, lab2 : ndarray, shape (..., 3)
        CIELAB; one of them may be a single colour, shape (3,).
    kL, kC, kH : float, optional
        Parametric factors, above 0; 1 under the reference conditions.

    Returns
    -------
    ndarray, shape (...), float32
        Within 0.005 of the formula in double precision, for L* of 0 to 100 and a*, b* of -128
        to 128, but where two hues are opposite to within rounding.

    Notes
    -----
    Blocks of pixels are shared among as many threads as there are processors; a single block is
    done where it is asked for.
    """
    shape = np.broadcast_shapes(lab1.shape, lab2.shape)[:-1]
    first, second = _rows(lab1, shape), _rows(lab2, shape)
    count = math.prod(shape)
    out = np.empty(count, dtype=np.float32)
    factors = 1.0 / kL, 1.0 / kC, 1.0 / kH

    def fill(start: int) -> None:
        part = slice(start, start + _BLOCK)
        out[part] = ciede2000(_planes(first, part), _planes(second, part), factors)

    if count <= _BLOCK:
        fill(0)
    else:
        with ThreadPoolExecutor(max_workers=os.cpu_count()) as pool:
            list(pool.map(fill, range(0, count, _BLOCK)))
    return out.reshape(shape)


def _rows(lab: FloatPicture, shape: tuple[int, ...]) -> FloatPicture:
    """Colours one a row, shape (n, 3), or (1, 3) for a single one."""
    single = np.asarray(lab, dtype=np.float32)
    if single.ndim > 1:
        single = np.broadcast_to(single, (*shape, 3))
    return single.reshape(-1, 3)


def _planes(rows: FloatPicture, part: slice) -> FloatPicture:
    """L*, a*, b* of some pixels, each one piece of memory; shape (3, n), or (3, 1)."""
    return np.ascontiguousarray((rows if len(rows) == 1 else rows[part]).T)
