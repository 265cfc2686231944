"""The pixels of an area, and which of them are plain surface."""

import math
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from tonematch.arrays import Array
from tonematch.measure.area.areas import bounds, check_inside, inside, pixel_step
from tonematch.measure.core import BY_MEDIAN, Area
from tonematch.photo.compression import Compression
from tonematch.photo.core import FloatPicture, Photo
from tonematch.photo.light import clipped, linear_light
from tonematch.swatchbook import limits

# Blocks across an area of square shape; 36 blocks in all leave a usable covariance and are
# larger than the grain of noise, JPEG blocks and demosaicing in any area worth marking.
_BLOCKS_ACROSS = 6
_MOST_ROUNDS = 20
# Reflectance to which neutrals are scaled before they are judged, as the limits are for mid-tones.
MIDDLE_GREY = 0.18


@dataclass(frozen=True, eq=False)
class Pixels:
    """Pixels of an area.

    Attributes
    ----------
    light : ndarray, shape (n, 3)
        Linear RGB.
    x, y : ndarray, shape (n,)
        Pixel centres in the upright picture.
    block : ndarray, shape (n,)
        Number of the block that the pixel lies in.
    decoders, compression
        Of the photo; None where the light is not coded in whole values.
    picture : tuple of two int
        Width and height of the photo.
    """

    light: Array
    clipped: NDArray[np.bool_]
    x: Array
    y: Array
    block: NDArray[np.int64]
    decoders: tuple[NDArray[np.float32], ...] | None
    compression: Compression | None
    picture: tuple[int, int]
    photo_sha256: str


def area_pixels(photo: Photo, area: Area) -> Pixels:
    """Pixels whose centres lie in an area.

    Of a very large one every n-th (``most_read`` in ``swatches/limits.toml``). Raises AreaError
    where it reaches outside the picture.
    """
    check_inside(photo, area)
    part, step = bounds(area), pixel_step(area)
    pixels = pixels_of(photo, area, linear_light(photo, *part, step), clipped(photo, *part, step))
    return replace(pixels, decoders=photo.decoders, compression=photo.compression)


def pixels_of(photo: Photo, area: Area, light: FloatPicture, white: NDArray[np.bool_]) -> Pixels:
    """Pixels of an area of a photo whose light is given, as not coded in whole values.

    Light (h, w, 3) and what of it is clipped, (h, w), are those of every `pixel_step`-th pixel
    within the area's bounds.
    """
    x0, y0, x1, y1 = bounds(area)
    step = pixel_step(area)
    x = np.arange(x0 + 0.5, x1, step, dtype=np.float64)
    y = np.arange(y0 + 0.5, y1, step, dtype=np.float64)
    used = inside(area, x, y)
    rows, columns = np.nonzero(used)
    side = max(2, int(math.sqrt(max(1, len(rows))) / _BLOCKS_ACROSS))
    across = len(x) // side + 1
    return Pixels(
        light=light[used].astype(np.float64),
        clipped=white[used],
        x=x[columns],
        y=y[rows],
        block=(rows // side) * across + columns // side,
        decoders=None,
        compression=None,
        picture=(photo.width, photo.height),
        photo_sha256=photo.sha256,
    )


def plain_pixels(light: Array, clipped_pixels: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """Pixels that are neither glare nor specks, shape (n,).

    A pixel is glare where it is clipped or, in any channel, brighter than the median by more than
    four robust standard deviations (1.4826 times the median absolute deviation) in the cube root of
    linear light; median and deviation are taken again without it until nothing changes. Pixels
    darker by as much are specks of dirt, and left out as long as they are few (one in twenty); more
    of them belong to the surface, as bole that shows through worn leaf does, and stay in. Light (n,
    3) is linear RGB, near 0.2 in mid-tones.

    References
    ----------
    Limits: ``swatches/limits.toml``, [pixel]. Cube root as in L* (ISO/CIE 11664-4), so that
    the rule is alike for light and dark surfaces.
    """
    rule = limits("pixel")
    root = np.cbrt(light)
    kept = ~clipped_pixels
    dark = np.zeros_like(kept)
    for _ in range(_MOST_ROUNDS):
        if not kept.any():
            return kept
        middle = np.median(root[kept], axis=0)
        sigma = BY_MEDIAN * np.median(np.abs(root[kept] - middle), axis=0)
        reach = rule["glare_sigmas"] * np.maximum(sigma, rule["smallest_sigma"])
        bright = clipped_pixels | (root > middle + reach).any(axis=1)
        dark = ~bright & (root < middle - reach).any(axis=1)
        now = ~bright & ~dark
        if (now == kept).all():
            break
        kept = now
    if dark.mean() > rule["most_specks"]:
        kept = kept | dark
    return np.asarray(kept)
