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
from collections.abc import Sequence
from dataclasses import dataclass, replace

import cv2
import numpy as np
from numpy.typing import NDArray

from tonematch.errors import AreaError
from tonematch.measure.areas import bounds, check_inside
from tonematch.measure.core import Area
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
    """The same part of several photographs, pixel over pixel.

    Attributes
    ----------
    parts : tuple of Photo
        Each photograph as linear light, filled in around the area alone and moved so that the
        piece lies as in the first; a pixel that is clipped in the photograph is at 1 in all
        three channels.
    shifts : ndarray, shape (n, 2)
        How far each photograph was moved, x and y in pixels of the original.
    warnings : tuple of str
    """

    parts: tuple[Photo, ...]
    shifts: NDArray[np.float64]
    warnings: tuple[str, ...] = ()


def overlay(photos: Sequence[Photo], area: Area) -> Overlay:
    """Lay the part around an area of every photograph over that of the first.

    Parameters
    ----------
    photos : sequence of Photo
        One or more, of one size; the area is marked on the first.
    area : Area

    Returns
    -------
    Overlay
        With a warning for every photograph that could not be laid over the first surely; it is
        taken as it is.

    Raises
    ------
    AreaError
        Where the photographs differ in size or the area reaches outside them.
    """
    first = photos[0]
    check_inside(first, area)
    for photo in photos[1:]:
        if (photo.width, photo.height) != (first.width, first.height):
            raise AreaError(
                f"'{photo.name}' and '{first.name}' differ in size: take all pictures of a spot "
                "with the camera fixed and its settings unchanged."
            )
    x0, y0, x1, y1 = bounds(area)
    if (x1 - x0) * (y1 - y0) > _MOST_SPANNED:
        raise AreaError(
            f"The area '{area.name}' is too large for several pictures to be laid over one "
            "another: mark a part of it."
        )
    box = _around(first, area)
    step = max(1, math.ceil(math.sqrt((box[2] - box[0]) * (box[3] - box[1]) / _MOST_COMPARED)))
    fixed = _fine_structure(linear_light(first, *box, step))
    parts, shifts, warnings = [], [], []
    for photo in photos:
        warp = np.eye(2, 3, dtype=np.float32)
        if photo is not first:
            warp, sure = _find_warp(fixed, _fine_structure(linear_light(photo, *box, step)))
            warp[:, 2] *= step
            if not sure:
                warnings.append(
                    f"'{photo.name}' could not be laid over '{first.name}' surely: keep camera "
                    "and piece still while the lamp is moved."
                )
        parts.append(_moved(photo, box, warp))
        shifts.append(warp[:, 2])
    return Overlay(tuple(parts), np.array(shifts, dtype=np.float64), tuple(warnings))


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
    deviation = 1.4826 * float(np.median(np.abs(fine))) or 1.0
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


def _moved(photo: Photo, box: tuple[int, int, int, int], warp: NDArray[np.float32]) -> Photo:
    light, white = linear_light(photo, *box), clipped(photo, *box)
    if not np.array_equal(warp, np.eye(2, 3)):
        light = _warp(light, warp)
        white = _warp(white.astype(np.float32), warp) > 0.01
    # Zeros take no memory until they are written to.
    whole = np.zeros((photo.height, photo.width, 3), dtype=np.float32)
    x0, y0, x1, y1 = box
    whole[y0:y1, x0:x1] = np.where(white[..., None], np.float32(1.0), light)
    return replace(photo, encoded=whole, decoders=None, lut=None)
