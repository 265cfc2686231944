"""A 24-patch chart in a photograph: found, turned by its content, and read.

Reference values: the chart's published xyY under ICC D50, as colour-science carries them
("ColorChecker 2005"); charts differ a little from one another and fade.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import lru_cache

import cv2
import numpy as np

from tonematch.arrays import Array
from tonematch.errors import AreaError, CardError
from tonematch.measure.area.areas import polygon_area
from tonematch.measure.area.pixels import MIDDLE_GREY, area_pixels, plain_pixels
from tonematch.measure.calibration.chart_place import (
    COLUMNS,
    GRID,
    ROWS,
    SEEN,
    Picture,
    candidates,
    homography,
    settled,
    uneven,
)
from tonematch.measure.core import Area
from tonematch.photo.core import Photo
from tonematch.photo.preview import preview
from tonematch.swatchbook import limits

# Side of a patch, and of the part of it that is read, in parts of the distance between patches;
# content must be even over a little more than is read.
_PATCH, _READ, _EVEN = 0.87, 0.5, 0.56
# 95 % intervals of simulated pairs, truly 0 to 6 apart, are 1.6 wide, and 3.7 (tests/how_good.py);
# of real ones 9 to 15 apart 10.0, and 11.9 (tests/measure/real_photographs.py).
CHART_BUYS = "Near a match it leaves less than half the doubt of the grey card alone."
_UPRIGHT = np.arange(ROWS * COLUMNS)


@lru_cache(maxsize=1)
def chart_reference() -> Mapping[str, Array]:
    """CIE XYZ (D50, 2 degree, Y of white 1) of the chart's patches by name, row by row."""
    # Here: planning, which reads the logbook's charts, need not wait for so large a library.
    from tonematch.measure.colour.colour_science import colour

    table = colour.CCS_COLOURCHECKERS["ColorChecker 2005"]
    return {name: np.asarray(colour.xyY_to_XYZ(xyY)) for name, xyY in table.data.items()}


@dataclass(frozen=True, eq=False)
class Chart:
    """A chart in a photograph.

    Attributes
    ----------
    patches : mapping from patch name to Area
        The middle part of each patch.
    xyz : mapping from patch name to ndarray, shape (3,)
        What the patches are known to be, CIE XYZ (D50, 2 degree, Y of white 1): the published
        values unless the chart was measured.
    """

    patches: Mapping[str, Area]
    xyz: Mapping[str, Array] = field(default_factory=chart_reference)


def grey_patches() -> tuple[str, ...]:
    """Names of the six neutrals, lightest first."""
    return tuple(name for name in chart_reference() if name.startswith(("white", "neutral", "bla")))


def find_chart(photo: Photo, at_a_glance: bool = False) -> Chart | None:
    """Look for a 24-patch chart anywhere in a photograph; None where no place holds its colours.

    At a glance it is looked for at the likeliest size only: in a fifth of a second.
    """
    charts = (_settled_chart(photo, *place) for place in candidates(photo, at_a_glance))
    return next((chart for chart in charts if chart is not None), None)


def chart_at(photo: Photo, corners: Sequence[tuple[float, float]]) -> Chart:
    """A chart of which the outer corners of the four corner patches were marked, in any order.

    Raises AreaError where these are not four corners of a shape with some size inside the picture,
    CardError where the patches there do not have the chart's colours.
    """
    places = np.asarray(corners, dtype=np.float64)
    if places.shape != (4, 2) or not np.isfinite(places).all():
        raise AreaError("A chart is marked by its four corners: give four pairs of x and y.")
    away = places - places.mean(axis=0)
    around = places[np.argsort(np.arctan2(away[:, 1], away[:, 0]))]
    polygon_area("chart", [(float(x), float(y)) for x, y in around])
    half = _PATCH / 2.0
    right, low = COLUMNS - 1 + half, ROWS - 1 + half
    grid = np.array([(-half, -half), (right, -half), (right, low), (-half, low)])
    picture, scale = preview(photo, SEEN)
    turns = (homography(grid, np.roll(around, turn, axis=0) * scale) for turn in (0, 1))
    charts = (_settled_chart(photo, picture, scale, guess) for guess in turns if guess is not None)
    chart = next((chart for chart in charts if chart is not None), None)
    if chart is None:
        raise CardError(
            "What is marked as the chart does not have its colours: mark the outer corners of "
            "the four corner patches, and see that it has 24, with no glare and nothing upon them."
        )
    return chart


