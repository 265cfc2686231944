"""The way of a repair towards its original: lightness and hue apart, each with its interval."""

import math
from dataclasses import dataclass

import numpy as np

from tonematch.measure.core import REACH_95, Comparison


@dataclass(frozen=True)
class Stand:
    """How a repair stood to its original, both in units of CIELAB (D50, 2 degree).

    Attributes
    ----------
    lightness, hue : float
        Repair minus original: dL*, and dH*ab, which rises from red to yellow to green.
    lightness_within, hue_within : float
        Half the 95 % interval of each.
    """

    lightness: float
    lightness_within: float
    hue: float
    hue_within: float


def stand_of(comparison: Comparison) -> Stand:
    """How a repair stood when it was compared.

    Where the covariance of the difference was not kept, of each reading counts what is its own.

    References
    ----------
    ISO/CIE 11664-4:2019 (dH*ab). JCGM 100:2008, 5.1.2 (the law of propagation).
    """
    one, other = comparison.original, comparison.repair
    covariance = comparison.covariance
    if covariance is None:
        covariance = one.own_covariance + other.own_covariance
    a, b = (one.lab[1:] + other.lab[1:]) / 2.0
    # dH*ab is the part of the difference that lies across the chroma between the two.
    chroma = math.hypot(a, b)
    across = np.array([0.0, -b, a]) / chroma if chroma > 0.0 else np.zeros(3)
    return Stand(
        comparison.delta_L,
        REACH_95 * math.sqrt(covariance[0, 0]),
        comparison.delta_H,
        REACH_95 * math.sqrt(across @ covariance @ across),
    )
