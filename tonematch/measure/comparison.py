"""From the original's reading to the repair's: the difference, its interval and the verdict."""

import math
from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from tonematch.measure.areas import check_apart
from tonematch.measure.core import Comparison, Matrix3, Reading, Verdict
from tonematch.measure.difference import DEFAULT_TOLERANCE, check_tolerance
from tonematch.measure.interval import NoisyDifference, noisy_difference
from tonematch.measure.words import say_difference
from tonematch.photo.limits import limits

_DRAWS = 2000
_SEED = 2014

# Narrower than this an interval cannot usefully be made: the eye decides.
_NARROW = 0.3


def compare(
    original: Reading,
    repair: Reading,
    tolerance: float = DEFAULT_TOLERANCE,
    same_calibration: bool | None = None,
) -> Comparison:
    """Compare a repair with the original.

    Parameters
    ----------
    original, repair : Reading
    tolerance : float, optional
        The greatest CIEDE2000 that counts as a match, above 0.
    same_calibration : bool, optional
        Whether both were read with one calibration, whose error they then share: it is drawn
        once for both. Found from the readings unless given.

    Returns
    -------
    Comparison
        Differences are repair minus original. The verdict is "match" where the whole interval
        lies within the tolerance, "no match" where it all lies beyond, else "too close to
        call".

    Raises
    ------
    ValueRefused
        Where the tolerance is not a finite number above 0.
    AreaError
        Where the areas overlap in one photograph.
    """
    tolerance = check_tolerance(tolerance)
    if original.photo_sha256 == repair.photo_sha256:
        check_apart(original.area, repair.area)
    if same_calibration is None:
        same_calibration = _share_calibration(original, repair)
    noise = _draw_noise(original, repair, same_calibration)
    difference = noisy_difference(original.lab, repair.lab, *noise)
    verdict = _judge(difference.low, difference.high, tolerance)
    words = say_difference(original.lab, repair.lab, tolerance)
    if verdict == "too close to call":
        words = f"{words} {_what_would_settle(original, repair, difference, noise)}"
    delta_L, delta_C, delta_h, delta_H = lch_difference(original.lab, repair.lab)
    return Comparison(
        delta_e=difference.value,
        interval=(difference.low, difference.high),
        delta_L=delta_L,
        delta_C=delta_C,
        delta_h=delta_h,
        delta_H=delta_H,
        tolerance=tolerance,
        verdict=verdict,
        words=words,
        original=original,
        repair=repair,
        warnings=_warnings(original, repair, difference.value),
    )


def lch_difference(
    lab1: Sequence[float] | NDArray[np.float64], lab2: Sequence[float] | NDArray[np.float64]
) -> tuple[float, float, float, float]:
    """dL*, dC*ab, dh and dH*ab from the first colour to the second.

    Parameters
    ----------
    lab1, lab2 : array_like, shape (3,)

    Returns
    -------
    tuple of four float
        Hue angle difference in degrees, from -180 up to 180; dH*ab with its sign.

    References
    ----------
    ISO/CIE 11664-4:2019.
    """
    L1, a1, b1 = (float(value) for value in lab1)
    L2, a2, b2 = (float(value) for value in lab2)
    C1, C2 = math.hypot(a1, b1), math.hypot(a2, b2)
    turn = math.atan2(a1 * b2 - b1 * a2, a1 * a2 + b1 * b2)
    delta_H = 2.0 * math.sqrt(C1 * C2) * math.sin(turn / 2.0)
    return L2 - L1, C2 - C1, math.degrees(turn), delta_H


def _share_calibration(original: Reading, repair: Reading) -> bool:
    one, other = original.calibration, repair.calibration
    if one is None or other is None:
        return False
    return one is other or (one.photo_sha256, one.card.corners) == (
        other.photo_sha256,
        other.card.corners,
    )


def _draw_noise(
    original: Reading, repair: Reading, shared: bool
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Errors of both readings, row by row; JCGM 101:2008, 5.1 and 6.4.8."""
    random = np.random.default_rng(_SEED)
    calibration = original.calibration if shared else None
    by_card = np.zeros((_DRAWS, 0))
    if calibration is not None:
        by_card = random.standard_normal((_DRAWS, len(calibration.relative_covariance)))
    drawn = []
    for reading in (original, repair):
        own = random.standard_normal((_DRAWS, 3))
        if calibration is not None and reading.by_calibration is not None:
            root = reading.by_calibration @ _root(calibration.relative_covariance)
            drawn.append(own @ _root(reading.own_covariance).T + by_card @ root.T)
        else:
            drawn.append(own @ _root(reading.covariance).T)
    return drawn[0], drawn[1]


def _root(covariance: Matrix3) -> Matrix3:
    """A square root of a covariance, also of a singular one."""
    values, vectors = np.linalg.eigh(covariance)
    return np.asarray(vectors * np.sqrt(np.maximum(values, 0.0)))


def _judge(low: float, high: float, tolerance: float) -> Verdict:
    if high <= tolerance:
        return "match"
    return "no match" if low > tolerance else "too close to call"


def _what_would_settle(
    original: Reading,
    repair: Reading,
    difference: NoisyDifference,
    noise: tuple[NDArray[np.float64], NDArray[np.float64]],
) -> str:
    """The measure that would narrow the interval most."""
    start = "It is too close to the tolerance to call:"
    if difference.high - difference.low < _NARROW:
        return f"{start} let the eye decide, in the light where the piece will hang."
    own = float(np.trace(original.own_covariance) + np.trace(repair.own_covariance))
    if own < (noise[1] - noise[0]).var(axis=0).sum() / 2.0:
        return f"{start} mark more of the card, light it evenly, and have it beside both areas."
    weaker = max(original, repair, key=lambda reading: float(np.trace(reading.own_covariance)))
    return (
        f"{start} mark a larger or more even part as '{weaker.area.name}', or photograph again "
        "from nearer and with more light."
    )


def _warnings(original: Reading, repair: Reading, difference: float) -> tuple[str, ...]:
    said: list[str] = []
    for reading in (original, repair):
        if reading.calibration is not None:
            said += reading.calibration.warnings
        said += reading.warnings
    if difference > limits("comparison")["beyond_formula"]:
        said.append(
            "CIEDE2000 is meant for differences up to about 5: beyond, take the number as large, "
            "and go by the words."
        )
    return tuple(dict.fromkeys(said))
