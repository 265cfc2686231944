"""Several pictures of one spot, laid over one another: fixed camera, the lamp moved between.

Even on a stand a camera shifts by a pixel or two when its button is pressed, and a gleam that
walks with the lamp must not be taken for movement. What is compared is therefore the fine
structure of the logarithm of light, with its extremes cut off.

References
----------
Evangelidis, G. D. and Psarakis, E. Z. (2008). Parametric image alignment using enhanced
correlation coefficient maximization. IEEE Transactions on Pattern Analysis and Machine
Intelligence 30(10), 1858-1865.
"""

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from tonematch.arrays import Array
from tonematch.errors import AreaError
from tonematch.measure.area.areas import bounds, check_inside, pixel_step
from tonematch.measure.area.pixels import Pixels, area_pixels, pixels_of
from tonematch.measure.core import BY_MEDIAN, Area
from tonematch.photo.core import FloatPicture, Photo
from tonematch.photo.light import clipped, linear_light

# Pixels that movement is found on, and the most that an area may span.
_MOST_COMPARED, _MOST_SPANNED = 400_000, 3_000_000
_SMALLEST_MARGIN = 24
# Scale of the fine structure, in pixels, and how many deviations of it are kept.
_FINE, _CUT = 6.0, 2.0
_GREATEST_SHIFT = 0.1
_SURE = 0.3


@dataclass(frozen=True, eq=False)
class Overlay:
    """An area of several photographs, pixel over pixel.

    Attributes
    ----------
    pixels : tuple of Pixels
        The area's pixels in each photograph, moved so that the piece lies as in the first. Of a
        pixel that was moved and is clipped, all three channels are at 1.
    shifts : ndarray, shape (n, 2)
        How far each photograph was moved, x and y in pixels of the original.
    """

    pixels: tuple[Pixels, ...]
    shifts: Array
    warnings: tuple[str, ...] = ()


@dataclass(frozen=True, eq=False)
class _Spot:
    """What is kept of an area of the first photograph, to lay the others over it.

    Movement is found on every `step`-th pixel of a box around it, by their fine structure; `name`
    and `size` (width and height) are those of the photograph.
    """

    area: Area
    name: str
    size: tuple[int, int]
    box: tuple[int, int, int, int]
    step: int
    fixed: FloatPicture


@dataclass(frozen=True, eq=False)
class _View:
    """An area in one photograph, laid over the first; a warning where that is not sure."""

    pixels: Pixels
    shift: NDArray[np.float32]
    warning: str = ""


def overlay(photos: Iterable[Photo], areas: Sequence[Area]) -> tuple[Overlay, ...]:
    """Lay areas of every photograph over those of the first, on which they were marked.

    Each of the photographs is asked for once and not kept, so that no more than one is in memory
    where they are decoded on the way. One that cannot be laid over the first surely is taken as it
    is, with a warning. Raises AreaError where they differ in size or an area reaches outside them.
    """
    spots: list[_Spot] = []

    def seen(photo: Photo) -> list[_View]:
        if spots:
            return [_laid_over(spot, photo) for spot in spots]
        spots.extend(_spot(photo, area) for area in areas)
        return [_View(area_pixels(photo, area), np.zeros(2, np.float32)) for area in areas]

    # A loop's variable would hold on to a photograph while the next one is decoded.
    views = list(map(seen, photos))
    return tuple(_overlay_of(of_area) for of_area in zip(*views, strict=True))


def _overlay_of(views: Sequence[_View]) -> Overlay:
    shifts = np.array([view.shift for view in views], dtype=np.float64)
    warnings = tuple(view.warning for view in views if view.warning)
    return Overlay(tuple(view.pixels for view in views), shifts, warnings)


def _spot(first: Photo, area: Area) -> _Spot:
    check_inside(first, area)
    x0, y0, x1, y1 = bounds(area)
    if (x1 - x0) * (y1 - y0) > _MOST_SPANNED:
        raise AreaError(
            f"The area '{area.name}' is too large for several pictures to be laid over one "
            "another: mark a part of it."
        )
    box = _around(first, area)
    step = max(1, math.ceil(math.sqrt((box[2] - box[0]) * (box[3] - box[1]) / _MOST_COMPARED)))
    fixed = _fine_structure(linear_light(first, *box, step))
    return _Spot(area, first.name, (first.width, first.height), box, step, fixed)


def _laid_over(spot: _Spot, photo: Photo) -> _View:
    if (photo.width, photo.height) != spot.size:
        raise AreaError(
            f"'{photo.name}' and '{spot.name}' differ in size: take all pictures of a spot "
            "with the camera fixed and its settings unchanged."
        )
    moving = _fine_structure(linear_light(photo, *spot.box, spot.step))
    warp, sure = _find_warp(spot.fixed, moving)
    warp[:, 2] *= spot.step
    warning = "" if sure else (
        f"'{photo.name}' could not be laid over '{spot.name}' surely: keep camera and piece still "
        "while the lamp is moved."
    )  # fmt: skip
    return _View(_moved(spot, photo, warp), warp[:, 2], warning)


