"""Where a 24-patch chart may lie in a picture: detected at several sizes, settled on its patches.

The detector's grid is only roughly right; a patch is where its colour is even, so the grid is
laid through the middles of the even fields that are found around its places.
"""

from collections.abc import Iterator

import cv2
import numpy as np
from numpy.typing import NDArray

from tonematch.arrays import Array
from tonematch.photo.core import Photo
from tonematch.photo.preview import preview

ROWS, COLUMNS = 4, 6
GRID: Array = np.array([(x, y) for y in range(ROWS) for x in range(COLUMNS)], dtype=np.float64)
"""Middles of the patches, row by row; the distance between neighbours is 1."""

Picture = NDArray[np.uint8]

# Longest sides of the pictures that are made of a photograph, and those at which each is searched:
# the detector's windows are of fixed size, so that a chart missed at one is found at another. The
# cheap and likely ones come first.
SEEN = 1600
_SEARCHED = {SEEN: (800, 500, 1100, 1600, 350), 2600: (2600,)}
_AT_A_GLANCE = {800: (800,)}
# Patches below ten pixels or so are too small for the detector: small pictures are enlarged.
_SMALLEST = 800
# Pixels from patch to patch, and patches around the grid, in the view that it is settled in.
_PITCH, _MARGIN = 24, 1
# A pixel belongs to a patch within so much of its middle in every channel, as a share of the code
# value of the chart's white.
_ALIKE = 0.06
# Width of a patch as found, in distances between patches; a field may touch its dark frame.
_NARROWEST, _WIDEST = 0.6, 0.99
_FEWEST_FIELDS = 8
_ROUNDS = 3


def candidates(photo: Photo, at_a_glance: bool) -> Iterator[tuple[Picture, float, Array]]:
    """Where the detector sees a chart in a photograph, at all its sizes or at the likeliest.

    Yields
    ------
    picture : ndarray, shape (h, w, 3)
        sRGB.
    scale : float
        Pixels of the picture for one of the photograph.
    guess : ndarray, shape (3, 3)
        Homography from `GRID` to pixels of the picture.
    """
    for largest, sizes in (_AT_A_GLANCE if at_a_glance else _SEARCHED).items():
        picture, scale = preview(photo, largest)
        longest = max(picture.shape[:2])
        for size in dict.fromkeys(max(_SMALLEST, min(size, longest)) for size in sizes):
            times = size / longest
            way = cv2.INTER_AREA if times < 1 else cv2.INTER_CUBIC
            seen = cv2.resize(picture, None, fx=times, fy=times, interpolation=way)
            centres = _detect(np.ascontiguousarray(seen[..., ::-1], dtype=np.uint8))
            guess = None if centres is None else homography(GRID, centres / times)
            if guess is not None:
                yield picture, scale, guess
        if scale == 1.0:
            return


def _detect(picture: Picture) -> Array | None:
    """Middles of the 24 patches, row by row, by OpenCV's detector; BGR."""
    detector = cv2.mcc.CCheckerDetector.create()
    detector.setColorChartType(cv2.mcc.MCC24)
    if not detector.process(picture, 1):
        return None
    corners = np.asarray(detector.getBestColorChecker().getColorCharts(), dtype=np.float64)
    if corners.size != ROWS * COLUMNS * 8:
        return None
    return np.asarray(corners.reshape(-1, 4, 2).mean(axis=1))


def homography(grid: Array, places: Array) -> Array | None:
    """The homography from points of the grid to places; None where there is none."""
    found, _ = cv2.findHomography(grid, places)
    return None if found is None else np.asarray(found, dtype=np.float64)


def settled(picture: Picture, guess: Array) -> Array:
    """A homography moved so that the grid meets the patches; as it was where they are not seen.

    Picture and guess are as of `candidates`, the guess off by less than half a patch.
    """
    for _ in range(_ROUNDS):
        view = _view(picture, guess)
        fields = [_field(view, *place) for place in GRID]
        found = [k for k, field in enumerate(fields) if field is not None]
        if len(found) < _FEWEST_FIELDS:
            return guess
        seen = np.array([fields[k] for k in found])
        moved, _ = cv2.findHomography(GRID[found], seen, cv2.LMEDS)
        if moved is None:
            return guess
        guess = guess @ moved
    return guess


def uneven(picture: Picture, at: Array, side: float) -> list[int]:
    """Which squares around the grid's places, by a homography, reach beyond an even field.

    Their side is in distances between patches.
    """
    view = _view(picture, at)
    half = round(side * _PITCH / 2.0)
    off = []
    for k, place in enumerate(GRID):
        x, y = (int((value + _MARGIN) * _PITCH) for value in place)
        square = view[y - half : y + half + 1, x - half : x + half + 1]
        apart = np.abs(square - np.median(square, axis=(0, 1))).max(axis=-1)
        if np.mean(apart > _ALIKE) > 0.02:
            off.append(k)
    return off


def _view(picture: Picture, at: Array) -> Array:
    """The chart seen square on, the grid's places `_PITCH` pixels apart."""
    to_grid = np.array([(1 / _PITCH, 0, -_MARGIN), (0, 1 / _PITCH, -_MARGIN), (0, 0, 1)])
    size = ((COLUMNS - 1 + 2 * _MARGIN) * _PITCH + 1, (ROWS - 1 + 2 * _MARGIN) * _PITCH + 1)
    way = cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP
    seen = cv2.warpPerspective(picture, at @ to_grid, size, flags=way)
    calm = cv2.medianBlur(seen, 3)
    return np.asarray(calm / max(float(np.percentile(calm, 98)), 1.0), dtype=np.float64)


def _field(view: Array, x: float, y: float) -> tuple[float, float] | None:
    """Middle of the even field around a place of the grid, where it is as large as a patch."""
    column, row = (int((value + _MARGIN) * _PITCH) for value in (x, y))
    reach = _PITCH
    part = view[row - reach : row + reach + 1, column - reach : column + reach + 1]
    colour = np.median(part[reach - 3 : reach + 4, reach - 3 : reach + 4], axis=(0, 1))
    alike = (np.abs(part - colour).max(axis=-1) < _ALIKE).astype(np.uint8)
    _, labels = cv2.connectedComponents(alike, connectivity=4)
    here = labels[reach, reach]
    if here == 0:
        return None
    middle = []
    for axis, place in ((0, x), (1, y)):
        counts = (labels == here).sum(axis=axis)
        wide = np.flatnonzero(counts > counts.max() / 2)
        if not _NARROWEST * _PITCH < len(wide) < _WIDEST * _PITCH:
            return None
        middle.append(place + (float(wide.mean()) - reach) / _PITCH)
    return middle[0], middle[1]
