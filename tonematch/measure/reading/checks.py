"""What an area cannot be read for, or only with a warning; each with its remedy.

The card's own refusals stand with the card (`calibration.card_checks`), those of marking with the
areas (`area.areas`). Every check here either raises ReadingError, or returns warnings, none or
more. Limits: ``swatches/limits.toml``, [area].
"""

import cv2
import numpy as np
from numpy.typing import NDArray

from tonematch.arrays import Array
from tonematch.errors import OR_LINEAR, ReadingError
from tonematch.measure.area.areas import bounds
from tonematch.measure.area.noise import block_means
from tonematch.measure.area.pixels import Pixels
from tonematch.measure.colour.convert import lab_to_xyz
from tonematch.measure.core import Area
from tonematch.photo.core import Encoded, Photo
from tonematch.photo.light import highest_code
from tonematch.swatchbook import limits

# The view around a card is looked at with so many pixels along its longer side at most.
_VIEW = 800
# Half width in which the two sides of an edge are looked for, and the smoothing against noise.
_HALF_WINDOW, _SMOOTHING = 12, 1.0
# An edge is a change of code value by this share of the range; so many pixels must lie on edges.
_EDGE, _FEWEST_EDGE_PIXELS = 0.15, 60


def check_area_exposure(area: Area, pixels: Pixels) -> list[str]:
    """Too few pixels, clipped or dark."""
    limit = limits("area")
    count = len(pixels.light)
    if count < limit["fewest_pixels"]:
        raise ReadingError(
            f"The area '{area.name}' has {count} pixels only: mark a larger one, or photograph "
            "from nearer."
        )
    warnings = []
    if count < limit["few_pixels"]:
        warnings.append(
            f"The area '{area.name}' has {count} pixels only: a larger one reads more surely."
        )
    share = float(pixels.clipped.mean())
    if share > limit["clipped_refused"]:
        raise ReadingError(
            f"The area '{area.name}' is overexposed ({100 * share:.0f} % of it is clipped): "
            "photograph again with less exposure, or move the lamp so that it does not mirror in "
            "the gold."
        )
    if share > limit["clipped_warned"]:
        warnings.append(
            f"{100 * share:.0f} % of '{area.name}' is clipped and left out: photograph with less "
            "exposure."
        )
    level = float(np.median(pixels.light, axis=0).max())
    if level < limit["dark_refused"]:
        raise ReadingError(
            f"The area '{area.name}' is too dark to read: photograph again with more light or "
            "exposure."
        )
    if level < limit["dark_warned"]:
        warnings.append(
            f"The area '{area.name}' is very dark: photograph with more light or exposure."
        )
    return warnings


def check_left_out(area: Area, share: float) -> list[str]:
    """Too much glare, by the share of the pixels that are left out as glare or specks."""
    limit = limits("area")
    if share > limit["left_out_refused"]:
        raise ReadingError(
            f"More than half of '{area.name}' is glare: move the lamp so that it does not mirror "
            "in the gold."
        )
    if share > limit["left_out_warned"]:
        return [
            f"{100 * share:.0f} % of '{area.name}' is left out as glare or specks: soften the "
            "light, or mark a plainer part."
        ]
    return []


def check_same_light(area: Area, lightness: float, half_width: float, coded: bool) -> list[str]:
    """Whether the card can lie in the light that falls on the area: nothing reflects more than all.

    L* on the card has half of its 95 % interval beside it; `coded` tells that the file may yet hold
    linear light: by a curve that is not its own, what is brighter than the card reads too bright.
    """
    limit = limits("area")
    level = float(lab_to_xyz(np.array([lightness, 0.0, 0.0]))[1])
    remedy = (
        "put the card into the same light, beside it and at the same tilt, let it mirror no lamp"
        f"{OR_LINEAR if coded else ''}."
    )
    if level > limit["brighter_refused"]:
        raise ReadingError(f"'{area.name}' reads {level:.1f} times as bright as white: {remedy}")
    if lightness - half_width > 100.0:
        return [f"'{area.name}' reads brighter than white: {remedy}"]
    if level > limit["brighter_warned"]:
        return [
            f"'{area.name}' reads about as bright as white: see that the card lies in the same "
            "light at the same tilt, and that the area mirrors no lamp."
        ]
    return []


