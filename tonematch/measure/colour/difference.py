"""CIEDE2000, the one path that every difference takes, and the tolerance for it."""

import math

import numpy as np
from numpy.typing import ArrayLike, NDArray

from tonematch.errors import ValueRefused
from tonematch.measure.colour.ciede2000 import ciede2000
from tonematch.photo.limits import limits

USUAL_TOLERANCE = limits("comparison")["usual_tolerance"]
# Greatest CIEDE2000 of colours that are like one another at all: what the formula is meant for.
NEAR = limits("comparison")["beyond_formula"]


def delta_e_2000(lab1: ArrayLike, lab2: ArrayLike) -> NDArray[np.float64]:
    """CIEDE2000 with kL = kC = kH = 1.

    Parameters
    ----------
    lab1, lab2 : array_like, shape (..., 3)
        CIELAB of the standard and of the sample; shapes are broadcast.

    Returns
    -------
    ndarray, shape (...)

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
    """A tolerance that can be used.

    Parameters
    ----------
    tolerance : float
        Greatest CIEDE2000 that counts as a match.

    Raises
    ------
    ValueRefused
        Where it is not a finite number above 0.
    """
    if not math.isfinite(tolerance) or tolerance <= 0:
        raise ValueRefused(
            f"A tolerance of {tolerance:g} cannot be used: give a number above 0, "
            f"such as {USUAL_TOLERANCE}."
        )
    return float(tolerance)
