"""The grey card: what it is known to be, and the calibration that agrees with it."""

import math
from collections.abc import Sequence
from dataclasses import replace

import numpy as np
import scipy
from numpy.typing import NDArray

from tonematch.arrays import Array, Matrix3, Vector3
from tonematch.errors import CardError, ValueRefused
from tonematch.measure.area.noise import covariance_of_mean
from tonematch.measure.area.pixels import MIDDLE_GREY, Pixels, area_pixels, plain_pixels
from tonematch.measure.area.rounding import check_border, rounding_covariance
from tonematch.measure.calibration.aids import CARD_ALONE, Aids
from tonematch.measure.calibration.apply import balance_of, balanced_light, true_light
from tonematch.measure.calibration.camera_profile import (
    camera_of,
    check_gains,
    check_profile,
    profile_from_chart,
    remembered,
)
from tonematch.measure.calibration.card_checks import (
    check_card_exposure,
    check_colour,
    check_evenness,
    check_level,
    check_linear,
    evenness,
    steepest,
)
from tonematch.measure.calibration.colour_correction import balanced_for
from tonematch.measure.calibration.flat_field import LightFit, light_from_card
from tonematch.measure.calibration.neutrals import tone_and_light, wanted_light
from tonematch.measure.calibration.tone import Neutral, ToneFit, is_linear
from tonematch.measure.colour.convert import WHITE, lab_to_xyz
from tonematch.measure.core import Area, Calibration, CardValue, ToneCurve
from tonematch.photo.core import Photo
from tonematch.swatchbook import limits, swatch_table

# Nothing that is sold as a card reflects less; and the L* of that.
LEAST, LEAST_L = 0.001, 0.9
_TOO_FEW = "Too few pixels of the card can be used: mark a larger, plain part of it."


def card_from_reflectance(reflectance: float) -> CardValue:
    """A neutral card of known luminous reflectance; ValueRefused unless 0.001 to 1."""
    if not math.isfinite(reflectance) or not LEAST <= reflectance <= 1:
        raise ValueRefused(
            f"A card reflectance of {reflectance:g} cannot be: give a number from {LEAST:g} to 1, "
            "such as 0.18."
        )
    return CardValue(WHITE * reflectance, f"reflectance {reflectance:g}")


def card_from_lab(lab: Sequence[float]) -> CardValue:
    """A card whose colour was measured (D50, 2 degree).

    Raises ValueRefused unless these are three numbers, L* from 0.9 to 100, a* and b* within 30 of
    neutral.
    """
    values = np.asarray(lab, dtype=np.float64)
    words = ", ".join(f"{value:g}" for value in values.ravel())
    if values.shape != (3,) or not np.isfinite(values).all():
        raise ValueRefused(f"'{words}' is not a card's L*, a*, b*: give three numbers.")
    if not LEAST_L <= values[0] <= 100 or np.abs(values[1:]).max() > 30:
        raise ValueRefused(
            f"L*a*b* {words} is not that of a grey card: give L* from {LEAST_L:g} to 100, a* and "
            "b* within 30 of 0."
        )
    return CardValue(lab_to_xyz(values), f"L*a*b* {words}")


def usual_card(name: str = "grey") -> CardValue:
    """The white, grey or black card as it is taken to be where nobody said (cards.toml)."""
    value = card_from_reflectance(swatch_table("cards.toml")[name]["reflectance"])
    return replace(value, words=f"{value.words}, assumed")


