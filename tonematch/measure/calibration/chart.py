"""A 24-patch chart in a photograph: found, turned by its content, and read.

Reference values: the chart's published xyY under ICC D50, as colour-science carries them
("ColorChecker 2005"); charts differ a little from one another and fade.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import lru_cache
from io import BytesIO
from itertools import pairwise

import cv2
import numpy as np
from numpy.typing import NDArray
from PIL import Image

from tonematch.arrays import Array
from tonematch.errors import AreaError, CardError
from tonematch.measure.area.areas import polygon_area
from tonematch.measure.area.pixels import MIDDLE_GREY, area_pixels, plain_pixels
from tonematch.measure.core import Area
from tonematch.photo.core import Photo
from tonematch.photo.limits import limits
from tonematch.photo.preview import preview_png

_ROWS, _COLUMNS = 4, 6
# Side of a patch, and of the part of it that is read, in parts of the distance between patches.
_PATCH, _READ = 0.87, 0.5
_SEARCHED = (1600, 900, 2600)
_SMALLEST_SEARCHED = 900


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

    def without(self, name: str) -> "Chart":
        """The chart with one patch fewer, to be tested on that patch."""
        rest = {patch: area for patch, area in self.patches.items() if patch != name}
        return replace(self, patches=rest)


def grey_patches() -> tuple[str, ...]:
    """Names of the six neutrals, lightest first."""
    return tuple(name for name in chart_reference() if name.startswith(("white", "neutral", "bla")))


def find_chart(photo: Photo) -> Chart | None:
    """Look for a 24-patch chart anywhere in a photograph.

    Returns
    -------
    Chart or None
        None where none is found, or what was found does not hold the chart's colours.
    """
    tried = []
    for longest in _SEARCHED:
        png, scale = preview_png(photo, longest)
        picture = np.asarray(Image.open(BytesIO(png)))[..., ::-1]
        longer = max(picture.shape[:2])
        if longer in tried:
            continue
        tried.append(longer)
        if longer < _SMALLEST_SEARCHED:  # patches of ten pixels are too small for the detector
            larger = _SMALLEST_SEARCHED / longer
            picture = cv2.resize(np.ascontiguousarray(picture), None, fx=larger, fy=larger,
                                 interpolation=cv2.INTER_CUBIC)  # fmt: skip
            scale *= larger
        centres = _detect(np.ascontiguousarray(picture, dtype=np.uint8))
        if centres is not None:
            chart = _turned_by_content(photo, _homography(_GRID, centres / scale))
            if chart is not None:
                return chart
    return None


def chart_at(photo: Photo, corners: Sequence[tuple[float, float]]) -> Chart:
    """A chart whose corners were marked.

    Parameters
    ----------
    corners : sequence of four (x, y)
        The outer corners of the chart's four corner patches, in any order.

    Raises
    ------
    AreaError
        Where these are not four corners of a shape with some size inside the picture.
    CardError
        Where the patches there do not have the chart's colours.
    """
    places = np.asarray(corners, dtype=np.float64)
    if places.shape != (4, 2) or not np.isfinite(places).all():
        raise AreaError("A chart is marked by its four corners: give four pairs of x and y.")
    polygon_area("chart", [(float(x), float(y)) for x, y in places])
    away = places - places.mean(axis=0)
    around = places[np.argsort(np.arctan2(away[:, 1], away[:, 0]))]
    half = _PATCH / 2.0
    right, low = _COLUMNS - 1 + half, _ROWS - 1 + half
    grid = np.array([(-half, -half), (right, -half), (right, low), (-half, low)])
    homography = _homography(grid, around)
    chart = _turned_by_content(photo, homography) if homography is not None else None
    if chart is None:
        turned = _homography(grid, np.roll(around, 1, axis=0))
        chart = _turned_by_content(photo, turned)
    if chart is None:
        raise CardError(
            "What is marked as the chart does not have its colours: mark the outer corners of "
            "the four corner patches, and check that the chart has 24 patches."
        )
    return chart


def patch_light(photo: Photo, chart: Chart) -> dict[str, Array]:
    """Mean decoded light of each patch that can be read.

    Returns
    -------
    dict from patch name to ndarray, shape (3,)
        Patches that are clipped, or too dark for any light in a channel, are left out.
    """
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


_GRID: Array = np.array(
    [(column, row) for row in range(_ROWS) for column in range(_COLUMNS)], dtype=np.float64
)


def _detect(picture: NDArray[np.uint8]) -> Array | None:
    """Middles of the 24 patches, row by row, by OpenCV's detector."""
    detector = cv2.mcc.CCheckerDetector.create()
    detector.setColorChartType(cv2.mcc.MCC24)
    if not detector.process(picture, 1):
        return None
    corners = np.asarray(detector.getBestColorChecker().getColorCharts(), dtype=np.float64)
    if corners.size != _ROWS * _COLUMNS * 8:
        return None
    return np.asarray(corners.reshape(-1, 4, 2).mean(axis=1))