def check_mirrored(area: Area, light: Array, block: NDArray[np.int64]) -> list[str]:
    """Whether the area mirrors the room: brightness that changes much over large parts.

    Light (n, 3) of the pixels that are read, and the block that each lies in.
    """
    means, counts = block_means(light.mean(axis=1)[:, None], block)
    weights = counts / counts.sum()
    middle = float(weights @ means[:, 0])
    change = float(np.sqrt(weights @ (means[:, 0] - middle) ** 2)) / max(middle, 1e-9)
    limit = limits("area")
    if change > limit["mirrored_refused"]:
        raise ReadingError(
            f"The brightness changes by {100 * change:.0f} % over '{area.name}', as where gold "
            "mirrors the room: hang white cloth where it mirrors, or mark one plain part."
        )
    if change > limit["mirrored_warned"]:
        return [
            f"The brightness changes by {100 * change:.0f} % over '{area.name}': see that it "
            "mirrors neither the room nor you, and mark one plain part."
        ]
    return []


def check_sharp(photo: Photo, card: Area, area: Area) -> list[str]:
    """Whether the picture is blurred, as far as the edges around the card tell.

    Smooth gilding has no edges and tells nothing: without an edge there is no complaint. Refused
    where the blur mixes the area with what lies beside it.
    """
    found = edge_width(photo, card)
    if found is None:
        return []
    width, pixel = found
    x0, y0, x1, y1 = bounds(area)
    limit = limits("area")
    if width > limit["blur_refused"] * min(x1 - x0, y1 - y0):
        raise ReadingError(
            f"The picture is blurred over {width:.0f} pixels, which mixes '{area.name}' with what "
            "lies beside it: hold the camera still, let it focus, and mark a larger area."
        )
    return say_blurred(width, pixel)


def say_blurred(width: float, pixel: float) -> list[str]:
    """Of edges of a width over so large a pixel of the view (`edge_width`)."""
    if width <= limits("area")["blur_warned"] * pixel:
        return []
    return [
        f"The picture is blurred over about {width:.0f} pixels: hold the camera still and let it "
        "focus on the gold."
    ]


def _shrunk(view: Encoded, size: tuple[int, int]) -> NDArray[np.float32]:
    """Means over areas, made band by band: as floats a large picture would be held twice more."""
    bands = (np.ascontiguousarray(view[top : top + 256]) for top in range(0, len(view), 256))
    narrow = [
        cv2.resize(band.astype(np.float32), (size[0], len(band)), interpolation=cv2.INTER_AREA)
        for band in bands
    ]
    return np.asarray(cv2.resize(np.vstack(narrow), size, interpolation=cv2.INTER_AREA))


def edge_width(photo: Photo, card: Area) -> tuple[float, float] | None:
    """How wide the sharpest edges around a card are; None where there is no edge.

    The standard deviation of their blur, in pixels of the photo, and how many of these make one
    pixel of the view that was looked at, at least 1. An edge of height h under a Gaussian blur s
    has the steepest slope h / (s sqrt(2 pi)).
    """
    x0, y0, x1, y1 = bounds(card)
    mx, my = (x1 - x0) // 2, (y1 - y0) // 2
    view = photo.encoded[max(0, y0 - my) : y1 + my, max(0, x0 - mx) : x1 + mx, 1]
    scale = max(1.0, max(view.shape) / _VIEW)
    size = (round(view.shape[1] / scale), round(view.shape[0] / scale))
    grey = _shrunk(view, size) / np.float32(highest_code(view))
    grey = np.asarray(cv2.GaussianBlur(grey, (0, 0), _SMOOTHING))
    slope = np.hypot(cv2.Scharr(grey, cv2.CV_32F, 1, 0), cv2.Scharr(grey, cv2.CV_32F, 0, 1)) / 32.0
    window = np.ones((2 * _HALF_WINDOW + 1, 2 * _HALF_WINDOW + 1), dtype=np.uint8)
    height = cv2.dilate(grey, window) - cv2.erode(grey, window)
    edges = (height > _EDGE) & (slope > 0)
    if int(edges.sum()) < _FEWEST_EDGE_PIXELS:
        return None
    widths = height[edges] / (slope[edges] * np.sqrt(2.0 * np.pi))
    sharpest = float(np.quantile(widths, 0.02))
    # A change as wide as the window is shading, not an edge.
    if sharpest > 0.7 * _HALF_WINDOW:
        return None
    return float(np.sqrt(max(sharpest**2 - _SMOOTHING**2, 0.0))) * scale, scale
