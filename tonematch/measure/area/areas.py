"""Areas that a person marked: making them, checking them, finding their pixels."""

import math
from collections.abc import Sequence
from itertools import combinations

import numpy as np
from numpy.typing import NDArray

from tonematch.arrays import Array
from tonematch.errors import AreaError
from tonematch.measure.core import Area, Role
from tonematch.photo.core import Photo
from tonematch.swatchbook import limits

Box = tuple[float, float, float, float]

SURROUNDINGS = 0.5  # of the areas' own size, shown beyond them on each side


def parse_box(text: str) -> Box:
    """Read "x,y,w,h": left, top, width and height in pixels of the upright picture.

    Raises AreaError where these are not four finite numbers, width and height above 0.
    """
    try:
        numbers = [float(part) for part in text.split(",")]
    except ValueError:
        numbers = []
    if len(numbers) != 4 or not all(map(math.isfinite, numbers)):
        raise AreaError(
            f"'{text}' is not a box: write left, top, width and height in pixels, "
            "such as 120,80,60,40."
        )
    x, y, w, h = numbers
    if w <= 0 or h <= 0:
        raise AreaError(f"The box '{text}' has no size: give a width and a height above 0.")
    return x, y, w, h


def box_area(name: str, box: Sequence[float], role: Role = "area") -> Area:
    """A rectangular area by left, top, width and height in pixels of the upright picture.

    Raises AreaError where the name is empty or the box has no size.
    """
    x, y, w, h = parse_box(",".join(repr(float(value)) for value in box))
    return polygon_area(name, [(x, y), (x + w, y), (x + w, y + h), (x, y + h)], role)


def polygon_area(name: str, corners: Sequence[tuple[float, float]], role: Role = "area") -> Area:
    """An area of any straight-sided shape, by its three or more corners in order around it.

    Where sides cross, what lies inside is decided by the even-odd rule. Raises AreaError where the
    name is empty, a corner is not a number, or the shape has no size.
    """
    if not name.strip():
        raise AreaError("An area has no name: call it by what it shows, such as 'cheek'.")
    places = tuple((float(x), float(y)) for x, y in corners)
    if len(places) < 3 or not np.isfinite(np.array(places)).all():
        raise AreaError(f"The area '{name}' needs three corners or more: mark it again.")
    spans = np.ptp(np.array(places), axis=0)
    if not (spans > 0).all():
        raise AreaError(f"The area '{name}' has no size: mark it again.")
    return Area(name, places, role)


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


def box_around(area: Area) -> Box:
    """The upright box that holds an area."""
    x0, y0, x1, y1 = bounds(area)
    return float(x0), float(y0), float(x1 - x0), float(y1 - y0)


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
