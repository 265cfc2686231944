"""Whether what is marked as the card can calibrate a picture: warnings and refusals."""

import numpy as np
import scipy
from numpy.typing import NDArray

from tonematch.arrays import Array, Vector3
from tonematch.errors import HOLDS_LINEAR, OR_LINEAR, CardError
from tonematch.measure.area.noise import block_means
from tonematch.measure.area.pixels import MIDDLE_GREY, Pixels
from tonematch.measure.colour.convert import xyz_to_lab
from tonematch.photo.core import Photo
from tonematch.swatchbook import limits

# Share of cards in even light that may seem to have a slope; three channels are tried.
_CHANCE = 0.01
LOOKS_COLOURED = (
    "The card looks coloured: set the camera's white balance for this lamp, and check that the "
    "card itself is marked."
)


def check_card_exposure(pixels: Pixels) -> None:
    """Refuse a card that is too small, clipped, or without any light in a channel."""
    limit = limits("card")
    if len(pixels.light) < limits("area")["fewest_pixels"]:
        raise CardError(
            f"The card is marked with {len(pixels.light)} pixels only: mark a larger part of it, "
            "or photograph from nearer."
        )
    share = float(pixels.clipped.mean())
    if share > limit["clipped_refused"]:
        raise CardError(
            f"The card is overexposed ({100 * share:.0f} % of it is clipped): photograph again "
            "with less exposure."
        )
    if np.median(pixels.light, axis=0).min() <= 0:
        raise CardError(
            "The card is too dark to calibrate on: photograph again with more light or exposure."
        )


def check_level(light: Array, coded: bool) -> list[str]:
    """Refuse or warn about a card whose true linear light (n, 3) is too dark.

    `coded` tells that its file may yet hold linear light, in which a card looks dark.
    """
    limit = limits("card")
    level = float(np.median(light, axis=0).min())
    if level < limit["dark_refused"]:
        raise CardError(
            "The card is too dark to calibrate on: photograph again with more light or exposure"
            f"{OR_LINEAR if coded else ''}."
        )
    if level < limit["dark_warned"]:
        return [
            "The card is dark: photograph with more exposure for a surer reading"
            f"{OR_LINEAR if coded else ''}."
        ]
    return []


def check_linear(exponent: float) -> list[str]:
    """Whether the neutrals speak of linear light that was decoded by a curve.

    `exponent` is that of true over decoded light, from the card to white.
    """
    if exponent > limits("tone")["linear_told"]:
        return []
    return [
        "The cards differ from one another as in linear light: if no camera rendered this picture, "
        f"say that {HOLDS_LINEAR}."
    ]


def check_colour(photo: Photo, mean: Vector3) -> list[str]:
    """How far from grey the card looks before the calibration."""
    limit = limits("card")
    xyz = photo.to_xyz @ mean
    chroma = float(np.hypot(*xyz_to_lab(MIDDLE_GREY * xyz / xyz[1])[1:]))
    if chroma > limit["chroma_refused"]:
        raise CardError(
            "What is marked as the card is strongly coloured: mark the grey card, or photograph "
            "in white light."
        )
    if chroma > limit["chroma_warned"]:
        return [LOOKS_COLOURED]
    return []


