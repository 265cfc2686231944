"""An area as the eye sees it from a distance: S-CIELAB.

The picture is taken into three opponent channels, each is blurred as the eye blurs it at that
distance (colour more than lightness), and the result is read as CIELAB.

References
----------
Zhang, X. and Wandell, B. A. (1996). A spatial extension of CIELAB for digital color image
reproduction. SID International Symposium Digest 27, 731-734. Coefficients:
``swatches/scielab.toml``.
"""

import math
from collections.abc import Mapping, Sequence
from dataclasses import replace

import cv2
import numpy as np
from numpy.typing import NDArray

from tonematch.errors import ValueRefused
from tonematch.measure.appearance.area_picture import AreaPicture, reduced
from tonematch.swatchbook import swatch_table

ARM_LENGTH, ACROSS_THE_ROOM = 0.7, 3.0
"""Usual viewing distances in metres."""

# Pixels per degree that are kept: finer ones lie far beyond the narrowest filter.
_FINEST = 60.0


def pixels_per_degree(mm_per_pixel: float, metres: float) -> float:
    """Pixels within one degree of visual angle; ValueRefused unless 0.1 to 100 metres away."""
    if not 0.1 <= metres <= 100.0:
        raise ValueRefused(
            f"A viewing distance of {metres:g} m cannot be used: give metres from 0.1 to 100."
        )
    return 2.0 * metres * 1000.0 * math.tan(math.radians(0.5)) / mm_per_pixel


def seen_from(picture: AreaPicture, metres: float) -> AreaPicture:
    """An area of known scale as it looks from a distance, 0.1 to 100 metres (else ValueRefused).

    Blurred by the filters of S-CIELAB. Beyond its edge the area is taken to go on as it is: each
    Gaussian is normalised by how much of it falls on the surface.
    """
    assert picture.mm_per_pixel is not None  # `look_at_surfaces` sees to it
    fine = pixels_per_degree(picture.mm_per_pixel, metres)
    small = reduced(picture, fine / _FINEST)
    per_degree = min(fine, _FINEST)
    table = swatch_table("scielab.toml")
    to_opponent = np.array(table["opponent"])
    opponent = small.xyz @ to_opponent.T.astype(np.float32)
    used = small.used.astype(np.float32)
    seen = [
        _filtered(opponent[..., i], used, channel, per_degree)
        for i, channel in enumerate(table["channel"])
    ]
    back = np.linalg.inv(to_opponent).T.astype(np.float32)
    return replace(small, xyz=np.stack(seen, axis=-1) @ back)


def _filtered(
    values: NDArray[np.float32],
    used: NDArray[np.float32],
    channel: Mapping[str, Sequence[float]],
    per_degree: float,
) -> NDArray[np.float32]:
    """An opponent channel through its Gaussians exp(-r^2 / spread^2), spread in degrees."""
    total, weights = np.zeros_like(values), channel["weight"]
    for weight, spread in zip(weights, channel["spread"], strict=True):
        # exp(-r^2 / spread^2) has a standard deviation of spread / sqrt(2).
        sigma = spread * per_degree / math.sqrt(2.0)
        seen = _blurred(values * used, sigma) / np.maximum(_blurred(used, sigma), 1e-6)
        total += np.float32(weight / sum(weights)) * seen
    return total


def _blurred(values: NDArray[np.float32], sigma: float) -> NDArray[np.float32]:
    """Gaussian blur over a surrounding of zeros."""
    if sigma < 0.2:
        return values
    # Wider than the picture there is nothing more to reach.
    reach = min(math.ceil(3.5 * sigma), max(values.shape))
    size = (2 * reach + 1, 2 * reach + 1)
    blurred = cv2.GaussianBlur(values, size, sigma, borderType=cv2.BORDER_CONSTANT)
    return np.asarray(blurred, dtype=np.float32)
