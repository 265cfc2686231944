"""CIEDE2000 for whole pictures: single precision, in blocks that fit the cache, on all cores.

The published formula, with its angles kept as sines and cosines: of the mean hue only powers
of its cosine and sine are needed, so that no arc tangent is taken. What only few pixels need is
done for them alone: hues far apart, and the rotation of blues. Single readings go through
colour-science (`tonematch.measure.colour.difference`), against which this is held by the tests.

References
----------
ISO/CIE 11664-6:2014. Sharma, G., Wu, W. and Dalal, E. N. (2005). The CIEDE2000
color-difference formula. Color Research and Application 30(1), 21-30.
"""

import math
import os
from concurrent.futures import ThreadPoolExecutor

import numpy as np
from numpy.polynomial.chebyshev import cheb2poly
from numpy.typing import NDArray

Floats = NDArray[np.float32]

# Pixels of a block: few enough for a core's cache, many enough for a call to cost nothing.
_BLOCK = 65536
_POW25_7 = np.float32(25.0**7)
_TINY = np.float32(1e-20)
# Cosine of the distance from hue 275 beyond which the bell of the rotation is below 1e-6.
_BLUE = np.float32(math.cos(math.radians(95.0)))


def picture_difference(
    lab1: NDArray[np.float32],
    lab2: NDArray[np.float32],
    kL: float = 1.0,
    kC: float = 1.0,
    kH: float = 1.0,
) -> Floats:
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
        to 128. Where two hues are opposite to within rounding, the mean hue may be taken on
        either side, as the formula jumps there.

    Notes
    -----
    Blocks of pixels are shared among as many threads as there are processors; a single block is
    done where it is asked for.
    """
    shape = np.broadcast_shapes(lab1.shape, lab2.shape)[:-1]
    first, second = _rows(lab1, shape), _rows(lab2, shape)
    count = math.prod(shape)
    out = np.empty(count, dtype=np.float32)
    factors = np.float32(1 / kL), np.float32(1 / kC), np.float32(1 / kH)

    def fill(start: int) -> None:
        part = slice(start, start + _BLOCK)
        out[part] = _difference(_planes(first, part), _planes(second, part), factors)

    if count <= _BLOCK:
        fill(0)
    else:
        with ThreadPoolExecutor(max_workers=os.cpu_count()) as pool:
            list(pool.map(fill, range(0, count, _BLOCK)))
    return out.reshape(shape)


def _rows(lab: NDArray[np.float32], shape: tuple[int, ...]) -> Floats:
    """Colours one a row, shape (n, 3), or (1, 3) for a single one."""
    single = np.asarray(lab, dtype=np.float32)
    if single.ndim > 1:
        single = np.broadcast_to(single, (*shape, 3))
    return single.reshape(-1, 3)


def _planes(rows: Floats, part: slice) -> Floats:
    """L*, a*, b* of some pixels, each one piece of memory; shape (3, n), or (3, 1)."""
    return np.ascontiguousarray((rows if len(rows) == 1 else rows[part]).T)


def _difference(
    one: Floats, other: Floats, factors: tuple[np.float32, np.float32, np.float32]
) -> Floats:
    """The formula on rows L*, a*, b*; symbols as published, u and v for cosine and sine."""
    (L1, a1, b1), (L2, a2, b2) = one, other
    f = np.float32
    b1b1, b2b2 = b1 * b1, b2 * b2
    c7 = _power7(f(0.5) * (np.sqrt(a1 * a1 + b1b1) + np.sqrt(a2 * a2 + b2b2)))
    stretch = f(1.5) - f(0.5) * np.sqrt(c7 / (c7 + _POW25_7))
    a1, a2 = a1 * stretch, a2 * stretch
    C1, C2 = np.sqrt(a1 * a1 + b1b1), np.sqrt(a2 * a2 + b2b2)
    dH, u, v = _hues((a1, b1, C1), (a2, b2, C2))
    mean_C = f(0.5) * (C1 + C2)
    centred = (f(0.5) * (L1 + L2) - f(50.0)) ** 2
    dL = (L2 - L1) / (f(1.0) + f(0.015) * centred / np.sqrt(f(20.0) + centred))
    dC = (C2 - C1) / (f(1.0) + f(0.045) * mean_C)
    dH /= f(1.0) + f(0.015) * mean_C * _weighting_of_hue(u, v)
    dL, dC, dH = (d if k == 1 else d * k for d, k in zip((dL, dC, dH), factors, strict=True))
    squared = dL * dL + dC * dC + dH * dH
    from_blue = f(_cos(275)) * u + f(_sin(275)) * v
    blue = np.flatnonzero(from_blue > _BLUE)
    # R_T stays within 1.74, so that the sum cannot fall below 0.
    squared[blue] += _rotation(from_blue[blue], mean_C[blue]) * dC[blue] * dH[blue]
    return np.asarray(np.sqrt(squared))


def _power7(C: Floats) -> Floats:
    square = C * C
    return np.asarray(square * square * square * C)


def _hues(
    one: tuple[Floats, Floats, Floats], other: tuple[Floats, Floats, Floats]
) -> tuple[Floats, Floats, Floats]:
    """2 sqrt(C1 C2) sin(dh / 2), and cosine and sine of the mean hue; of a', b', C' of both.

    With q = sqrt(C1 C2) cos(dh / 2), by half-angle: the first is a1 b2 - b1 a2 over q, and the
    bisector C2 (a1, b1) + C1 (a2, b2) has the length 2 sqrt(C1 C2) q. Nothing cancels as long
    as the hues are within 90 degrees; greys and the rest go by `_far_hues`.
    """
    (a1, b1, C1), (a2, b2, C2) = one, other
    f = np.float32
    dot, product = a1 * a2 + b1 * b2, C1 * C2
    q = np.sqrt(np.abs(f(0.5) * (product + dot))) + _TINY
    dH = (a1 * b2 - b1 * a2) / q
    scale = f(0.5) / (np.sqrt(product) * q + _TINY)
    u, v = (a1 * C2 + a2 * C1) * scale, (b1 * C2 + b2 * C1) * scale
    far = np.flatnonzero(dot <= _TINY)
    parts = [np.broadcast_to(plane, dot.shape)[far] for plane in (*one, *other)]
    dH[far], u[far], v[far] = _far_hues(*parts)
    return dH, u, v


def _far_hues(
    a1: Floats, b1: Floats, C1: Floats, a2: Floats, b2: Floats, C2: Floats
) -> tuple[Floats, Floats, Floats]:
    """The same where the hues are more than 90 degrees apart, or one of the two is a grey."""
    f = np.float32
    cross, dot = a1 * b2 - b1 * a2, a1 * a2 + b1 * b2
    dH = np.copysign(np.sqrt(np.maximum(f(2.0) * (C1 * C2 - dot), f(0.0))), cross)
    # Scaled by the other's chroma, both vectors are equally long; a grey adds nothing.
    s1, s2 = np.where(C2 > 0, C2, f(1.0)), np.where(C1 > 0, C1, f(1.0))
    x, y = a1 * s1 + a2 * s2, b1 * s1 + b2 * s2
    # Exactly opposite hues have no bisector: the formula takes a quarter turn on from the
    # hue that lies in 0 to 180 degrees.
    none = (np.abs(x) + np.abs(y)) <= _TINY
    side = np.where((b1 > 0) | ((b1 == 0) & (a1 > 0)), f(1.0), f(-1.0))
    x, y = np.where(none, -b1 * side, x), np.where(none, a1 * side, y)
    long = np.sqrt(x * x + y * y)
    scale = f(1.0) / np.where(long > _TINY, long, f(1.0))
    return dH, np.asarray(x * scale), np.asarray(y * scale)


def _cos(degrees: float) -> float:
    return math.cos(math.radians(degrees))


def _sin(degrees: float) -> float:
    return math.sin(math.radians(degrees))


# T of the formula in powers of u = cos h and v = sin h: cos(n h) is the Chebyshev polynomial
# T_n(u), and sin(n h) is v U_(n-1)(u).
_EVEN = tuple(
    np.float32(c)
    for c in cheb2poly([1.0, -0.17 * _cos(30), 0.24, 0.32 * _cos(6), -0.20 * _cos(63)])
)
_ODD = tuple(
    np.float32(c)
    for c in (
        -0.17 * _sin(30) + 0.32 * _sin(6),
        0.80 * _sin(63),
        -1.28 * _sin(6),
        -1.60 * _sin(63),
    )
)


def _weighting_of_hue(u: Floats, v: Floats) -> Floats:
    """T of the formula."""
    e, o = _EVEN, _ODD
    even = (((e[4] * u + e[3]) * u + e[2]) * u + e[1]) * u + e[0]
    return np.asarray(even + v * (((o[3] * u + o[2]) * u + o[1]) * u + o[0]))


def _rotation(from_blue: Floats, mean_C: Floats) -> Floats:
    """R_T of the formula: dTheta is 30 degrees times a bell around hue 275.

    With y = 1 - cos(h - 275), the squared angle is 2 y + y^2 / 3 + 4 y^3 / 45 + y^4 / 35 + ...
    (the series of arccos squared), which is enough: where it is not, the bell is below 1e-6.
    """
    f = np.float32
    y = f(1.0) - from_blue
    squared = y * (f(2.0) + y * (f(1 / 3) + y * (f(4 / 45) + y * f(1 / 35))))
    bell = np.exp(squared * f(-((180.0 / math.pi / 25.0) ** 2)))
    c7 = _power7(mean_C)
    return np.asarray(f(-2.0) * np.sin(f(math.pi / 3.0) * bell) * np.sqrt(c7 / (c7 + _POW25_7)))