def _around(photo: Photo, area: Area) -> tuple[int, int, int, int]:
    """The area's bounds with a margin of half its size."""
    x0, y0, x1, y1 = bounds(area)
    margin = max(_SMALLEST_MARGIN, max(x1 - x0, y1 - y0) // 2)
    return (
        max(0, x0 - margin),
        max(0, y0 - margin),
        min(photo.width, x1 + margin),
        min(photo.height, y1 + margin),
    )


def _fine_structure(light: FloatPicture) -> FloatPicture:
    """Logarithm of light without its slow changes, in robust deviations, cut at both ends."""
    level = np.log(light.mean(axis=-1) + np.float32(1e-3))
    fine = level - cv2.GaussianBlur(level, (0, 0), _FINE)
    deviation = BY_MEDIAN * float(np.median(np.abs(fine))) or 1.0
    return np.asarray(np.clip(fine / deviation, -_CUT, _CUT), dtype=np.float32)


def _find_warp(fixed: FloatPicture, moving: FloatPicture) -> tuple[NDArray[np.float32], bool]:
    """Affine map from pixels of `fixed` to those of `moving`, and whether it is believed."""
    still = np.eye(2, 3, dtype=np.float32)
    window = cv2.createHanningWindow((fixed.shape[1], fixed.shape[0]), cv2.CV_32F)
    (x, y), _ = cv2.phaseCorrelate(fixed, moving, window)
    start = still.copy()
    start[:, 2] = x, y
    stop = (cv2.TERM_CRITERIA_EPS | cv2.TERM_CRITERIA_COUNT, 60, 1e-5)
    found = [(_likeness(fixed, moving, warp), warp) for warp in (still, start)]
    likeness, best = max(found, key=lambda pair: pair[0])
    for motion in (cv2.MOTION_TRANSLATION, cv2.MOTION_AFFINE):
        try:
            _, laid = cv2.findTransformECC(
                fixed, moving, best.copy(), motion, stop, np.ones(fixed.shape, np.uint8), 3
            )
        except cv2.error:  # it does not converge where the two have nothing in common
            continue
        tried = np.asarray(laid, dtype=np.float32)
        value = _likeness(fixed, moving, tried)
        if value > likeness and _is_small(tried, fixed.shape):
            likeness, best = value, tried
    if likeness < _SURE or not _is_small(best, fixed.shape):
        return still, False
    return best, True


def _likeness(fixed: FloatPicture, moving: FloatPicture, warp: NDArray[np.float32]) -> float:
    """Correlation of the two where they overlap."""
    laid = _warp(moving, warp)
    inner = _warp(np.ones_like(moving), warp) > 0.999
    if inner.sum() < 100:
        return -1.0
    a, b = fixed[inner] - fixed[inner].mean(), laid[inner] - laid[inner].mean()
    return float((a * b).sum() / math.sqrt(float((a * a).sum() * (b * b).sum()) + 1e-12))


def _is_small(warp: NDArray[np.float32], shape: tuple[int, ...]) -> bool:
    """Whether a map moves no corner by more than a tenth of the part's size."""
    h, w = shape[:2]
    corners = np.array([(0, 0, 1), (w, 0, 1), (0, h, 1), (w, h, 1)], dtype=np.float64)
    moved = corners @ warp.T.astype(np.float64) - corners[:, :2]
    return bool(np.abs(moved).max() <= _GREATEST_SHIFT * max(h, w))


def _warp(picture: FloatPicture, warp: NDArray[np.float32]) -> FloatPicture:
    size = (picture.shape[1], picture.shape[0])
    how = cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP
    laid = cv2.warpAffine(picture, warp, size, flags=how, borderMode=cv2.BORDER_REPLICATE)
    return np.asarray(laid, dtype=np.float32)


def _moved(spot: _Spot, photo: Photo, warp: NDArray[np.float32]) -> Pixels:
    """The area's pixels of a photograph that is moved by a map."""
    light, white = linear_light(photo, *spot.box), clipped(photo, *spot.box)
    if not np.array_equal(warp, np.eye(2, 3)):
        light = _warp(light, warp)
        white = _warp(white.astype(np.float32), warp) > 0.01
    x0, y0, x1, y1 = bounds(spot.area)
    step = pixel_step(spot.area)
    left, top = spot.box[:2]
    part = np.s_[y0 - top : y1 - top : step, x0 - left : x1 - left : step]
    light, white = light[part], white[part]
    return pixels_of(photo, spot.area, np.where(white[..., None], np.float32(1.0), light), white)
