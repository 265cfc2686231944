"""Everything of known grey in a picture, read for the tone curve and the evenness of light.

The two depend on each other: light on a neutral elsewhere is compared with that on the card
once the tone curve is known, and the curve from neutrals once the light on them is. Two rounds
settle both. The greys of a chart lie in one light, which may not be the card's: they are compared
among themselves.
"""

import math
from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from tonematch.arrays import Vector3
from tonematch.errors import CardError, ValueRefused
from tonematch.measure.area.pixels import MIDDLE_GREY, area_pixels, plain_pixels
from tonematch.measure.calibration.aids import Aids
from tonematch.measure.calibration.apply import light_share, true_light
from tonematch.measure.calibration.card_checks import check_order
from tonematch.measure.calibration.chart import Chart, grey_patches, patch_light, patch_place
from tonematch.measure.calibration.flat_field import LightFit, light_from_cards, light_from_sheet
from tonematch.measure.calibration.tone import (
    LightRatios,
    Neutral,
    ToneFit,
    conditioned,
    neutral_ratios,
    unseen_curve,
)
from tonematch.measure.colour.convert import WHITE
from tonematch.measure.core import Area, CardValue, EvenLight
from tonematch.photo.core import Photo
from tonematch.swatchbook import limits

_ROUNDS = 2
_ANCHOR = "neutral 5 (.70 D)"


def wanted_light(photo: Photo, xyz: Vector3) -> Vector3:
    """Linear RGB of a known XYZ by the photo's own matrix."""
    return np.asarray(np.linalg.solve(photo.to_xyz, xyz), dtype=np.float64)


def read_neutral(photo: Photo, area: Area, xyz: Vector3) -> Neutral:
    """Read a neutral that is known to have this XYZ.

    Raises CardError where it is too small, clipped or black, AreaError where it reaches outside the
    picture.
    """
    pixels = area_pixels(photo, area)
    if len(pixels.light) < limits("area")["fewest_pixels"]:
        raise CardError(f"'{area.name}' has {len(pixels.light)} pixels only: mark a larger part.")
    share = float(pixels.clipped.mean())
    if share > limits("tone")["clipped_refused"]:
        raise CardError(
            f"'{area.name}' is overexposed ({100 * share:.0f} % of it is clipped): "
            "photograph again with less exposure, or leave it out."
        )
    level = np.median(pixels.light, axis=0)
    if level.min() <= 0:
        raise CardError(
            f"'{area.name}' is black in the picture: photograph with more exposure, "
            "or leave it out."
        )
    plain = plain_pixels(MIDDLE_GREY * pixels.light / level, pixels.clipped)
    # A deep shadow has so few code values that the rule for glare may leave nothing of it.
    kept = plain if plain.mean() > 0.5 else ~pixels.clipped
    return Neutral(
        area.name,
        pixels.light[kept].mean(axis=0),
        wanted_light(photo, xyz),
        (float(pixels.x[kept].mean()), float(pixels.y[kept].mean())),
    )


def tone_and_light(
    photo: Photo, card: Neutral, value: CardValue, aids: Aids
) -> tuple[ToneFit, LightFit]:
    """Tone curve and evenness of light, by the card as read and what it is known to be.

    The curve is the profile's, else the file's, as the chart's greys and the neutrals bend it; the
    light is known from the sheet, or else from the further cards, or else not.
    """
    greys = [
        read_neutral(photo, area, WHITE * _reflectance(share)) for area, share in aids.neutrals
    ]
    for grey, (area, share) in zip(greys, aids.neutrals, strict=True):
        check_order(grey.light, card.light, share / float(value.xyz[1]), area.name)
    further = [read_neutral(photo, area, value.xyz) for area in aids.cards]
    of_chart = [] if aids.chart is None else _chart_greys(photo, aids.chart)
    light = LightFit()
    before = tone = _curve_before(photo, card, aids)
    for _ in range(_ROUNDS):
        tone = conditioned(before, _ratios([card, *greys], light), _ratios(of_chart, light))
        if aids.flat_field is not None:
            light = light_from_sheet(photo, card.place, aids.flat_field, tone.curve)
        elif further:
            light = light_from_cards(
                photo, card.place, [(grey.place, _ratio(grey, card, tone)) for grey in further]
            )
        if not greys and not of_chart:
            break
    return tone, light


def _curve_before(photo: Photo, card: Neutral, aids: Aids) -> ToneFit:
    """The curve before the neutrals here: a remembered one, or the file's."""
    if aids.profile is None or aids.chart is not None:
        return unseen_curve(photo, aids.encoding, card.light)
    return ToneFit(replace(aids.profile.tone, anchor=card.light), aids.profile.tone_covariance)


def _ratios(greys: Sequence[Neutral], light: LightFit) -> LightRatios | None:
    """What greys in one light say of the curve, the first one as their anchor."""
    lit = [_lit(grey, light.even) for grey in greys]
    return neutral_ratios(lit[0], lit[1:]) if len(lit) > 1 else None


def _lit(neutral: Neutral, even: EvenLight | None) -> Neutral:
    """What a neutral should give in the light that falls on it."""
    share: Vector3 = np.ones(3)
    if even is not None:
        share = light_share(even, *np.array(neutral.place)[:, None])[0]
    return replace(neutral, wanted=neutral.wanted * share)


def _ratio(grey: Neutral, card: Neutral, tone: ToneFit) -> Vector3:
    """Light on a further card beside that on the first."""
    lights = true_light(tone.curve, np.stack([grey.light, card.light]))
    return np.asarray((lights[0] / grey.wanted) / (lights[1] / card.wanted))


def _chart_greys(photo: Photo, chart: Chart) -> list[Neutral]:
    """Greys of the chart, the middle one first."""
    light = patch_light(photo, chart)
    names = sorted(grey_patches(), key=lambda name: name != _ANCHOR)
    return [
        Neutral(
            name,
            light[name],
            wanted_light(photo, chart.xyz[name]),
            patch_place(chart.patches[name]),
        )
        for name in names
        if name in light and (light[name] > 0).all()
    ]


def _reflectance(value: float) -> float:
    if not math.isfinite(value) or not 0 < value <= 1:
        raise ValueRefused(
            f"A neutral's reflectance of {value:g} cannot be: give a number above 0 and up to 1."
        )
    return value
