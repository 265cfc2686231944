"""What would settle a comparison that is too close to call: the largest cause and its remedy."""

import numpy as np

from tonematch.measure.colour.difference import delta_e_2000
from tonematch.measure.core import Reading
from tonematch.measure.uncertainty.budget import Errors, metamerism_covariance

BY_EYE = "let the eye decide, in the light where the piece will hang"
# A cause that nothing settles needs no entry: the eye decides.
_REMEDIES = {
    "noise": "noise counts most; photograph again with more light, and combine the two",
    "light": "uneven light counts most; have a second card in the picture, or photograph a plain "
    "sheet in the same light",
    "light of two": "the light of two separate photographs counts most; have original and repair "
    "in one photograph",
    "tone": "the tone curve counts most; mark further neutrals, such as white and black",
    "camera": "the camera's own colours count most; have a chart in the picture, or use a saved "
    "profile of this camera and lamp",
    "camera with a chart": f"what the chart leaves of the camera's error counts most; {BY_EYE}",
    "card": "the card counts most; mark more of it, and light it evenly",
    "card and greys": "the card and the other greys count most; mark more of each of them",
    "card of two": "the cards of two separate photographs count most; have original and repair in "
    "one photograph",
    "metamerism": f"a camera may see two surfaces of one colour apart; {BY_EYE}",
    "rest": "a reading without its photograph counts most; photograph original and repair anew, "
    "with the card",
    "repeat": "the photographs disagree most of all; keep lamp and camera where they are, and "
    "take them again",
}


def uncertainty_by_cause(original: Reading, repair: Reading, errors: Errors) -> dict[str, float]:
    """How much each cause of error moves the difference.

    Parameters
    ----------
    errors : Errors
        Of the original and of the repair.

    Returns
    -------
    dict of str to float
        Standard uncertainty of CIEDE2000 by each cause alone, the largest first (JCGM
        101:2008, annex B: one input at a time).
    """
    found = {
        name: float(delta_e_2000(original.lab + drawn[0], repair.lab + drawn[1]).std())
        for name, drawn in errors.by_cause.items()
    }
    return dict(sorted(found.items(), key=lambda item: -item[1]))


def say_remedy(original: Reading, repair: Reading, errors: Errors, profiled: bool) -> str:
    """Name the largest cause of the interval, and its remedy.

    Parameters
    ----------
    errors : Errors
        Of the original and of the repair.
    profiled : bool
        Whether a chart or a profile corrected the camera's colours in both.

    Returns
    -------
    str
        Goes on after a colon; one sentence.
    """
    largest = next(iter(uncertainty_by_cause(original, repair, errors)))
    if largest == "area":
        return _of_area(original, repair, errors)
    two = original.photo_sha256 != repair.photo_sha256
    if two and largest in ("card", "light"):
        largest = f"{largest} of two"
    elif largest == "card" and (_has_greys(original) or _has_greys(repair)):
        largest = "card and greys"
    elif largest == "camera" and profiled:
        largest = "camera with a chart"
    return f"{_REMEDIES.get(largest, f'{largest} counts most; {BY_EYE}')}."


def _has_greys(reading: Reading) -> bool:
    """Whether more than the card was measured."""
    return reading.calibration is not None and "tone" in reading.calibration.measured


def _of_area(original: Reading, repair: Reading, errors: Errors) -> str:
    drawn = errors.by_cause["area"]
    size = drawn.var(axis=1).sum(axis=1)
    metamerism = sum(float(np.trace(metamerism_covariance(one.lab))) for one in (original, repair))
    if metamerism > size.sum() / 2.0:
        return f"{_REMEDIES['metamerism']}."
    weaker = original if size[0] >= size[1] else repair
    return (
        f"noise and mottle of '{weaker.area.name}' count most; mark a larger or more even part "
        "of it, or photograph from nearer."
    )
