"""One place of a piece in two photographs, laid over one another: how it was and how it is.

The marked areas tell where the place lies; both are shown on their own card, so that what is
lighter in the picture was lighter on the bench.
"""

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from tonematch.arrays import Array
from tonematch.measure.appearance.area_picture import part_lab, picture_step
from tonematch.measure.area.areas import around, bounds, box_area
from tonematch.measure.core import Area, Reading
from tonematch.photo.core import Photo

# Longest side of such a picture in pixels, and how far the areas may part, as a share of their
# spread, before they must have been marked at other places: choices of this project, no source.
_LONGEST, _APART = 900, 0.25


@dataclass(frozen=True, eq=False)
class View:
    """A photograph of a place: the repair's reading with its calibration, and the areas there.

    `areas` are the repair and maybe the original, in the same order in every view of one place.
    """

    photo: Photo
    reading: Reading
    areas: tuple[Area, ...]


@dataclass(frozen=True, eq=False)
class SamePlace:
    """A place before and after, CIELAB (h, w, 3) each.

    `repair` is how far across the picture the middle of the repair lies, as a share.
    """

    before: Array
    after: Array
    repair: float


def same_place(
    first: View, second: View, *, shown: tuple[int, int, int, int] | None = None
) -> SamePlace:
    """The place in both photographs, the second moved and scaled to lie as in the first.

    `shown` is the part of the first that is shown: what is around its areas unless given.
    """
    turn, shift = _similarity(first, second)
    shown = shown or bounds(box_area("place", around(first.photo, first.areas)))
    left, top, right, bottom = shown
    step = picture_step(shown, _LONGEST)
    before = part_lab(first.photo, first.reading, shown, step)
    there = turn * np.array([complex(x, y) for x in (left, right) for y in (top, bottom)]) + shift
    part = _part(second.photo, there)
    finer = max(1, int(step * abs(turn)))
    after = part_lab(second.photo, second.reading, part, finer)
    # From pixels of the one picture to those of the other, as numbers of the complex plane.
    grow = turn * step / finer
    start = (turn * complex(left, top) + shift - complex(*part[:2])) / finer
    warp = np.array([[grow.real, -grow.imag, start.real], [grow.imag, grow.real, start.imag]])
    laid = cv2.warpAffine(
        after.astype(np.float32),
        warp,
        (before.shape[1], before.shape[0]),
        flags=cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP,
        borderMode=cv2.BORDER_REPLICATE,
    )
    x0, _, x1, _ = bounds(first.areas[0])
    middle = ((x0 + x1) / 2.0 - left) / (right - left)
    return SamePlace(before, np.asarray(laid, dtype=np.float64), middle)


def _similarity(first: View, second: View) -> tuple[complex, complex]:
    """Turn and scale, and shift, by which the areas of the first come to lie on the second's.

    Least squares over the corners of the boxes around them; over those of the repair alone where
    the original was marked at another place, or not in both photographs.
    """
    most = min(len(first.areas), len(second.areas))
    for count in range(most, 0, -1):
        one, other = (_corners(view.areas[:count]) for view in (first, second))
        from_, to = one - one.mean(), other - other.mean()
        turn = complex(np.vdot(from_, to) / np.vdot(from_, from_).real)
        if np.abs(to - turn * from_).max() < _APART * np.abs(to).max():
            break
    return turn, complex(other.mean() - turn * one.mean())


def _corners(areas: tuple[Area, ...]) -> NDArray[np.complex128]:
    boxes = map(bounds, areas)
    return np.array([complex(x, y) for x0, y0, x1, y1 in boxes for x in (x0, x1) for y in (y0, y1)])


def _part(photo: Photo, corners: NDArray[np.complex128]) -> tuple[int, int, int, int]:
    """The box around some points, as far as the picture goes."""
    x0, x1 = np.clip([corners.real.min(), corners.real.max()], 0, photo.width)
    y0, y1 = np.clip([corners.imag.min(), corners.imag.max()], 0, photo.height)
    return int(x0), int(y0), int(np.ceil(x1)), int(np.ceil(y1))
