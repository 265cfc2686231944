"""Invented surfaces of known mottling, for the tests: Gaussian blotches in Lab."""

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import gaussian_filter

from tonematch.measure.appearance.area_picture import AreaPicture
from tonematch.measure.colour.convert import lab_to_xyz

Floats = NDArray[np.float64]

# Thicker and thinner toning moves L* and b*; wear to the bole moves a* as well.
_WAYS = np.array([(1.0, 0.1, 0.3), (0.2, 0.3, 0.6)])


def blotches(rng: np.random.Generator, scale: float, shape: tuple[int, int]) -> Floats:
    """A field of mean 0 and deviation 1 with correlation exp(-r^2 / (4 scale^2))."""
    pad = int(4 * scale) + 1
    field = gaussian_filter(rng.standard_normal([n + 2 * pad for n in shape]), scale)
    return np.asarray(field[pad:-pad, pad:-pad] * 2.0 * np.sqrt(np.pi) * scale)


def mottled(
    rng: np.random.Generator,
    spread: float,
    scale: float,
    mean: tuple[float, float, float] = (60.0, 8.0, 30.0),
    shape: tuple[int, int] = (90, 100),
    grain: float = 0.5,
) -> Floats:
    """Lab of a mottled surface, shape (h, w, 3), with the mean exactly as given."""
    lab = sum(spread * blotches(rng, scale, shape)[..., None] * way for way in _WAYS)
    lab = lab + grain * rng.standard_normal((*shape, 3))
    return np.asarray(lab - lab.mean(axis=(0, 1)) + mean)


def as_picture(lab: Floats, mm_per_pixel: float | None = None) -> AreaPicture:
    """A picture of a surface, all of it used."""
    xyz = lab_to_xyz(lab).astype(np.float32)
    return AreaPicture(xyz, np.ones(lab.shape[:2], dtype=bool), mm_per_pixel, 1.0, "surface")