def calibrate(photo: Photo, card: Area, value: CardValue, aids: Aids = CARD_ALONE) -> Calibration:
    """Make the picture agree with its card, and with whatever else of known value it holds.

    The covariance holds the card's noise (block means) and the change of light across the card,
    taken as a uniform distribution of that width (JCGM 100:2008, 4.3.7), and what is left in doubt
    of the tone curve and of the slope of the light.

    Raises
    ------
    CardError
        Where the card is too small, clipped, too dark, strongly coloured or uneven, a neutral
        cannot be read, or the chart or the profile does not fit the picture.
    PhotoError
        Where the plain sheet's picture cannot be used.
    AreaError
        Where an area reaches outside the picture.
    ValueRefused
        Where a reflectance is out of its range.
    """
    pixels, kept = _card_pixels(photo, card)
    raw = pixels.light[kept]
    warnings = check_colour(photo, raw.mean(axis=0))
    place = float(pixels.x[kept].mean()), float(pixels.y[kept].mean())
    developed = not is_linear(photo, aids.encoding)
    if aids.profile is not None and aids.chart is None:
        warnings += check_profile(photo, aids.profile)
        aids = replace(aids, profile=remembered(aids.profile, not developed))
    grey = Neutral("card", raw.mean(axis=0), wanted_light(photo, value.xyz), place)
    tone, light = tone_and_light(photo, grey, value, aids)
    # A curve is anchored at the card; beside its own white it tells the exposure.
    white = true_light(tone.curve, np.ones(3))
    warnings += check_level(
        true_light(tone.curve, pixels.light) / white, developed and not tone.measured
    )
    if developed and tone.measured:
        warnings += check_linear(_exponent(tone.curve, grey.light))
    profile = aids.profile
    if aids.chart is not None:
        profile = profile_from_chart(photo, aids.chart, tone, light.even)
    colours = profile if profile is not None and profile.patches else None
    balance, to_xyz = (colours.balance, colours.to_xyz) if colours else balance_of(photo)
    found = Calibration(
        gains=np.ones(3),
        relative_covariance=np.zeros((0, 0)),
        to_xyz=to_xyz,
        card=card,
        value=value,
        photo_sha256=photo.sha256,
        root_degree=colours.root_degree if colours else 1,
        balance=balance,
        tone=tone.curve,
        even=light.even,
        developed=developed,
        camera=camera_of(photo),
        space=photo.space,
        profile=profile,
    )
    pixels = replace(pixels, light=balanced_light(found, pixels.light, pixels.x, pixels.y))
    mean = pixels.light[kept].mean(axis=0)
    own, rounding = _noise(pixels, kept), _rounding(pixels, kept, raw, found)
    slope, uneven = evenness(pixels, kept, mean)
    gradient = steepest(slope)
    warnings += check_evenness(gradient, uneven, 1.0 - float(kept.mean()))
    warnings += check_border(photo, card)
    if not light.measured and _is_seen(slope.mean(axis=1), own):
        width = np.array([np.ptp(pixels.x), np.ptp(pixels.y)])
        light = light_from_card(photo, place, slope.mean(axis=1), width)
    gains = _wanted(photo, found) / mean
    warnings += [*tone.warnings, *light.warnings]
    if colours is not None:
        warnings += check_gains(gains, colours, same_picture=aids.chart is not None)
    return replace(
        found,
        gains=gains,
        relative_covariance=scipy.linalg.block_diag(
            own + rounding + np.outer(gradient, gradient) / 12.0, tone.covariance, light.covariance
        ),
        warnings=tuple(dict.fromkeys(warnings)),
        even=light.even,
        measured=_measured(tone, light, found.corrected),
    )


def _card_pixels(photo: Photo, card: Area) -> tuple[Pixels, NDArray[np.bool_]]:
    """Pixels of the card, and which of them are plain."""
    pixels = area_pixels(photo, card)
    check_card_exposure(pixels)
    level = np.median(pixels.light, axis=0)
    kept = plain_pixels(MIDDLE_GREY * pixels.light / level, pixels.clipped)
    if not kept.any():
        raise CardError(_TOO_FEW)
    return pixels, kept


def _wanted(photo: Photo, found: Calibration) -> Vector3:
    """Balanced light that the card should give."""
    xyz, own = found.value.xyz, found.balance @ wanted_light(photo, found.value.xyz)
    wanted = balanced_for(xyz, found.to_xyz, found.root_degree, own)
    if (wanted <= 0).any():
        raise CardError(
            f"A card of {found.value.words} lies outside the colours of this file's profile: "
            "check the card's value."
        )
    return wanted


def _noise(pixels: Pixels, kept: NDArray[np.bool_]) -> Matrix3:
    """Covariance of the logarithms of the card's mean balanced light, by its pixels' noise."""
    noise = covariance_of_mean(pixels.light[kept], pixels.block[kept])
    if noise is None:
        raise CardError(_TOO_FEW)
    mean = pixels.light[kept].mean(axis=0)
    return np.asarray(noise / np.outer(mean, mean))


def _rounding(pixels: Pixels, kept: NDArray[np.bool_], raw: Array, found: Calibration) -> Matrix3:
    """The same by the file's steps; `raw` is the light of the pixels kept as it was decoded."""
    mean, decoded = pixels.light[kept].mean(axis=0), raw.mean(axis=0)
    slope = _contrast(found.tone, decoded) * true_light(found.tone, decoded) / decoded
    by_code = found.balance * slope / mean[:, None]
    return np.asarray(by_code @ rounding_covariance(pixels, kept, raw) @ by_code.T)


def _is_seen(slope: Array, own: Matrix3) -> bool:
    """Whether the light's change over the card is more than the card's noise can feign.

    The slope of n values spread evenly over a width has 12 times the variance of their mean;
    three channels average it.
    """
    by_noise = math.sqrt(12.0 * float(np.diag(own).mean()) / 3.0)
    return bool(np.hypot(*slope) > max(limits("light")["card_slope_seen"], 4.0 * by_noise))


def _exponent(tone: ToneCurve, card: Vector3) -> float:
    """Of true over decoded light, from the card to what is eight times as light, or white."""
    bright = np.minimum(8.0 * card, 1.0)
    rise = np.log(true_light(tone, bright) / true_light(tone, card))
    return float(np.mean(rise / np.log(bright / card)))


def _contrast(tone: ToneCurve, light: Vector3) -> Vector3:
    """Slope of a tone curve on logarithms, per channel."""
    step = 0.01
    above, below = true_light(tone, light * (1 + step)), true_light(tone, light * (1 - step))
    return np.asarray(np.log(above / below) / np.log((1 + step) / (1 - step)))


def _measured(tone: ToneFit, light: LightFit, corrected: bool) -> frozenset[str]:
    """Causes of the uncertainty budget that were measured here."""
    found = {"tone": tone.measured, "light": light.measured, "camera": corrected}
    return frozenset(cause for cause, measured in found.items() if measured)
