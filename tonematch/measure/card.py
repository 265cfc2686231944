"""The grey card: what it is known to be, and the gains that make the picture agree with it."""

import math
import tomllib
from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from tonematch.errors import CardError, ValueRefused
from tonematch.measure.convert import WHITE, lab_to_xyz, xyz_to_lab
from tonematch.measure.core import Area, Calibration, CardValue, Matrix3, Vector3
from tonematch.measure.pixels import (
    Pixels,
    area_pixels,
    block_means,
    covariance_of_mean,
    plain_pixels,
    rounding_variance,
)
from tonematch.photo.core import Photo
from tonematch.photo.limits import limits
from tonematch.swatchbook import swatch_path


def card_from_reflectance(reflectance: float) -> CardValue:
    """A neutral card of known reflectance.

    Parameters
    ----------
    reflectance : float
        Luminous reflectance, above 0 and at most 1.

    Returns
    -------
    CardValue

    Raises
    ------
    ValueRefused
        Where it is out of that range.
    """
    if not math.isfinite(reflectance) or not 0 < reflectance <= 1:
        raise ValueRefused(
            f"A card reflectance of {reflectance:g} cannot be: give a number above 0 and up to "
            "1, such as 0.18."
        )
    return CardValue(WHITE * reflectance, f"reflectance {reflectance:g}")


def card_from_lab(lab: Sequence[float]) -> CardValue:
    """A card whose colour was measured.

    Parameters
    ----------
    lab : sequence of three float
        L*, a*, b* for D50, 2 degree; L* above 0 and up to 100, a* and b* within 30 of neutral.

    Returns
    -------
    CardValue

    Raises
    ------
    ValueRefused
        Where these are not three numbers in range.
    """
    values = np.asarray(lab, dtype=np.float64)
    words = ", ".join(f"{value:g}" for value in values.ravel())
    if values.shape != (3,) or not np.isfinite(values).all():
        raise ValueRefused(f"'{words}' is not a card's L*, a*, b*: give three numbers.")
    if not 0 < values[0] <= 100 or np.abs(values[1:]).max() > 30:
        raise ValueRefused(
            f"L*a*b* {words} is not that of a grey card: L* must be above 0 and up to 100, "
            "a* and b* near 0."
        )
    return CardValue(lab_to_xyz(values), f"L*a*b* {words}")


def usual_card() -> CardValue:
    """The card that is taken for granted where none was stated: ``swatches/cards.toml``."""
    with swatch_path("cards.toml").open("rb") as file:
        table = tomllib.load(file)
    named = {card["name"]: card for card in table["card"]}
    return card_from_reflectance(named[table["default"]]["reflectance"])


def calibrate(photo: Photo, card: Area, value: CardValue) -> Calibration:
    """Gains with which the card in the picture reads its own value.

    Parameters
    ----------
    photo : Photo
    card : Area
        Marked well inside the card.
    value : CardValue

    Returns
    -------
    Calibration
        Its covariance holds the card's noise (block means) and the change of light across the
        card, taken as a uniform distribution of that width (JCGM 100:2008, 4.3.7), since the
        light at the areas is known no better.

    Raises
    ------
    CardError
        Where the card is too small, clipped, too dark, strongly coloured or uneven.
    AreaError
        Where it reaches outside the picture.
    """
    pixels = area_pixels(photo, card)
    warnings = _check_exposure(pixels)
    level = np.median(pixels.light, axis=0)
    kept = plain_pixels(0.18 * pixels.light / level, pixels.clipped)
    light, block = pixels.light[kept], pixels.block[kept]
    noise = covariance_of_mean(light, block) if kept.any() else None
    if noise is None:
        raise CardError("Too few pixels of the card can be used: mark a larger, plain part of it.")
    mean = light.mean(axis=0)
    noise = noise + np.diag(rounding_variance(photo, mean, light.std(axis=0)))
    gradient, uneven = _evenness(pixels, kept, mean)
    warnings += _check_colour(photo, mean)
    warnings += _check_evenness(gradient, uneven, 1.0 - float(kept.mean()))
    wanted = np.linalg.solve(photo.to_xyz, value.xyz)
    if (wanted <= 0).any():
        raise CardError(
            f"A card of {value.words} lies outside the colours of this file's profile: "
            "check the card's value."
        )
    return Calibration(
        gains=wanted / mean,
        relative_covariance=_relative(noise, mean) + np.outer(gradient, gradient) / 12.0,
        to_xyz=photo.to_xyz,
        card=card,
        value=value,
        warnings=tuple(warnings),
        photo_sha256=photo.sha256,
    )


