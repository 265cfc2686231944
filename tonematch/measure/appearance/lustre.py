"""Body colour and lustre of one spot, from several pictures with the lamp moved between them.

Gold is a mirror as much as a colour. With the camera fixed and the lamp in three places or
more, every pixel shows gleam under some lamps and its body under the others: the median over
the lamps is the **body colour**, which is the colour off the mirror direction, and how far the
brightness rises above it, under how few of the lamps, is the **lustre**.

Photographic stops (factors of two in light) measure the rise, since both the eye and a
photographer count light in ratios.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from tonematch.arrays import Array
from tonematch.errors import ReadingError
from tonematch.measure.appearance.alignment import Overlay
from tonematch.measure.area.noise import covariance_of_mean
from tonematch.measure.area.pixels import Pixels, plain_pixels
from tonematch.measure.calibration.apply import (
    balanced_light,
    calibrated_xyz,
    light_before_tone,
    light_share,
)
from tonematch.measure.core import Area, Calibration, Reading
from tonematch.measure.reading.reading import read_pixels
from tonematch.swatchbook import limits

_GLEAM = 0.98


@dataclass(frozen=True, eq=False)
class Lustre:
    """How a surface gleams as the lamp is moved.

    Attributes
    ----------
    rise : float
        Peak over body in stops: log2 of the mean over pixels of the brightest light, over that
        of the median light. From fewer lights than three, how far the brightest 2 % of the
        pixels rise above the middle one: the glitter of that picture, which depends on where
        the lamp happened to stand.
    rise_deviation : float
        Standard deviation of `rise` from the area's own unevenness.
    share : float
        Share of lights, 0 to 1, under which a pixel is brighter than half way from body to
        peak, mean over pixels: the smaller, the narrower the gleam.
    share_deviation : float
        Standard deviation of `share`.
    clipped : float
        Share of pixels whose peak is clipped; their rise is at least what is stated.
    above_body : tuple of float
        By light, how far the area as a whole is brighter than its body, in stops; empty from too
        few lights.
    by_light : tuple of Reading or None
        The area as it reads in each picture by itself; None where it cannot be read there,
        in the mirror direction above all.
    body : Reading
        The body colour: off the mirror direction. Its `lustre` is `rise`, and None where that is
        not known: from too few lights, or where the peak is clipped.
    """

    rise: float
    rise_deviation: float
    share: float
    share_deviation: float
    clipped: float
    above_body: tuple[float, ...]
    by_light: tuple[Reading | None, ...]
    body: Reading
    warnings: tuple[str, ...] = ()


def lustre_of(laid: Overlay, area: Area, calibrations: Sequence[Calibration]) -> Lustre:
    """Lustre of an area whose pixels in every picture lie over one another.

    One or two pictures give no more than the note that `Lustre.rise` tells of. Raises ReadingError
    where the area cannot be read, AreaError where it overlaps a card.
    """
    by_light = tuple(
        _read_one(pixels, area, calibration)
        for pixels, calibration in zip(laid.pixels, calibrations, strict=True)
    )
    if len(laid.pixels) < limits("lustre")["fewest_lights"]:
        body = read_pixels(laid.pixels[0], area, calibrations[0])
        rise, clipped = _glitter(laid, calibrations)
        return Lustre(rise, math.nan, math.nan, math.nan, clipped, (), by_light, body)
    body = _body(laid, area, calibrations)
    luminance, clipped_pixels = _luminance(laid, calibrations)
    pixels = laid.pixels[0]
    middle, peak = np.median(luminance, axis=0), luminance.max(axis=0)
    above = (luminance > (middle + peak) / 2.0).mean(axis=0)
    # Counted from 1, since the covariance is found of shares of the mean, which may be 0 here.
    columns = np.stack([middle, peak, 1.0 + above], axis=-1)
    places = np.stack([pixels.x, pixels.y], axis=-1)
    mean, covariance = columns.mean(axis=0), covariance_of_mean(columns, pixels.block, places)
    if covariance is None or mean[0] <= 0:
        raise ReadingError(f"Too little of '{area.name}' can be used: mark a larger area.")
    slope = np.array([-1.0 / mean[0], 1.0 / mean[1]]) / math.log(2.0)
    share_clipped = float(clipped_pixels.any(axis=0).mean())
    warnings = laid.warnings
    if share_clipped > limits("lustre")["clipped_warned"]:
        warnings += (
            f"The gleam of '{area.name}' is clipped in {100 * share_clipped:.0f} % of its pixels, "
            "so it rises further than can be told: photograph with less exposure.",
        )
    rise = math.log2(mean[1] / mean[0])
    if share_clipped <= limits("lustre")["clipped_warned"]:
        body = replace(body, lustre=rise)
    return Lustre(
        rise=rise,
        rise_deviation=math.sqrt(float(slope @ covariance[:2, :2] @ slope)),
        share=float(mean[2]) - 1.0,
        share_deviation=math.sqrt(float(covariance[2, 2])),
        clipped=share_clipped,
        above_body=tuple(float(stops) for stops in np.log2(luminance.mean(axis=1) / mean[0])),
        by_light=by_light,
        body=body,
        warnings=warnings,
    )


def _body(laid: Overlay, area: Area, calibrations: Sequence[Calibration]) -> Reading:
    """Body colour of an area: as it reads off the mirror direction.

    The per-pixel median over the lights, channel by channel in calibrated linear light; what is
    glare in more than half of the lights is left out by the rule of `read_area`. Its calibration is
    the middle of those given, and as uncertain as one of them, since the light at the card and at
    the area may differ in every picture alike.
    """
    first = calibrations[0]
    balanced, calm, glare = zip(*map(_without_glare, laid.pixels, calibrations), strict=True)
    # What gleams under most lamps is no passing glint: it is left as it is, to be counted.
    always = np.mean(glare, axis=0)[:, None] > 0.5
    body = np.where(always, np.median(balanced, axis=0), np.median(calm, axis=0))
    pixels = laid.pixels[0]
    decoded = decoded_light(first, body, pixels.x, pixels.y)
    decoded[np.mean([one.clipped for one in laid.pixels], axis=0) > 0.5] = 1.0
    white = np.asarray((decoded >= limits("pixel")["clipped_code"]).any(axis=-1))
    pooled = replace(
        first,
        relative_covariance=_mean_covariance(calibrations),
        warnings=tuple(dict.fromkeys(w for c in calibrations for w in c.warnings)),
    )
    median = replace(pixels, light=decoded, clipped=white, decoders=None)
    reading = read_pixels(median, area, pooled)
    return replace(reading, warnings=laid.warnings + reading.warnings)


def decoded_light(calibration: Calibration, balanced: Array, x: Array, y: Array) -> Array:
    """What a photo of this calibration would hold where it reads `balanced`.

    The inverse of `balanced_light`, with its parameters.
    """
    light = np.asarray((balanced / calibration.gains) @ np.linalg.inv(calibration.balance).T)
    if calibration.even is not None:
        light = light * light_share(calibration.even, x, y)
    return light_before_tone(calibration.tone, light)


def _mean_covariance(calibrations: Sequence[Calibration]) -> Array:
    """Mean covariance of those that have the first one's parameters."""
    first = calibrations[0].relative_covariance
    alike = [
        c.relative_covariance for c in calibrations if c.relative_covariance.shape == first.shape
    ]
    return np.asarray(np.mean(alike, axis=0))