def _homography(grid: Array, places: Array) -> Array | None:
    found, _ = cv2.findHomography(grid, places)
    return None if found is None else np.asarray(found, dtype=np.float64)


def _turned_by_content(photo: Photo, homography: Array | None) -> Chart | None:
    """The chart with its patches named as their colours are, by the better of two half turns."""
    if homography is None:
        return None
    areas = _areas(homography)
    if any(not _inside(photo, area) for area in areas):
        return None
    names = list(chart_reference())
    light = patch_light(photo, Chart(dict(zip(names, areas, strict=True))))
    readable = [names.index(name) for name in light]
    if len(readable) < len(names) // 2:
        return None
    seen = np.cbrt(np.maximum(np.array(list(light.values())), 0.0))
    known = np.cbrt(np.array(list(chart_reference().values())))
    turns = {False: np.arange(24), True: np.arange(24)[::-1]}
    misfits = {turn: _misfit(seen, known[order[readable]]) for turn, order in turns.items()}
    turn = min(misfits, key=lambda one: misfits[one])
    if misfits[turn] > limits("chart")["misfit_refused"]:
        return None
    order = turns[turn]
    return Chart({names[order[k]]: _named(areas[k], names[order[k]]) for k in range(24)})


def _misfit(seen: Array, known: Array) -> float:
    """Share of the variance of the known colours that no affine map of the seen ones explains."""
    design = np.column_stack([np.ones(len(seen)), seen])
    found, *_ = np.linalg.lstsq(design, known, rcond=None)
    left = known - design @ found
    return float((left**2).sum() / ((known - known.mean(axis=0)) ** 2).sum())


def _areas(homography: Array) -> list[Area]:
    half = _READ / 2.0
    square = np.array([(-half, -half), (half, -half), (half, half), (-half, half)])
    corners = (_GRID[:, None, :] + square).reshape(-1, 1, 2)
    places = cv2.perspectiveTransform(corners, homography).reshape(-1, 4, 2)
    return [Area("patch", tuple((float(x), float(y)) for x, y in patch)) for patch in places]


def _inside(photo: Photo, area: Area) -> bool:
    corners = np.array(area.corners)
    turns = [
        (b[0] - a[0]) * (c[1] - b[1]) - (b[1] - a[1]) * (c[0] - b[0])
        for (a, b), c in zip(
            pairwise([*area.corners, area.corners[0]]),
            [*area.corners[2:], *area.corners[:2]],
            strict=True,
        )
    ]
    convex = len({turn > 0 for turn in turns}) == 1
    return bool(
        convex
        and np.isfinite(corners).all()
        and (corners >= 0).all()
        and (corners <= (photo.width, photo.height)).all()
    )


def _named(area: Area, name: str) -> Area:
    return Area(name, area.corners)
