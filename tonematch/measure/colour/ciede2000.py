"""The formula CIEDE2000, in the precision of what it is given, for one pair or for millions.

Its angles are kept as sines and cosines: of the mean hue only powers of its cosine and sine are
needed, so that no arc tangent is taken. What only few pairs need is done for them alone: hues far
apart, and the rotation of blues. The tests hold it against the published pairs and colour-science.

References
----------
ISO/CIE 11664-6:2014. Sharma, G., Wu, W. and Dalal, E. N. (2005). The CIEDE2000
color-difference formula. Color Research and Application 30(1), 21-30.
"""

import math
from typing import Any

import numpy as np
from numpy.polynomial.chebyshev import cheb2poly
from numpy.typing import NDArray

Floats = NDArray[np.floating[Any]]

_POW25_7 = 25.0**7
_TINY = 1e-20
# Cosine of the distance from hue 275 beyond which the bell of the rotation is below 1e-15.
_BLUE = math.cos(math.radians(147.0))


def ciede2000(
    one: Floats, other: Floats, factors: tuple[float, float, float] = (1.0, 1.0, 1.0)
) -> Floats:
    """CIEDE2000 of colours in rows L*, a* and b*; symbols as published, u and v for cos and sin.

    Parameters
    ----------
    one, other : ndarray, shape (3, n) or (3, 1)
        CIELAB, each row best one piece of memory; float32 or float64.
    factors : tuple of three float
        1 / kL, 1 / kC, 1 / kH.

    Returns
    -------
    ndarray, shape (n,)
        Of the given precision. Where two hues are opposite to within rounding, the mean hue may
        be taken on either side, as the formula jumps there.
    """
    (L1, a1, b1), (L2, a2, b2) = one, other
    b1b1, b2b2 = b1 * b1, b2 * b2
    c7 = _power7(0.5 * (np.sqrt(a1 * a1 + b1b1) + np.sqrt(a2 * a2 + b2b2)))
    stretch = 1.5 - 0.5 * np.sqrt(c7 / (c7 + _POW25_7))
    a1, a2 = a1 * stretch, a2 * stretch
    C1, C2 = np.sqrt(a1 * a1 + b1b1), np.sqrt(a2 * a2 + b2b2)
    dH, u, v = _hues((a1, b1, C1), (a2, b2, C2))
    mean_C = 0.5 * (C1 + C2)
    centred = (0.5 * (L1 + L2) - 50.0) ** 2
    dL = (L2 - L1) / (1.0 + 0.015 * centred / np.sqrt(20.0 + centred))
    dC = (C2 - C1) / (1.0 + 0.045 * mean_C)
    dH /= 1.0 + 0.015 * mean_C * _weighting_of_hue(u, v)
    dL, dC, dH = (d if k == 1 else d * k for d, k in zip((dL, dC, dH), factors, strict=True))
    squared = dL * dL + dC * dC + dH * dH
    from_blue = _cos(275) * u + _sin(275) * v
    blue = np.flatnonzero(from_blue > _BLUE)
    # The published bell does not go round the circle: hues of 0 to 95 are beyond it.
    blue = blue[(u[blue] < 0) | (v[blue] < 0)]
    if len(blue):
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
    dot, product = a1 * a2 + b1 * b2, C1 * C2
    q = np.sqrt(np.abs(0.5 * (product + dot))) + _TINY
    dH = (a1 * b2 - b1 * a2) / q
    scale = 0.5 / (np.sqrt(product) * q + _TINY)
    u, v = (a1 * C2 + a2 * C1) * scale, (b1 * C2 + b2 * C1) * scale
    far = np.flatnonzero(dot <= _TINY)
    if len(far):
        parts = [np.broadcast_to(plane, dot.shape)[far] for plane in (*one, *other)]
        dH[far], u[far], v[far] = _far_hues(*parts)
    return dH, u, v


def _far_hues(
    a1: Floats, b1: Floats, C1: Floats, a2: Floats, b2: Floats, C2: Floats
) -> tuple[Floats, Floats, Floats]:
    """The same where the hues are more than 90 degrees apart, or one of the two is a grey."""
    cross, dot = a1 * b2 - b1 * a2, a1 * a2 + b1 * b2
    dH = np.copysign(np.sqrt(np.maximum(2.0 * (C1 * C2 - dot), 0.0)), cross)
    # Scaled by the other's chroma, both vectors are equally long; a grey adds nothing.
    s1, s2 = np.where(C2 > 0, C2, 1.0), np.where(C1 > 0, C1, 1.0)
    x, y = a1 * s1 + a2 * s2, b1 * s1 + b2 * s2
    # Exactly opposite hues have no bisector: the formula takes a quarter turn on from the
    # hue that lies in 0 to 180 degrees.
    none = (np.abs(x) + np.abs(y)) <= _TINY
    side = np.where((b1 > 0) | ((b1 == 0) & (a1 > 0)), 1.0, -1.0)
    x, y = np.where(none, -b1 * side, x), np.where(none, a1 * side, y)
    long = np.sqrt(x * x + y * y)
    scale = 1.0 / np.where(long > _TINY, long, 1.0)
    return dH, np.asarray(x * scale), np.asarray(y * scale)


def _cos(degrees: float) -> float:
    return math.cos(math.radians(degrees))


def _sin(degrees: float) -> float:
    return math.sin(math.radians(degrees))


# T of the formula in powers of u = cos h and v = sin h: cos(n h) is the Chebyshev polynomial
# T_n(u), and sin(n h) is v U_(n-1)(u).
_EVEN = cheb2poly([1.0, -0.17 * _cos(30), 0.24, 0.32 * _cos(6), -0.20 * _cos(63)]).tolist()
_ODD = (-0.17 * _sin(30) + 0.32 * _sin(6), 0.80 * _sin(63), -1.28 * _sin(6), -1.60 * _sin(63))


def _weighting_of_hue(u: Floats, v: Floats) -> Floats:
    """T of the formula."""
    e, o = _EVEN, _ODD
    even = (((e[4] * u + e[3]) * u + e[2]) * u + e[1]) * u + e[0]
    return np.asarray(even + v * (((o[3] * u + o[2]) * u + o[1]) * u + o[0]))


def _rotation(from_blue: Floats, mean_C: Floats) -> Floats:
    """R_T of the formula: dTheta is 30 degrees times a bell around hue 275."""
    away = np.degrees(np.arccos(np.minimum(from_blue, 1.0)))
    bell = np.exp(-((away / 25.0) ** 2))
    c7 = _power7(mean_C)
    return np.asarray(-2.0 * np.sin(math.pi / 3.0 * bell) * np.sqrt(c7 / (c7 + _POW25_7)))