def evenness(pixels: Pixels, kept: NDArray[np.bool_], mean: Vector3) -> tuple[Array, float]:
    """Change of light over the card, across and down, per channel; and the unevenness beside it.

    A plane is fitted to the block means, as shares of the mean. It counts only as far as it exceeds
    what the scatter of the blocks makes by itself: not at all where that is reached in one card of
    a hundred, and less its own variance where it is not. From the scatter that the plane leaves,
    the noise of the pixels is taken off. Raises CardError where the blocks lie on one line, as in a
    strip a few pixels wide: no plane is told by it.
    """
    places = np.stack([pixels.x, pixels.y], axis=-1)[kept]
    shares = pixels.light[kept] / mean
    blocks, counts = block_means(np.concatenate([places, shares], axis=1), pixels.block[kept])
    width = np.maximum(np.ptp(places, axis=0), 1.0)
    design = np.column_stack([np.ones(len(blocks)), (blocks[:, :2] - places.mean(axis=0)) / width])
    if np.linalg.matrix_rank(design, tol=1e-6) < design.shape[1]:
        raise CardError(
            "The card is marked as a strip too narrow to tell whether light falls evenly on it: "
            "mark a wider part of it."
        )
    weight = counts / counts.sum()
    normal = np.linalg.inv(design.T * weight @ design)
    plane = normal @ (design.T * weight) @ blocks[:, 2:]
    left = weight @ (blocks[:, 2:] - design @ plane) ** 2
    grain = np.maximum(shares.var(axis=0) - weight @ (blocks[:, 2:] - 1.0) ** 2, 0.0)
    uneven = np.sqrt(np.maximum(left - grain / counts.mean(), 0.0).max())
    freedom = len(blocks) - 3
    by_chance = left / freedom * np.diag(normal)[1:, None]
    return _beyond_chance(plane[1:], by_chance, freedom), float(uneven)


def _beyond_chance(slope: Array, variance: Array, freedom: int) -> Array:
    """Slopes, shape (2, 3), as far as they exceed their own noise.

    Mean squared slope over variance follows Fisher's F of 2 and `freedom` degrees of freedom,
    and is 1 on average where there is no slope.
    """
    strength = (slope**2 / np.maximum(variance, 1e-15)).mean(axis=0)
    if scipy.special.fdtrc(2, freedom, strength).min() > _CHANCE / 3:
        return np.zeros_like(slope)
    return np.asarray(slope * np.sqrt(np.maximum(1.0 - 1.0 / np.maximum(strength, 1.0), 0.0)))


def steepest(slope: Array) -> Vector3:
    """Change of light across the card in its steepest direction, per channel, with its sign."""
    return np.asarray(np.hypot(*slope) * np.sign(slope.sum(axis=0)))


def check_order(light: Vector3, card_light: Vector3, ratio: float, name: str) -> None:
    """Refuse a neutral that is the darker one in the picture and the lighter one by its value.

    Both lights are decoded; `ratio` is what the neutral reflects over what the card reflects.
    """
    if abs(np.log(ratio)) > np.log(limits("tone")["order_told"]) and (
        (light.sum() > card_light.sum()) != (ratio > 1.0)
    ):
        seen, said = ("darker", "more") if ratio > 1.0 else ("lighter", "less")
        raise CardError(
            f"'{name}' is {seen} than the card in the picture, but is said to reflect {said}: mark "
            "each card where it lies, and check their values."
        )


def check_evenness(gradient: Vector3, uneven: float, left_out: float) -> list[str]:
    """Refuse or warn about light that changes across the card, and dirt on it."""
    limit = limits("card")
    change = float(np.abs(gradient).max())
    if uneven > limit["uneven_refused"]:
        raise CardError(
            f"What is marked as the card is uneven (by {100 * uneven:.0f} %): mark one plain part "
            "of the card, without its edge, print or shadow."
        )
    if change > limit["gradient_refused"]:
        raise CardError(
            f"The light changes by {100 * change:.0f} % across the card: turn it away from the "
            "lamp's reflection, and light the piece evenly from two sides."
        )
    warnings = []
    if uneven > limit["uneven_warned"]:
        warnings.append(
            f"The card is uneven (by {100 * uneven:.0f} %): clean it, and mark a part without "
            "shadow."
        )
    if change > limit["gradient_warned"]:
        warnings.append(
            f"The light changes by {100 * change:.0f} % across the card: light the piece evenly "
            "from two sides."
        )
    if left_out > limit["left_out_warned"]:
        warnings.append(
            f"{100 * left_out:.0f} % of the card's pixels stand out from the rest: mark well "
            "inside it."
        )
    return warnings
