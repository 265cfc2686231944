"""CIEDE2000: of colours, of whole pictures, and as a ruler that bends; the tolerance for it."""

import math
import os
from concurrent.futures import ThreadPoolExecutor

import numpy as np
from numpy.typing import ArrayLike

from tonematch.arrays import Array
from tonematch.errors import ValueRefused
from tonematch.measure.colour.ciede2000 import ciede2000
from tonematch.photo.core import FloatPicture
from tonematch.swatchbook import limits

USUAL_TOLERANCE = limits("comparison")["usual_tolerance"]
# Greatest CIEDE2000 of colours that are like one another at all: what the formula is meant for.
NEAR = limits("comparison")["beyond_formula"]
# Step of the local metric: small against any difference that matters, large against rounding.
_STEP = 0.05
# Pixels of a block: few enough for a core's cache, many enough for a call to cost nothing.
_BLOCK = 65536


def delta_e_2000(lab1: ArrayLike, lab2: ArrayLike) -> Array:
    """CIEDE2000 with kL = kC = kH = 1 of CIELAB (..., 3), the standard and the sample.

    Shapes are broadcast.

    References
    ----------
    ISO/CIE 11664-6:2014. Sharma, G., Wu, W. and Dalal, E. N. (2005). The CIEDE2000
    color-difference formula. Color Research and Application 30(1), 21-30.

    Examples
    --------
    >>> round(float(delta_e_2000([50, 2.6772, -79.7751], [50, 0, -82.7485])), 4)
    2.0425
    """
    first, second = np.broadcast_arrays(
        np.asarray(lab1, dtype=np.float64), np.asarray(lab2, dtype=np.float64)
    )
    one, other = (np.ascontiguousarray(np.moveaxis(lab, -1, 0)) for lab in (first, second))
    found = ciede2000(one.reshape(3, -1), other.reshape(3, -1))
    return np.asarray(found.reshape(first.shape[:-1]), dtype=np.float64)


def check_tolerance(tolerance: float) -> float:
    """A greatest CIEDE2000 that counts as a match; ValueRefused unless finite and above 0."""
    if not math.isfinite(tolerance) or tolerance <= 0:
        raise ValueRefused(
            f"A tolerance of {tolerance:g} cannot be used: give a number above 0, "
            f"such as {USUAL_TOLERANCE}."
        )
    return float(tolerance)


def local_metric(lab: Array) -> Array:
    """Matrix g with which a small step d from `lab` has CIEDE2000 of about sqrt(d.T @ g @ d).

    Of CIELAB (n, 3), D50, 2 degree; symmetric, shape (n, 3, 3).

    Notes
    -----
    By central differences of CIEDE2000 itself, as a quadratic form is found from its values
    (polarisation). Pant, D. R. and Farup, I. (2012). Riemannian formulation and comparison of
    color difference formulas. Color Research and Application 37(6), 429-440.
    """
    axes = np.eye(3)
    directions = np.array(
        [*axes, axes[0] + axes[1], axes[0] + axes[2], axes[1] + axes[2]], dtype=np.float64
    )
    reach = _STEP / 2.0 * directions[:, None, :]
    squared = (delta_e_2000(lab - reach, lab + reach) / _STEP) ** 2
    g = np.empty((len(lab), 3, 3))
    for i in range(3):
        g[:, i, i] = squared[i]
    for pair, (i, j) in enumerate(((0, 1), (0, 2), (1, 2)), start=3):
        g[:, i, j] = g[:, j, i] = (squared[pair] - squared[i] - squared[j]) / 2.0
    return g


def picture_difference(
    lab1: FloatPicture, lab2: FloatPicture, kL: float = 1.0, kC: float = 1.0, kH: float = 1.0
) -> FloatPicture:
    """CIEDE2000 pixel by pixel, of CIELAB (..., 3); one of the two may be a single colour, (3,).

    kL, kC and kH are the parametric factors, above 0: 1 under the reference conditions. The result
    lies within 0.005 of the formula in double precision, for L* of 0 to 100 and a*, b* of -128 to
    128, but where two hues are opposite to within rounding.

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
