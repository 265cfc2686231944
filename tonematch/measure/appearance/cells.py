"""An area cut into cells, and cells gathered into blocks wider than its mottling."""

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from tonematch.arrays import Array
from tonematch.errors import ReadingError
from tonematch.measure.appearance.area_picture import AreaPicture
from tonematch.measure.colour.difference import picture_difference

# Blocks are so many correlation lengths wide, and there must be so many of them in each area.
_BLOCK_LENGTHS, _SMALLEST_BLOCK = 2.0, 6
FEWEST_BLOCKS = 12
_WELL_USED = 0.7
_NOTHING = 1e-6  # variance in CIELAB below which an area is one colour, rounding apart


@dataclass(frozen=True, eq=False)
class Cells:
    """An area as cells.

    Attributes
    ----------
    lab : ndarray, shape (h, w, 3)
        CIELAB, a steady change across the area taken off and the mean kept.
    used : ndarray, shape (h, w), bool
    length : float
        Correlation length in cells, where the autocorrelation has fallen to 1/e; noise apart.
    own : float
        Share of the variance that is the surface's own, and not noise that each cell has for
        itself.
    """

    lab: Array
    used: NDArray[np.bool_]
    length: float
    own: float


@dataclass(frozen=True, eq=False)
class Block:
    """A square of cells: `lab` of shape (side, side, 3), `used` of shape (side, side)."""

    lab: Array
    used: NDArray[np.bool_]

    def cells(self) -> Array:
        """Lab of the cells that are used, shape (n, 3)."""
        return self.lab[self.used]


def cut_into_cells(picture: AreaPicture) -> Cells:
    """Cells of an area, each a pixel of its picture; ReadingError where they are too few."""
    rows, columns = np.nonzero(picture.used)
    if len(rows) < FEWEST_BLOCKS * _SMALLEST_BLOCK**2:
        raise ReadingError(
            f"The area '{picture.name}' is too small to judge its evenness: mark a larger one, or "
            "photograph from nearer."
        )
    lab = picture.lab()
    flat = np.zeros_like(lab)
    flat[picture.used] = without_slope(lab[picture.used], np.column_stack([rows, columns]))
    return Cells(flat, picture.used, *_correlation(flat, picture.used))


def without_slope(lab: Array, places: Array) -> Array:
    """Colours (n, 3) at places (n, 2) without a steady change across them, their mean kept."""
    apart = places - places.mean(axis=0)
    slope, *_ = np.linalg.lstsq(apart, lab - lab.mean(axis=0), rcond=None)
    return np.asarray(lab - apart @ slope)


def autocovariance(fields: Array, used: NDArray[np.bool_]) -> tuple[Array, Array]:
    """How alike cells are by their distance apart, each of k fields (h, w, k) by itself.

    By the Wiener-Khinchin theorem, over a surrounding of zeros, with the mask's own autocorrelation
    divided out. The mean over all directions at 0, 1, ... cells, up to half the shorter side, shape
    (m, k); and from how many pairs of cells, (m,), each counted both ways.
    """
    shape = [2 * n for n in used.shape]
    apart = np.where(used[..., None], fields - fields[used].mean(axis=0), 0.0)
    power = np.abs(np.fft.rfft2(apart, shape, axes=(0, 1))) ** 2
    mask = np.abs(np.fft.rfft2(used.astype(np.float64), shape)) ** 2
    covariance = np.fft.irfft2(power, shape, axes=(0, 1))
    rows, columns = (np.minimum(np.arange(n), n - np.arange(n)) for n in shape)
    ring = np.rint(np.hypot(rows[:, None], columns[None])).astype(int)
    most = min(used.shape) // 2
    near = ring <= most
    sums, pairs = (
        np.stack([np.bincount(ring[near], one[near], most + 1) for one in np.moveaxis(a, -1, 0)])
        for a in (covariance, np.fft.irfft2(mask, shape)[..., None])
    )
    return sums.T / np.maximum(pairs.T, 1.0), pairs[0]


def _correlation(lab: Array, used: NDArray[np.bool_]) -> tuple[float, float]:
    """Correlation length, and the share of the variance that neighbouring cells have in common.

    Noise of the camera is no neighbour's: what a parabola through the next two distances foretells
    at none is the surface's own variance, and its 1/e tells the length.
    """
    covariance, _ = autocovariance(lab, used)
    falling = covariance.sum(axis=-1)
    if falling[0] <= _NOTHING:
        return 1.0, 0.0
    own = min(float(4.0 * falling[1] - falling[2]) / 3.0, float(falling[0]))
    if own <= 0.0:
        return 1.0, 0.0
    falling[0] = own
    below = np.flatnonzero(falling <= own / math.e)
    share = own / float(covariance[0].sum())
    if len(below) == 0:
        return float(len(falling) - 1), share
    k = int(below[0])
    high, low = falling[k - 1], falling[k]
    return float(k - 1 + (high - own / math.e) / (high - low)), share


def blocks_of(cells: Cells, side: int) -> list[Block]:
    """Every well filled block."""
    height, width = (n // side for n in cells.used.shape)
    top, left = (
        (n - m * side) // 2 for n, m in zip(cells.used.shape, (height, width), strict=True)
    )
    found = []
    for row in range(height):
        for column in range(width):
            y, x = top + row * side, left + column * side
            part = np.s_[y : y + side, x : x + side]
            used = cells.used[part]
            if used.mean() >= _WELL_USED:
                found.append(Block(cells.lab[part], used))
    return found


def block_side(one: Cells, other: Cells) -> int:
    """Cells along the side of a block that is wider than the mottling of both."""
    return max(_SMALLEST_BLOCK, round(_BLOCK_LENGTHS * max(one.length, other.length)))


def mottle(lab: Array) -> float:
    """Mean CIEDE2000 of colours (n, 3) from their mean."""
    middle = lab.mean(axis=0).astype(np.float32)
    return float(picture_difference(lab.astype(np.float32), middle).mean())
