"""What would settle a comparison that is too close to call: the largest cause and its remedy.

What white and black cards or a raw file would do for it is reckoned (`narrowing`).
"""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace

import numpy as np

from tonematch.arrays import Array
from tonematch.measure.calibration.card import usual_card
from tonematch.measure.calibration.tone import (
    Neutral,
    ToneFit,
    foreseen_covariance,
    neutral_ratios,
)
from tonematch.measure.calibration.tone_prior import prior_covariance
from tonematch.measure.colour.difference import delta_e_2000
from tonematch.measure.core import Calibration, Reading
from tonematch.measure.uncertainty.budget import (
    Errors,
    draw_errors,
    drawn_difference,
    metamerism_covariance,
    shared_covariance,
)
from tonematch.measure.uncertainty.interval import half_width_95
from tonematch.measure.uncertainty.two_photographs import budgets_of
from tonematch.measure.words import capital
from tonematch.photo.core import SENSOR

BY_EYE = "let the eye decide, in the light where the piece will hang"
# A cause that nothing settles needs no entry: the eye decides.
_REMEDIES = {
    "noise": "noise counts most; photograph again with more light, and combine the two",
    "light": "uneven light counts most; have a second card in the picture, or photograph a plain "
    "sheet in the same light",
    "light of two": "the light of two separate photographs counts most; have original and repair "
    "in one photograph",
    "tone": "the tone curve counts most; have white and black cards beside the grey one",
    "tone with cards": f"what the cards leave of the tone curve counts most; {BY_EYE}",
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


_Changed = Callable[[Calibration], Calibration]

# An interval that gets narrower by less is not worth a sentence: half of what an eye just notices.
_WORTH = 0.5
_CASES, _SEED = 1000, 11


def narrowing(
    original: Reading, repair: Reading, same_calibration: bool | None, width: float
) -> str:
    """What would narrow the interval of a difference read from a rendered picture, and to what.

    The interval is reckoned anew as if the pictures had held white and black cards as well, and as
    if they had been raw files: how unsure a tone curve stays hangs on where its neutrals lie, not
    on what is read of them. `width` is that of the interval as it is. Empty where a chart was
    there, or nothing would help enough.
    """

    def known(changed: _Changed) -> tuple[float, str]:
        low, high = _interval_if(changed, original, repair, same_calibration)
        return high - low, f"between {low:.1f} and {high:.1f}"

    return _say_ways((original, repair), width, known, "the difference would be known to lie")


def narrowing_of_one(name: str, reading: Reading) -> str:
    """The same of the L* of one reading: how far off it may be, and with what by how much less."""

    def known(changed: _Changed) -> tuple[float, str]:
        within = _lightness_within(_by(changed, reading))
        return within, f"within ± {within:.1f}"

    now = _lightness_within(reading)
    return _say_ways((reading,), now, known, f"the L* of {name} would be known")


def _say_ways(
    readings: Sequence[Reading],
    now: float,
    known: Callable[[_Changed], tuple[float, str]],
    first: str,
) -> str:
    """One sentence of the ways that are worth it, the best first and told in full."""
    found = sorted((*known(changed), way) for way, changed in _ways(*readings).items())
    worth = [(way, told) for width, told, way in found if width < now - _WORTH]
    if not worth:
        return ""
    (best, told), *others = worth
    return capital(", ".join([f"{best} {first} {told}", *(" ".join(one) for one in others)])) + "."


def _ways(*readings: Reading) -> Mapping[str, _Changed]:
    """What would make readings of rendered pictures surer; none where a chart was there."""
    if not all(_rendered(one.calibration) for one in readings):
        return {}
    ways = {"from the camera's raw or DNG file": _from_raw}
    if not _greys_known(*readings):
        ways["with white and black cards beside the grey one"] = _with_three_tones
    return ways


def _lightness_within(reading: Reading) -> float:
    """Half the 95 % interval of L*, by all causes."""
    return float(half_width_95(reading.own_covariance + shared_covariance(reading))[0])


def _by(changed: _Changed, reading: Reading) -> Reading:
    return replace(reading, calibration=reading.calibration and changed(reading.calibration))


def _interval_if(
    changed: _Changed,
    original: Reading,
    repair: Reading,
    same_calibration: bool | None,
) -> tuple[float, float]:
    """The interval as it would be by another calibration of the same readings."""
    one, other = _by(changed, original), _by(changed, repair)
    errors = draw_errors(budgets_of(one, other, same_calibration), _CASES, _SEED)
    found = drawn_difference(original, repair, errors)
    return found.low, found.high


def _rendered(calibration: Calibration | None) -> bool:
    """Whether the picture was developed to please, and no chart tells how."""
    if calibration is None or not len(calibration.tone.weights):
        return False
    return calibration.rendered and calibration.profile is None


def _greys_known(*readings: Reading) -> bool:
    """Whether more than the card told the tones of every picture."""
    return all(one.calibration and "tone" in one.calibration.measured for one in readings)


def _with_three_tones(calibration: Calibration) -> Calibration:
    """As if white and black cards lay in the light of the card."""
    curve, grey = calibration.tone, float(calibration.value.xyz[1])

    def card(reflectance: float) -> Neutral:
        light = curve.anchor * reflectance / grey
        return Neutral("", light, np.full(3, reflectance), (0.0, 0.0))

    others = [card(float(usual_card(name).xyz[1])) for name in ("white", "black")]
    before = ToneFit(curve, prior_covariance(linear=False))
    return _with_tone(calibration, foreseen_covariance(before, neutral_ratios(card(grey), others)))


def _from_raw(calibration: Calibration) -> Calibration:
    return replace(_with_tone(calibration, prior_covariance(linear=True)), space=SENSOR)


def _with_tone(calibration: Calibration, tone: Array) -> Calibration:
    covariance = calibration.relative_covariance.copy()
    curve = slice(3, 3 + len(tone))
    covariance[curve, curve] = tone
    return replace(calibration, relative_covariance=covariance)


def uncertainty_by_cause(original: Reading, repair: Reading, errors: Errors) -> dict[str, float]:
    """Standard uncertainty of CIEDE2000 by each cause alone, the largest first.

    JCGM 101:2008, annex B: one input at a time.
    """
    found = {
        name: float(delta_e_2000(original.lab + drawn[0], repair.lab + drawn[1]).std())
        for name, drawn in errors.by_cause.items()
    }
    return dict(sorted(found.items(), key=lambda item: -item[1]))


def say_remedy(original: Reading, repair: Reading, errors: Errors, profiled: bool) -> str:
    """Name the largest cause of the interval, and its remedy; goes on after a colon.

    `profiled` tells whether a chart or a profile corrected the camera's colours in both.
    """
    largest = next(iter(uncertainty_by_cause(original, repair, errors)))
    if largest == "area":
        return _of_area(original, repair, errors)
    two = original.photo_sha256 != repair.photo_sha256
    if two and largest in ("card", "light"):
        largest = f"{largest} of two"
    elif largest == "card" and (_greys_known(original) or _greys_known(repair)):
        largest = "card and greys"
    elif largest == "tone" and _greys_known(original, repair):
        largest = "tone with cards"
    elif largest == "camera" and profiled:
        largest = "camera with a chart"
    return f"{_REMEDIES.get(largest, f'{largest} counts most; {BY_EYE}')}."


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
