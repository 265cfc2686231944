"""What a mean is unsure of because the file keeps whole steps: of code values, of JPEG blocks.

A step of width q leaves a variance of q^2 / 12 (JCGM 100:2008, 4.3.7) while what is rounded lies
still. Where it is scattered by s, a share r of that is common to all and stays in the mean, the
rest is averaged: under a Gaussian scatter exp(-(2 pi s / q)^2), under a slope of light or mottle
up to about (2 pi s / q)^-2 (Widrow and Kollár 2008); here r = 1 / (1 + (2 pi s / q)^2).

ITU-T T.81 (A.3.3, A.3.4) rounds waves over blocks of 8 by 8 samples of Y, Cb and Cr, a block's
mean to steps q = Q00 / 8; decoded, samples are rounded to whole values. Of an area of n blocks
the mean of Y, Cb or Cr has

    variance = (q^2 (r + (1 - r) / n) + q1^2 (2 / 3) / n + r1) / 12,

r1 being the share for steps of 1; what is rounded before, the sensor's noise has scattered. Other
waves than the mean cancel in whole blocks; in the 4 root(n) blocks at the rim, of which the area
covers a part, they hold 64 (1/2 - 1/3) of a block's 64^2 in variance, alike along each side, with
steps near q1 = Q01 / 8. Where Cb and Cr have one sample for several pixels, n is so many times
smaller. Colours that bleed into an area from another surface, within half a block of Cb and Cr (8
pixels at 4:2:0), are not in it: of them `check_border` warns. Forms of r and r1, and how near
matters, were chosen on `tests/measure/compression_table.py`.
"""

import math

import cv2
import numpy as np
from numpy.typing import NDArray

from tonematch.arrays import Array, Matrix3, Vector3
from tonematch.measure.area.areas import bounds, inside
from tonematch.measure.area.noise import block_means
from tonematch.measure.area.pixels import Pixels
from tonematch.measure.core import BY_MEDIAN, Area
from tonematch.photo.compression import Compression
from tonematch.photo.core import Photo
from tonematch.photo.light import highest_code

_BLOCK = 8
# Another surface differs by this share of the range, and by so many robust deviations of the
# area's own mottle, over this share of what is near; of worn gold as much is unlike within, and so
# many times that share is its own: choices of this project, no source.
_UNLIKE, _SIGMAS, _SHARE, _WORN = 0.06, 4.0, 0.05, 1.5
_SEEN = 20_000  # pixels of an area that tell its colour and mottle well enough
# From the lowest to the highest tenth of normal values, in standard deviations.
_DECILES = 2.563
# Y, Cb, Cr and back, ITU-T T.871, clause 7; red, green, blue down the rows of the second.
_TO_YCC = np.array(
    [(0.299, 0.587, 0.114), (-0.168736, -0.331264, 0.5), (0.5, -0.418688, -0.081312)]
)
_TO_RGB = np.linalg.inv(_TO_YCC)


def rounding_covariance(pixels: Pixels, kept: NDArray[np.bool_], light: Array) -> Matrix3:
    """Covariance (3, 3) of the mean of an area's light by the file's steps.

    Of the pixels only places, tables and compression count; light (m, 3) is linear RGB as decoded
    of those kept. It is 0 where the picture is not coded in whole values, or through no table of
    one channel.

    References
    ----------
    ITU-T T.81 | ISO/IEC 10918-1:1994; ITU-T T.871. Widrow, B. and Kollár, I. (2008). Quantization
    Noise. Cambridge University Press.
    """
    if pixels.decoders is None:
        return np.zeros((3, 3))
    step = _code_steps(pixels.decoders, light.mean(axis=0))
    if pixels.compression is None:
        return np.diag(step**2 / 12.0 * _in_common(light.std(axis=0), step))
    highest = len(pixels.decoders[0]) - 1
    by_code = step * (highest / 255.0)
    ycc = (light - light.mean(axis=0)) / by_code @ _TO_YCC.T
    places = np.stack([pixels.x, pixels.y], axis=-1)[kept]
    blocks = np.diag(_block_variance(pixels.compression, ycc, places))
    # Y comes in whole values: what rounds red, green and blue is chroma alone.
    codes = np.diag(_common_of(ycc[:, 1:] @ _TO_RGB[:, 1:].T) / 12.0)
    return np.asarray((_TO_RGB @ blocks @ _TO_RGB.T + codes) * np.outer(by_code, by_code))


