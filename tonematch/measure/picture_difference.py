"""CIEDE2000 for whole pictures: single precision, in blocks that fit the cache, on all cores.

The published formula, with its angles kept as sines and cosines: of the mean hue only powers
of its cosine and sine are needed, so that no arc tangent is taken. Single readings go through
colour-science (`tonematch.measure.difference`), against which this is held by the tests.

References
----------
ISO/CIE 11664-6:2014. Sharma, G., Wu, W. and Dalal, E. N. (2005). The CIEDE2000
color-difference formula. Color Research and Application 30(1), 21-30.
"""

import math
import os
from concurrent.futures import ThreadPoolExecutor

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float32]

_BLOCK = 32768
_POW25_7 = np.float32(25.0**7)
_TINY = np.float32(1e-20)


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
    """
    shape = np.broadcast_shapes(lab1.shape, lab2.shape)[:-1]
    first, second = _planes(lab1, shape), _planes(lab2, shape)
    count = math.prod(shape)
    out = np.empty(count, dtype=np.float32)
    factors = np.float32(1 / kL), np.float32(1 / kC), np.float32(1 / kH)

    def fill(start: int) -> None:
        part = slice(start, start + _BLOCK)
        one, other = (p if p.shape[1] == 1 else p[:, part] for p in (first, second))
        out[part] = _difference(one, other, factors)

    with ThreadPoolExecutor(max_workers=os.cpu_count()) as pool:
        list(pool.map(fill, range(0, count, _BLOCK)))
    return out.reshape(shape)


def _planes(lab: NDArray[np.float32], shape: tuple[int, ...]) -> Floats:
    """L*, a*, b* as rows, shape (3, n), or (3, 1) for a single colour."""
    single = np.asarray(lab, dtype=np.float32)
    if single.ndim > 1:
        single = np.broadcast_to(single, (*shape, 3))
    return single.reshape(-1, 3).T


def _difference(
    one: Floats, other: Floats, factors: tuple[np.float32, np.float32, np.float32]
) -> Floats:
    """The formula on rows L*, a*, b*; symbols as published, u and v for cosine and sine."""
    (L1, a1, b1), (L2, a2, b2) = one, other
    f = np.float32
    c7 = _power7(f(0.5) * (np.sqrt(a1 * a1 + b1 * b1) + np.sqrt(a2 * a2 + b2 * b2)))
    stretch = f(1.5) - f(0.5) * np.sqrt(c7 / (c7 + _POW25_7))
    a1, a2 = a1 * stretch, a2 * stretch
    C1, C2 = np.sqrt(a1 * a1 + b1 * b1), np.sqrt(a2 * a2 + b2 * b2)
    product = C1 * C2
    dot, cross = a1 * a2 + b1 * b2, a1 * b2 - b1 * a2
    # 2 sqrt(C1 C2) sin(dh / 2), by half-angle: the first form where dh is small, without
    # cancellation; the second where the hues are nearly opposite.
    narrow = cross / np.sqrt(np.maximum(f(0.5) * (product + dot), _TINY))
    wide = np.copysign(np.sqrt(np.maximum(f(2.0) * (product - dot), f(0.0))), cross)
    dH = np.where(dot > 0, narrow, wide)
    u, v = _mean_hue(a1, b1, C1, a2, b2, C2)
    T = _weighting_of_hue(u, v)
    mean_C = f(0.5) * (C1 + C2)
    centred = (f(0.5) * (L1 + L2) - f(50.0)) ** 2
    dL = (L2 - L1) * factors[0] / (f(1.0) + f(0.015) * centred / np.sqrt(f(20.0) + centred))
    dC = (C2 - C1) * factors[1] / (f(1.0) + f(0.045) * mean_C)
    dH = dH * factors[2] / (f(1.0) + f(0.015) * mean_C * T)
    c7 = _power7(mean_C)
    R_T = _rotation(u, v) * np.sqrt(c7 / (c7 + _POW25_7))
    squared = dL * dL + dC * dC + dH * dH + R_T * dC * dH
    return np.asarray(np.sqrt(np.maximum(squared, f(0.0))))


def _power7(C: Floats) -> Floats:
    square = C * C
    return np.asarray(square * square * square * C)


def _mean_hue(
    a1: Floats, b1: Floats, C1: Floats, a2: Floats, b2: Floats, C2: Floats
) -> tuple[Floats, Floats]:
    """Cosine and sine of the mean hue: the bisector of both, or the one hue that there is."""
    f = np.float32
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
    return np.asarray(x * scale), np.asarray(y * scale)


def _weighting_of_hue(u: Floats, v: Floats) -> Floats:
    """T of the formula, by the addition theorems."""
    f = np.float32
    cos2, sin2 = f(2.0) * u * u - f(1.0), f(2.0) * u * v
    cos3, sin3 = u * cos2 - v * sin2, v * cos2 + u * sin2
    cos4, sin4 = f(2.0) * cos2 * cos2 - f(1.0), f(2.0) * sin2 * cos2
    return np.asarray(
        f(1.0)
        - f(0.17 * _cos(30)) * u
        - f(0.17 * _sin(30)) * v
        + f(0.24) * cos2
        + f(0.32 * _cos(6)) * cos3
        - f(0.32 * _sin(6)) * sin3
        - f(0.20 * _cos(63)) * cos4
        - f(0.20 * _sin(63)) * sin4
    )


def _cos(degrees: float) -> float:
    return math.cos(math.radians(degrees))


def _sin(degrees: float) -> float:
    return math.sin(math.radians(degrees))


def _rotation(u: Floats, v: Floats) -> Floats:
    """-2 sin(2 dTheta), of which dTheta is 30 degrees times a bell around hue 275.

    With y = 1 - cos(h - 275), the squared angle is 2 y + y^2 / 3 + 4 y^3 / 45 + y^4 / 35 + ...
    (the series of arccos squared), which is enough: where it is not, the bell is below 1e-6.
    """
    f = np.float32
    y = f(1.0) - (f(_cos(275)) * u + f(_sin(275)) * v)
    squared = y * (f(2.0) + y * (f(1 / 3) + y * (f(4 / 45) + y * f(1 / 35))))
    bell = np.exp(squared * f(-((180.0 / math.pi / 25.0) ** 2)))
    return np.asarray(f(-2.0) * np.sin(f(math.pi / 3.0) * bell))
