"""Areas that a person marked: making them, checking them, finding their pixels."""

import math
import re
from collections.abc import Sequence
from itertools import combinations

import cv2
import numpy as np
from numpy.typing import NDArray

from tonematch.arrays import Array
from tonematch.errors import AreaError
from tonematch.measure.core import Area, Role
from tonematch.photo.core import Photo
from tonematch.swatchbook import limits

Box = tuple[float, float, float, float]
Shape = tuple[float, ...]
"""As people mark it: left, top, width and height of a box, or x and y of three corners and more."""

_FAR = 1e9  # pixels: no picture is as large
SURROUNDINGS = 0.5  # of the areas' own size, shown beyond them on each side


def parse_shape(text: str) -> Shape:
    """Read a box, "x,y,w,h", or corners, "x,y x,y x,y ...", in pixels of the upright picture.

    Raises AreaError where it is neither, a number is not finite, or a box has no size.
    """
    try:
        parts = [
            tuple(map(float, part.split(","))) for part in re.sub(r"\s*,\s*", ",", text).split()
        ]
    except ValueError:
        parts = []
    shape: Shape = sum(parts, ())
    counts = [len(part) for part in parts]
    known = counts == [4] or (len(counts) > 2 and set(counts) == {2})
    if not known or not np.isfinite(shape).all():
        raise AreaError(
            f"'{text}' is not a box: write left, top, width and height in pixels, "
            "such as 120,80,60,40; or corners, such as '120,80 180,80 150,140'."
        )
    shape_area(text, shape)
    return shape


def shape_area(name: str, shape: Shape, role: Role = "area") -> Area:
    """The area of a shape; AreaError where the name is empty or it has no size."""
    if len(shape) == 4 and min(shape[2:]) <= 0:
        raise AreaError(
            f"The box '{','.join(f'{side:g}' for side in shape)}' has no size: give a width and a "
            "height above 0."
        )
    return polygon_area(name, corners_of(shape), role)


def box_area(name: str, box: Sequence[float], role: Role = "area") -> Area:
    """A rectangular area by left, top, width and height; AreaError as for `shape_area`."""
    x, y, w, h = box
    return shape_area(name, (x, y, w, h), role)


def corners_of(shape: Shape) -> list[tuple[float, float]]:
    """Corners of a shape in order around it."""
    if len(shape) > 4:
        return list(zip(shape[::2], shape[1::2], strict=True))
    x, y, w, h = shape
    return [(x, y), (x + w, y), (x + w, y + h), (x, y + h)]


def shape_of(area: Area) -> Shape:
    """The shape of an area: what a person would mark to get it."""
    (x0, y0), (x1, y1) = np.min(area.corners, axis=0), np.max(area.corners, axis=0)
    box = (float(x0), float(y0), float(x1 - x0), float(y1 - y0))
    flat = tuple(side for corner in area.corners for side in corner)
    return box if area.corners == tuple(corners_of(box)) else flat


def polygon_area(name: str, corners: Sequence[tuple[float, float]], role: Role = "area") -> Area:
    """An area of any straight-sided shape, by its three or more corners in order around it.

    Raises AreaError where the name is empty, a corner is not a number, sides cross, or the shape
    has no size.
    """
    if not name.strip():
        raise AreaError("An area has no name: call it by what it shows, such as 'cheek'.")
    places = tuple((float(x), float(y)) for x, y in corners)
    if len(places) < 3 or not (np.abs(places) < _FAR).all():
        raise AreaError(f"The area '{name}' needs three corners or more: mark it again.")
    spans = np.ptp(np.array(places), axis=0)
    if not (spans > 0).all():
        raise AreaError(f"The area '{name}' has no size: mark it again.")
    if _sides_cross(np.array(places)):
        raise AreaError(f"The sides of '{name}' cross: put its corners in order around it.")
    return Area(name, places, role)


def _sides_cross(corners: Array) -> bool:
    """Whether two sides of a polygon pass through each other; corners (n, 2)."""
    along = np.roll(corners, -1, axis=0) - corners
    to = corners[None] - corners[:, None]
    # At which hand of side i corner j lies, and whether side j goes from hand to hand.
    hand = np.sign(along[:, None, 0] * to[..., 1] - along[:, None, 1] * to[..., 0])
    parted = hand * np.roll(hand, -1, axis=1) < 0
    return bool((parted & parted.T).any())


def check_areas(photo: Photo, areas: Sequence[Area]) -> None:
    """Refuse areas that cannot be read together: all on this photo, the card among them.

    Raises AreaError where one reaches outside the picture, two have the same name, or two overlap.
    """
    names = [area.name for area in areas]
    for name in names:
        if names.count(name) > 1:
            raise AreaError(f"Two areas are called '{name}': give each a name of its own.")
    for area in areas:
        check_inside(photo, area)
    for one, other in combinations(areas, 2):
        check_apart(one, other)