def _without_glare(
    pixels: Pixels, calibration: Calibration
) -> tuple[Array, Array, NDArray[np.bool_]]:
    """Balanced light of an area under one lamp, the same without glare, and where that was.

    Glare is replaced by the area's own median in that light: a glint lifts a pixel past the other
    lights, so that even a median over them would move up by one; with the area's own level in its
    place the order is kept.
    """
    balanced = balanced_light(calibration, pixels.light, pixels.x, pixels.y)
    plain = plain_pixels(balanced, pixels.clipped)
    level = np.median(balanced[plain], axis=0) if plain.any() else np.median(balanced, axis=0)
    glare = ~plain & (pixels.clipped | (balanced.mean(axis=-1) > level.mean()))
    return balanced, np.where(glare[:, None], level, balanced), np.asarray(glare)


def _read_one(pixels: Pixels, area: Area, calibration: Calibration) -> Reading | None:
    try:
        return read_pixels(pixels, area, calibration)
    except ReadingError:
        return None


def _luminance(
    laid: Overlay, calibrations: Sequence[Calibration]
) -> tuple[Array, NDArray[np.bool_]]:
    """Calibrated luminance and clipping of the area's pixels per light, both (n, p)."""
    luminance = [
        calibrated_xyz(c, balanced_light(c, p.light, p.x, p.y))[:, 1]
        for p, c in zip(laid.pixels, calibrations, strict=True)
    ]
    return np.stack(luminance), np.stack([p.clipped for p in laid.pixels])


def _glitter(laid: Overlay, calibrations: Sequence[Calibration]) -> tuple[float, float]:
    luminance, clipped = _luminance(laid, calibrations)
    middle, bright = np.quantile(luminance, [0.5, _GLEAM])
    return math.log2(max(bright, 1e-9) / max(middle, 1e-9)), float(clipped.any(axis=0).mean())
