"""A telephone's camera as it is modelled for the demonstration: light and spectra to a JPEG.

Sensor and lens to picture: spectral sensitivities of a real sensor and a CIE illuminant (both
from colour-science), shot and read noise, a white balance that is a little wrong, one fixed
3x3 matrix to sRGB (IEC 61966-2-1) that was fitted on a chart, JPEG.
"""

from dataclasses import dataclass
from functools import cache
from pathlib import Path

import numpy as np
from numpy.typing import NDArray
from PIL import Image
from scipy.ndimage import gaussian_filter

from tests.demonstration.spectra import (
    Array,
    band_weights,
    chart_reflectance,
    illuminant,
    rgb_weights,
    sensitivity,
)

FULL_WELL = 20_000.0
"""Electrons at raw value 1: a small sensor's order of magnitude, from memory."""
READ_NOISE = 3.0
"""Electrons, from memory."""

EXIF_MAKE, EXIF_MODEL, EXIF_SOFTWARE, EXIF_DATE, EXIF_DESCRIPTION = 271, 272, 305, 306, 270


@dataclass(frozen=True)
class Shot:
    """How one picture is taken.

    Attributes
    ----------
    camera, light : str
        Names in colour-science: a camera's sensitivities, a CIE illuminant.
    exposure : float
        What a perfect reflector reaches in linear sRGB; 1.0 is where the picture clips.
    balance : tuple of three float
        The white balance's error, one factor per channel.
    """

    camera: str = "Nikon 5100 (NPL)"
    light: str = "LED-V2"
    exposure: float = 0.80
    balance: tuple[float, float, float] = (1.0, 1.0, 1.0)


@cache
def raw_weights(camera: str, light: str) -> Array:
    """Weights from a spectrum to the sensor's balanced signals, shape (36, 3).

    A perfect reflector gives 1, 1, 1.
    """
    weights = band_weights(illuminant(light)[:, None] * sensitivity(camera))
    return np.asarray(weights / weights.sum(axis=0), dtype=np.float64)


@cache
def colour_matrix(camera: str) -> Array:
    """The camera's one matrix from balanced signals to linear sRGB, shape (3, 3).

    Least squares under D65 on the 24 spectra of a chart that colour-science carries ("ColorChecker
    N Ohta"), with white held at white.
    """
    chart = chart_reflectance()
    raw, srgb = chart @ raw_weights(camera, "D65"), chart @ rgb_weights("sRGB", "D65")
    # Rows that sum to 1 keep white: what is left to fit works on differences from green.
    apart = raw[:, [0, 2]] - raw[:, [1]]
    part, *_ = np.linalg.lstsq(apart, srgb - raw[:, [1]], rcond=None)
    return np.stack([part[0], 1 - part[0] - part[1], part[1]], axis=-1)


def encode_srgb(linear: Array) -> Array:
    """Encode linear sRGB by the curve of IEC 61966-2-1; what is outside 0 to 1 is clipped."""
    light = np.clip(linear, 0.0, 1.0)
    return np.where(light <= 0.0031308, 12.92 * light, 1.055 * light ** (1 / 2.4) - 0.055)


def develop(signal: Array, shot: Shot, rng: np.random.Generator) -> Array:
    """What the camera makes of light: linear sRGB with its noise, not yet clipped.

    Parameters
    ----------
    signal : ndarray, shape (H, W, 3)
        Balanced signals without noise: spectra times `raw_weights`, times shading.
    shot : Shot
    rng : numpy.random.Generator
        For the noise.

    Returns
    -------
    ndarray, shape (H, W, 3)
    """
    electrons = np.maximum(signal, 0.0) * shot.exposure * FULL_WELL
    noisy = electrons + rng.standard_normal(signal.shape) * np.sqrt(electrons + READ_NOISE**2)
    # Interpolating the colours that each photosite lacks smooths the noise.
    raw = gaussian_filter(noisy / FULL_WELL, sigma=(0.7, 0.7, 0.0))
    return np.asarray((raw * np.asarray(shot.balance)) @ colour_matrix(shot.camera).T)


def take(signal: Array, shot: Shot, rng: np.random.Generator) -> NDArray[np.uint8]:
    """Take a picture: `develop`, encoded as sRGB in 8 bits.

    Returns
    -------
    ndarray, shape (H, W, 3), uint8
    """
    return np.asarray(np.round(255 * encode_srgb(develop(signal, shot, rng))), dtype=np.uint8)


def save_jpeg(pixels: NDArray[np.uint8], path: Path, description: str) -> None:
    """Write a JPEG that says in its EXIF that it is rendered and invented."""
    exif = Image.Exif()
    exif[EXIF_MAKE] = "tonematch render"
    exif[EXIF_MODEL] = "invented camera"
    exif[EXIF_SOFTWARE] = "tests/demonstration/render_demo.py"
    exif[EXIF_DATE] = "2025:03:04 10:00:00"
    exif[EXIF_DESCRIPTION] = description
    Image.fromarray(pixels).save(path, quality=92, subsampling="4:2:0", exif=exif)