def check_apart(one: Area, other: Area) -> None:
    """Refuse two areas of one picture that overlap (AreaError)."""
    if _overlap(one, other):
        raise AreaError(f"The areas '{one.name}' and '{other.name}' overlap: mark them apart.")


def check_inside(photo: Photo, area: Area) -> None:
    """Refuse an area that reaches outside the picture (AreaError)."""
    corners = np.array(area.corners)
    if (corners < 0).any() or (corners > (photo.width, photo.height)).any():
        raise AreaError(
            f"The area '{area.name}' reaches outside the picture, which is {photo.width} by "
            f"{photo.height} pixels: mark it inside."
        )


def bounds(area: Area) -> tuple[int, int, int, int]:
    """Pixels x0, y0 up to x1, y1 that hold every pixel centre of an area."""
    corners = np.array(area.corners)
    x0, y0 = np.floor(corners.min(axis=0)).astype(int)
    x1, y1 = np.ceil(corners.max(axis=0)).astype(int)
    return int(x0), int(y0), int(x1), int(y1)


def around(photo: Photo, areas: Sequence[Area]) -> Box:
    """A box with the areas and half of their own size on each side, as far as the picture goes."""
    sides = np.array([bounds(area) for area in areas], dtype=float)
    low, high = sides[:, :2].min(axis=0), sides[:, 2:].max(axis=0)
    margin = SURROUNDINGS * (high - low)
    x0, y0 = np.maximum(low - margin, 0.0)
    x1, y1 = np.minimum(high + margin, (photo.width, photo.height))
    return float(x0), float(y0), float(x1 - x0), float(y1 - y0)


def inside(area: Area, x: Array, y: Array) -> NDArray[np.bool_]:
    """Which points of a grid of columns x (w,) and rows y (h,) lie inside, by the even-odd rule."""
    odd = np.zeros((len(y), len(x)), dtype=bool)
    for (xa, ya), (xb, yb) in zip(area.corners, area.corners[1:] + area.corners[:1], strict=True):
        if ya == yb:
            continue
        crosses = (ya <= y) != (yb <= y)
        edge = xa + (y - ya) * (xb - xa) / (yb - ya)
        odd ^= crosses[:, None] & (x[None, :] < edge[:, None])
    return odd


def filled_part(mask: NDArray[np.bool_]) -> tuple[int, int, int, int]:
    """Bounds x0, y0, x1, y1 of a mask that fills them, or else of the largest square within it."""
    rows, columns = np.flatnonzero(mask.any(axis=1)), np.flatnonzero(mask.any(axis=0))
    x0, y0, x1, y1 = columns[0], rows[0], columns[-1] + 1, rows[-1] + 1
    if not mask[y0:y1, x0:x1].all():
        reach = cv2.distanceTransform(np.pad(mask, 1).astype(np.uint8), cv2.DIST_C, 3)
        y, x = np.unravel_index(reach.argmax(), reach.shape)
        half = int(reach[y, x])
        x0, y0, x1, y1 = x - half, y - half, x + half - 1, y + half - 1
    return int(x0), int(y0), int(x1), int(y1)


def shown_part(area: Area) -> tuple[int, int, int, int]:
    """Pixels x0, y0 up to x1, y1 that show an area and nothing beside it."""
    x0, y0, x1, y1 = bounds(area)
    step = pixel_step(area)
    x, y = np.arange(x0 + 0.5, x1, step), np.arange(y0 + 0.5, y1, step)
    left, top, right, low = (step * side for side in filled_part(inside(area, x, y)))
    return x0 + left, y0 + top, min(x0 + right, x1), min(y0 + low, y1)


def _overlap(one: Area, other: Area) -> bool:
    """Whether any pixel centre (of a grid of 400 by 400 at most) lies in both."""
    a, b = bounds(one), bounds(other)
    x0, y0, x1, y1 = max(a[0], b[0]), max(a[1], b[1]), min(a[2], b[2]), min(a[3], b[3])
    if x0 >= x1 or y0 >= y1:
        return False
    x = np.linspace(x0 + 0.5, x1 - 0.5, min(400, x1 - x0))
    y = np.linspace(y0 + 0.5, y1 - 0.5, min(400, y1 - y0))
    return bool((inside(one, x, y) & inside(other, x, y)).any())


def pixel_step(area: Area) -> int:
    """Every how many pixels an area is read, so that no more than the limit are used."""
    x0, y0, x1, y1 = bounds(area)
    most = limits("pixel")["most_read"]
    return max(1, math.ceil(math.sqrt((x1 - x0) * (y1 - y0) / most)))