def patch_light(photo: Photo, chart: Chart) -> dict[str, Array]:
    """Mean decoded light of each patch that is neither clipped nor too dark for any light."""
    found = {}
    for name, area in chart.patches.items():
        pixels = area_pixels(photo, area)
        if not len(pixels.light) or pixels.clipped.mean() > limits("tone")["clipped_refused"]:
            continue
        level = np.median(pixels.light, axis=0)
        if level.max() <= 0:
            continue
        kept = plain_pixels(MIDDLE_GREY * pixels.light / level.max(), pixels.clipped)
        found[name] = pixels.light[kept].mean(axis=0)
    return found


def patch_place(area: Area) -> tuple[float, float]:
    """Middle of a patch, x and y."""
    x, y = np.mean(area.corners, axis=0)
    return float(x), float(y)


def _settled_chart(photo: Photo, picture: Picture, scale: float, guess: Array) -> Chart | None:
    """The chart at a place in a picture of the photo; None where its patches do not lie there."""
    at = settled(picture, guess)
    if len(uneven(picture, at, _EVEN)) > limits("chart")["uneven_refused"]:
        return None
    return _turned_by_content(photo, np.diag([1.0 / scale, 1.0 / scale, 1.0]) @ at)


def _turned_by_content(photo: Photo, at: Array) -> Chart | None:
    """The chart with its patches named as their colours are, by the better of two half turns."""
    areas = _areas(at)
    if any(not _inside(photo, area) for area in areas):
        return None
    names = list(chart_reference())
    light = patch_light(photo, Chart(dict(zip(names, areas, strict=True))))
    readable = [names.index(name) for name in light]
    if len(readable) < len(names) // 2:
        return None
    seen = np.cbrt(np.maximum(np.array(list(light.values())), 0.0))
    known = np.cbrt(np.array(list(chart_reference().values())))
    misfit, order = min(
        ((_misfit(seen, known[turn[readable]]), turn) for turn in (_UPRIGHT, _UPRIGHT[::-1])),
        key=lambda found: found[0],
    )
    if misfit > limits("chart")["misfit_refused"]:
        return None
    turned = zip([names[k] for k in order], areas, strict=True)
    return Chart({name: replace(area, name=name) for name, area in turned})


def _misfit(seen: Array, known: Array) -> float:
    """Share of the variance of the known colours that no affine map of the seen ones explains."""
    design = np.column_stack([np.ones(len(seen)), seen])
    found, *_ = np.linalg.lstsq(design, known, rcond=None)
    left = known - design @ found
    return float((left**2).sum() / ((known - known.mean(axis=0)) ** 2).sum())


def _areas(at: Array) -> list[Area]:
    half = _READ / 2.0
    square = np.array([(-half, -half), (half, -half), (half, half), (-half, half)])
    corners = (GRID[:, None, :] + square).reshape(-1, 1, 2)
    places = cv2.perspectiveTransform(corners, at).reshape(-1, 4, 2)
    return [Area("patch", tuple((float(x), float(y)) for x, y in patch)) for patch in places]


def _inside(photo: Photo, area: Area) -> bool:
    """Whether an area lies in the picture, and is not seen in a mirror."""
    corners = np.array(area.corners)
    x, y = (corners - corners.mean(axis=0)).T
    turned = x @ np.roll(y, -1) - y @ np.roll(x, -1)
    return bool(
        turned > 0 and (corners >= 0).all() and (corners <= (photo.width, photo.height)).all()
    )
