"""An area as a picture: calibrated colours on its grid of pixels, and how large a pixel is."""

import math
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from tonematch.arrays import Array
from tonematch.errors import ReadingError, ValueRefused
from tonematch.measure.area.areas import bounds, check_inside, inside, pixel_step, shown_part
from tonematch.measure.area.pixels import plain_pixels
from tonematch.measure.calibration.apply import balanced_light, calibrated_xyz
from tonematch.measure.colour.convert import xyz_to_lab
from tonematch.measure.core import Area, Calibration, Reading
from tonematch.photo.core import FloatPicture, Photo
from tonematch.photo.light import clipped, linear_light
from tonematch.swatchbook import limits

_MOST_PIXELS = 400_000
# How far the two scales of a card may part before the marking or the size must be wrong: a card
# that is tilted by 30 degrees is foreshortened by 13 %.
_APART = 1.25
# Longest side of each of two areas shown edge to edge, in pixels, and how high it may be by its
# width: what a screen shows beside the verdict. Choices of this project, no source.
_LONGEST, _HIGHEST = 450, 2 / 3
_LEAST_CARD, _MOST_CARD = 1.0, 2000.0  # millimetres of a card that is held or propped up; a choice


@dataclass(frozen=True, eq=False)
class AreaPicture:
    """An area's surface, pixel by pixel.

    Attributes
    ----------
    xyz : ndarray, shape (h, w, 3), float32
        CIE XYZ for D50, 2 degree, Y of white 1; of no meaning outside `used`.
    used : ndarray, shape (h, w), bool
        Pixels inside the area that are not glare.
    mm_per_pixel : float or None
        Size of one pixel of `xyz` on the piece; None where it is not known.
    pixel : float
        Size of one pixel of `xyz` in pixels of the photograph.
    """

    xyz: FloatPicture
    used: NDArray[np.bool_]
    mm_per_pixel: float | None
    pixel: float
    name: str

    def lab(self) -> Array:
        """CIELAB, shape (h, w, 3)."""
        return xyz_to_lab(self.xyz)


def area_picture(
    photo: Photo, area: Area, calibration: Calibration, mm_per_pixel: float | None = None
) -> AreaPicture:
    """The surface of an area.

    Glare is left out by the rule of `plain_pixels`. Specks stay in, since to the eye they are part
    of the surface. Very large areas are reduced. `mm_per_pixel` are the millimetres on the piece
    that a pixel of the photograph spans (`scale_from_card`). Raises AreaError
    where the area reaches outside the picture, ReadingError where more than half of it is glare, or
    it is too small.
    """
    check_inside(photo, area)
    x0, y0, x1, y1 = bounds(area)
    step = pixel_step(area)
    within = inside(area, np.arange(x0 + 0.5, x1, step), np.arange(y0 + 0.5, y1, step))
    light = balanced_part(photo, calibration, (x0, y0, x1, y1), step)
    white = clipped(photo, x0, y0, x1, y1, step)
    if within.sum() < limits("area")["few_pixels"]:
        raise ReadingError(
            f"The area '{area.name}' is too small to judge its evenness: mark a larger one, or "
            "photograph from nearer."
        )
    pixels = light[within]
    plain = plain_pixels(pixels, white[within])
    if plain.mean() < 1.0 - limits("area")["left_out_refused"]:
        raise ReadingError(
            f"More than half of '{area.name}' is glare: move the lamp so that it does not mirror "
            "in the gold."
        )
    level = np.median(pixels[plain], axis=0)
    used = within.copy()
    used[within] = plain | (~white[within] & (pixels < level).any(axis=1))
    xyz = calibrated_xyz(calibration, light).astype(np.float32)
    mm = None if mm_per_pixel is None else mm_per_pixel * step
    whole = AreaPicture(xyz, used, mm, float(step), area.name)
    return reduced(whole, math.sqrt(max(1.0, xyz.shape[0] * xyz.shape[1] / _MOST_PIXELS)))


def balanced_part(
    photo: Photo, calibration: Calibration, part: tuple[int, int, int, int], step: int = 1
) -> Array:
    """Balanced light of every `step`-th pixel of a part of a photo, shape (h, w, 3).

    The part is x0, y0, x1, y1 as for `linear_light`.
    """
    light = linear_light(photo, *part, step).astype(np.float64)
    y, x = np.mgrid[part[1] : part[3] : step, part[0] : part[2] : step] + 0.5
    balanced = balanced_light(calibration, light.reshape(-1, 3), x.ravel(), y.ravel())
    return balanced.reshape(light.shape)