def check_border(photo: Photo, area: Area) -> list[str]:
    """Whether another surface lies so near an area that the file's blocks mix their colours."""
    if photo.compression is None:
        return []
    reach = round(_BLOCK * math.sqrt(photo.compression.shared) / 2.0)
    x0, y0, x1, y1 = bounds(area)
    left, top = max(0, x0 - reach), max(0, y0 - reach)
    view = cv2.medianBlur(
        np.ascontiguousarray(photo.encoded[top : y1 + reach, left : x1 + reach]), 5
    )
    x, y = np.arange(left + 0.5, left + view.shape[1]), np.arange(top + 0.5, top + view.shape[0])
    within = inside(area, x, y)
    near = cv2.dilate(within.astype(np.uint8), np.ones((2 * reach + 1, 2 * reach + 1), np.uint8))
    around = view[(near > 0) & ~within].astype(np.float64)
    own = view[within][:: max(1, int(within.sum()) // _SEEN)].astype(np.float64)
    if not len(own) or not len(around):
        return []
    level = np.median(own, axis=0)
    mottle = BY_MEDIAN * np.median(np.abs(own - level), axis=0)
    unlike = np.maximum(_UNLIKE * highest_code(photo.encoded), _SIGMAS * mottle)
    near_share, own_share = (
        float((np.abs(codes - level) > unlike).any(axis=1).mean()) for codes in (around, own)
    )
    if near_share < _SHARE + _WORN * own_share:
        return []
    return [
        f"Another surface lies within {reach} pixels of '{area.name}', and the file's compression "
        "mixes their colours: mark it a little further in."
    ]


def _code_steps(decoders: tuple[NDArray[np.float32], ...], mean: Vector3) -> Vector3:
    """Linear light from one code value to the next at a mean, per channel."""
    step = np.empty(3)
    for c, table in enumerate(decoders):
        at = int(np.clip(np.searchsorted(table, mean[c]), 1, len(table) - 1))
        step[c] = max(float(table[at] - table[at - 1]), 1e-9)
    return step


def _in_common(spread: Array, step: Array) -> Array:
    """Share of a rounding's variance that all have in common."""
    return np.asarray(1.0 / (1.0 + (2.0 * np.pi * spread / step) ** 2))


def _common_of(values: Array, step: float = 1.0) -> Array:
    """The same of the columns of values that were rounded to steps.

    Their spread is told by deciles, since blocks at the rim ring; the rounding's own share of it
    is taken off (Sheppard's correction).
    """
    low, high = np.quantile(values, (0.1, 0.9), axis=0)
    seen = ((high - low) / _DECILES) ** 2
    return _in_common(np.sqrt(np.maximum(seen - step**2 / 12.0, 0.0)), np.asarray(step))


def _block_variance(compression: Compression, ycc: Array, places: Array) -> Vector3:
    """Variance of the means of Y, Cb, Cr by the file's steps, in squared code values of 255."""
    found = np.empty(3)
    whole = _common_of(ycc)
    for c, shared in enumerate((1, compression.shared, compression.shared)):
        side = _BLOCK * np.sqrt(shared)
        column, row = (places // side).astype(np.int64).T
        means, _ = block_means(ycc[:, c : c + 1], row * (column.max() + 1) + column)
        q, q1 = compression.mean[c], compression.slope[c]
        r = float(_common_of(means, q)[0])
        n = max(len(places) / side**2, 1.0)
        found[c] = (q**2 * (r + (1.0 - r) / n) + q1**2 * 2.0 / 3.0 / n + whole[c]) / 12.0
    return found