def _relative(covariance: Matrix3, mean: Vector3) -> Matrix3:
    return np.asarray(covariance / np.outer(mean, mean))


def _check_exposure(pixels: Pixels) -> list[str]:
    limit = limits("card")
    if len(pixels.light) < limits("area")["fewest_pixels"]:
        raise CardError(
            f"The card is marked with {len(pixels.light)} pixels only: mark a larger part of it, "
            "or photograph from nearer."
        )
    share = float(pixels.clipped.mean())
    if share > limit["clipped_refused"]:
        raise CardError(
            f"The card is overexposed ({share:.0%} of it is clipped): photograph again with less "
            "exposure."
        )
    level = float(np.median(pixels.light, axis=0).min())
    if level < limit["dark_refused"]:
        raise CardError(
            "The card is too dark to calibrate on: photograph again with more light or exposure."
        )
    if level < limit["dark_warned"]:
        return ["The card is dark: photograph with more exposure for a surer reading."]
    return []


def _check_colour(photo: Photo, mean: Vector3) -> list[str]:
    """How far from grey the card looks before the calibration."""
    limit = limits("card")
    xyz = photo.to_xyz @ mean
    chroma = float(np.hypot(*xyz_to_lab(0.18 * xyz / xyz[1])[1:]))
    if chroma > limit["chroma_refused"]:
        raise CardError(
            "What is marked as the card is strongly coloured: mark the grey card, or photograph "
            "in white light."
        )
    if chroma > limit["chroma_warned"]:
        return [
            "The card looks coloured: set the camera's white balance for this lamp, and check "
            "that the card itself is marked."
        ]
    return []


def _evenness(pixels: Pixels, kept: NDArray[np.bool_], mean: Vector3) -> tuple[Vector3, float]:
    """Change of light across the card per channel, and the unevenness beside it.

    A plane is fitted to the block means, as shares of the mean. A slope that the scatter of the
    blocks makes by itself in more than one case of a hundred is none. From the scatter that the
    plane leaves, the noise of the pixels is taken off.
    """
    places = np.stack([pixels.x, pixels.y], axis=-1)[kept]
    shares = pixels.light[kept] / mean
    blocks, counts = block_means(np.concatenate([places, shares], axis=1), pixels.block[kept])
    width = np.ptp(places, axis=0)
    design = np.column_stack([np.ones(len(blocks)), (blocks[:, :2] - places.mean(axis=0)) / width])
    weight = counts / counts.sum()
    normal = np.linalg.inv(design.T * weight @ design)
    plane = normal @ (design.T * weight) @ blocks[:, 2:]
    left = weight @ (blocks[:, 2:] - design @ plane) ** 2
    slope = plane[1:]
    # Two slopes over their variance follow chi squared of 2 degrees of freedom: 9.2 at 99 %.
    by_chance = left / len(blocks) * np.diag(normal)[1:, None]
    seen = ((slope**2 / by_chance).sum(axis=0) > 9.2).any() if (by_chance > 0).all() else True
    gradient = np.hypot(*slope) * np.sign(slope.sum(axis=0)) if seen else np.zeros(3)
    grain = np.maximum(shares.var(axis=0) - weight @ (blocks[:, 2:] - 1.0) ** 2, 0.0)
    uneven = np.sqrt(np.maximum(left - grain / counts.mean(), 0.0).max())
    return np.asarray(gradient), float(uneven)


def _check_evenness(gradient: Vector3, uneven: float, left_out: float) -> list[str]:
    limit = limits("card")
    change = float(np.abs(gradient).max())
    if uneven > limit["uneven_refused"]:
        raise CardError(
            f"What is marked as the card is uneven (by {uneven:.0%}): mark one plain part of the "
            "card, without its edge, print or shadow."
        )
    if change > limit["gradient_refused"]:
        raise CardError(
            f"The light changes by {change:.0%} across the card: turn it away from the lamp's "
            "reflection, and light the piece evenly from two sides."
        )
    warnings = []
    if uneven > limit["uneven_warned"]:
        warnings.append(
            f"The card is uneven (by {uneven:.0%}): clean it, and mark a part without shadow."
        )
    if change > limit["gradient_warned"]:
        warnings.append(
            f"The light changes by {change:.0%} across the card: light the piece evenly from two "
            "sides."
        )
    if left_out > limit["left_out_warned"]:
        warnings.append(
            f"{left_out:.0%} of the card's pixels stand out from the rest: mark well inside it."
        )
    return warnings