def reduced(picture: AreaPicture, factor: float) -> AreaPicture:
    """A picture with fewer pixels, `factor` along each side of one; nothing changes up to 1.

    Each is the mean of those used under it, and used where at least half of it was.
    """
    if factor <= 1.0:
        return picture
    height, width = picture.used.shape
    # Whole pixels: what is left over at the right and lower edge is cut off.
    size = max(1, int(width / factor)), max(1, int(height / factor))
    part = np.s_[: min(height, round(size[1] * factor)), : min(width, round(size[0] * factor))]
    used = picture.used[part].astype(np.float32)
    share = cv2.resize(used, size, interpolation=cv2.INTER_AREA)
    sums = cv2.resize(picture.xyz[part] * used[..., None], size, interpolation=cv2.INTER_AREA)
    mm = picture.mm_per_pixel
    return AreaPicture(
        xyz=np.asarray(sums / np.maximum(share, 1e-6)[..., None], dtype=np.float32),
        used=np.asarray(share >= 0.5),
        mm_per_pixel=None if mm is None else mm * factor,
        pixel=picture.pixel * factor,
        name=picture.name,
    )


def pair_picture(original: Reading, repair: Reading, old: Photo, new: Photo) -> Array:
    """CIELAB (h, w, 3) of the middle of both areas edge to edge, the original at the left.

    At their true relative lightness: what an eye would judge. Nothing that lies beside them is in
    it. The readings carry their calibrations; `old` and `new` are the photos that they were read
    from.
    """
    sides = (original.area, old), (repair.area, new)
    step = max(picture_step(shown_part(area), _LONGEST) for area, _ in sides)
    return edge_to_edge(
        part_lab(old, original, shown_part(original.area), step),
        part_lab(new, repair, shown_part(repair.area), step),
    )


def edge_to_edge(original: Array, repair: Array) -> Array:
    """Two parts (h, w, 3) beside each other, as large as both and a screen allow."""
    width = min(original.shape[1], repair.shape[1])
    height = min(len(original), len(repair), max(1, round(_HIGHEST * width)))
    return np.hstack([_middle(part, height, width) for part in (original, repair)])


def part_lab(photo: Photo, reading: Reading, part: tuple[int, int, int, int], step: int) -> Array:
    """CIELAB (h, w, 3) of every step-th pixel of a part, as the reading's card has it."""
    assert reading.calibration is not None  # the logbook keeps it
    light = balanced_part(photo, reading.calibration, part, step)
    return xyz_to_lab(calibrated_xyz(reading.calibration, light))


def picture_step(part: tuple[int, int, int, int], longest: int) -> int:
    """Every how many pixels are taken, so that no side is longer."""
    return max(1, -(-max(part[2] - part[0], part[3] - part[1]) // longest))


def _middle(part: Array, height: int, width: int) -> Array:
    top, left = (len(part) - height) // 2, (part.shape[1] - width) // 2
    return part[top : top + height, left : left + width]


def scale_from_card(card: Area, width_mm: float, height_mm: float | None = None) -> float:
    """Millimetres per pixel in the plane of the card.

    Parameters
    ----------
    card : Area
        The part of the card that was marked, a polygon of any shape and turn; what is measured
        is the smallest rectangle around it.
    width_mm : float
        Size of that part from left to right, above 0.
    height_mm : float, optional
        Size from top to bottom. With both, a card that is seen a little from the side gives the
        mean scale of its two directions (geometric).

    Raises
    ------
    ValueRefused
        Where a size is not a number above 0, or width and height do not fit the marked shape.
    """
    across, down = _sides(card)
    width = _check_size(width_mm) / across
    if height_mm is None:
        return width
    height = _check_size(height_mm) / down
    if max(width / height, height / width) > _APART:
        raise ValueRefused(
            f"A card of {width_mm:g} by {height_mm:g} mm does not have the shape that was marked "
            f"({across:.0f} by {down:.0f} pixels): give width and height of the marked part, and "
            "photograph the card from the front."
        )
    return math.sqrt(width * height)


def _sides(card: Area) -> tuple[float, float]:
    """Pixels from left to right and from top to bottom of the smallest rectangle around it."""
    corners = cv2.boxPoints(cv2.minAreaRect(np.array(card.corners, dtype=np.float32)))
    one, other = corners[1] - corners[0], corners[2] - corners[1]
    if abs(one[0]) < abs(one[1]):  # the side that lies nearer the horizontal is the width
        one, other = other, one
    return float(np.hypot(*one)), float(np.hypot(*other))


def _check_size(millimetres: float) -> float:
    if not _LEAST_CARD <= millimetres <= _MOST_CARD:
        raise ValueRefused(
            f"A card of {millimetres:g} mm cannot be: measure the part of it that is marked, and "
            f"give millimetres above 0, from {_LEAST_CARD:g} to {_MOST_CARD:g}, such as 50."
        )
    return millimetres
