"""From the original's reading to the repair's: the difference, its interval and the verdict.

Errors of the two readings are drawn together from their budgets (`uncertainty.budget`), CIEDE2000
is taken of each draw, and the interval is read off (`uncertainty.interval`). A fixed seed makes
the same photographs give the same answer every time.

References
----------
ISO/CIE 11664-6:2014, CIEDE2000. JCGM 101:2008, 5.3 and clause 7.
"""

import math
from collections.abc import Sequence

import numpy as np

from tonematch.arrays import Array
from tonematch.measure.area.areas import check_apart
from tonematch.measure.colour.difference import NEAR, USUAL_TOLERANCE, check_tolerance
from tonematch.measure.core import Comparison, Reading, Verdict
from tonematch.measure.uncertainty.budget import Errors, draw_errors, drawn_difference
from tonematch.measure.uncertainty.interval import NoisyDifference
from tonematch.measure.uncertainty.remedies import BY_EYE, narrowing, say_remedy
from tonematch.measure.uncertainty.two_photographs import budgets_of
from tonematch.measure.words import say_difference

DRAWS = 2000
SEED = 2014

# Narrower than this an interval cannot usefully be made: the eye decides.
_NARROW = 0.3


def compare(
    original: Reading,
    repair: Reading,
    tolerance: float = USUAL_TOLERANCE,
    same_calibration: bool | None = None,
) -> Comparison:
    """Compare a repair with the original.

    Parameters
    ----------
    tolerance : float, optional
        The greatest CIEDE2000 that counts as a match, above 0.
    same_calibration : bool, optional
        False to count card and light of the two as independent, and the camera's error as far as
        the card changed its colour; otherwise what the readings say: readings of one photograph
        share them.

    Returns
    -------
    Comparison
        Differences are repair minus original, as read. The verdict is "match" where the whole
        95 % interval lies within the tolerance, "no match" where it all lies beyond, else "too
        close to call".

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
    errors = draw_errors(budgets_of(original, repair, same_calibration), DRAWS, SEED)
    profiled = has_profiles(original, repair)
    return conclude(original, repair, errors, tolerance, profiled, same_calibration)


def conclude(
    original: Reading,
    repair: Reading,
    errors: Errors,
    tolerance: float,
    profiled: bool,
    same_calibration: bool | None,
) -> Comparison:
    """The comparison of two readings whose errors were drawn, as `compare` describes it.

    `profiled` tells whether a chart or a profile corrected the camera's colours in both.
    """
    difference = drawn_difference(original, repair, errors)
    verdict = _judge(difference.low, difference.high, tolerance)
    said = [
        say_difference(original.lab, repair.lab, tolerance),
        _advice(original, repair, difference, errors, verdict, profiled, same_calibration),
    ]
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
        words=" ".join(filter(None, said)),
        original=original,
        repair=repair,
        warnings=_warnings(original, repair, difference.value, profiled),
        covariance=np.cov(errors.whole[1] - errors.whole[0], rowvar=False),
    )


def lch_difference(
    lab1: Sequence[float] | Array, lab2: Sequence[float] | Array
) -> tuple[float, float, float, float]:
    """dL*, dC*ab, dhab and dH*ab from the first colour to the second (ISO/CIE 11664-4:2019).

    The difference of hue angle is in degrees, from -180 up to 180; dH*ab = 2 sqrt(C1 C2) sin(dh /
    2), with its sign.
    """
    L1, a1, b1 = (float(value) for value in lab1)
    L2, a2, b2 = (float(value) for value in lab2)
    C1, C2 = math.hypot(a1, b1), math.hypot(a2, b2)
    # A grey has no hue, and no turn to another's.
    turn = math.atan2(a1 * b2 - b1 * a2, a1 * a2 + b1 * b2) if C1 * C2 > 0.0 else 0.0
    delta_H = 2.0 * math.sqrt(C1 * C2) * math.sin(turn / 2.0)
    return L2 - L1, C2 - C1, math.degrees(turn), delta_H


def _judge(low: float, high: float, tolerance: float) -> Verdict:
    if high <= tolerance:
        return "match"
    return "no match" if low > tolerance else "too close to call"


def _advice(
    original: Reading,
    repair: Reading,
    difference: NoisyDifference,
    errors: Errors,
    verdict: Verdict,
    profiled: bool,
    same_calibration: bool | None,
) -> str:
    """What would narrow the interval most; empty where nothing needs to, or nothing is known."""
    width = difference.high - difference.low
    narrower = narrowing(original, repair, same_calibration, width)
    if verdict != "too close to call":
        return narrower
    start = "It is too close to call"
    if width < _NARROW:
        return f"{start}: {BY_EYE}."
    if narrower:
        return f"{start}. {narrower}"
    return f"{start}: {say_remedy(original, repair, errors, profiled)}"


def _warnings(
    original: Reading, repair: Reading, difference: float, profiled: bool
) -> tuple[str, ...]:
    said: list[str] = []
    two = original.photo_sha256 != repair.photo_sha256
    for role, reading in (("original", original), ("repair", repair)):
        of_card = () if reading.calibration is None else reading.calibration.warnings
        where = f"Photograph of the {role}: " if two else ""
        said += [f"{where}{warning}" for warning in (*of_card, *reading.warnings)]
    if two and not profiled:
        said.append(
            "Original and repair come from two photographs: what they differ by holds only where "
            "lamp and camera were the same, its white balance locked; else have a chart in both."
        )
    if difference > NEAR:
        said.append("So large a difference has no exact number: go by the words.")
    return tuple(dict.fromkeys(said))


def has_profiles(*readings: Reading) -> bool:
    """Whether the camera's colours were corrected in every reading, by a chart or its profile."""
    calibrations = [reading.calibration for reading in readings]
    return all(known is not None and known.corrected for known in calibrations)
