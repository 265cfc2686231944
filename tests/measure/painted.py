"""Photographs painted from known CIELAB, for the tests: sRGB, with noise where it is asked for."""

import hashlib
from collections.abc import Mapping

import colour
import numpy as np
from numpy.typing import NDArray

from tonematch.photo.core import Encoded, Photo
from tonematch.photo.profile import colour_space, srgb_profile

Box = tuple[int, int, int, int]
GREY = (49.496, 0.0, 0.0)  # L* of Y = 0.18, ISO/CIE 11664-4


def lab_to_light(lab: NDArray[np.float64]) -> NDArray[np.float64]:
    """Linear sRGB of CIELAB D50, by colour-science and the profile's matrix."""
    white = colour.XYZ_to_xy(np.array([0.9642, 1.0, 0.8249]))
    to_xyz = colour_space(srgb_profile(), 65536).to_xyz
    return np.asarray(colour.Lab_to_XYZ(lab, white) @ np.linalg.inv(to_xyz).T)


def encode(light: NDArray[np.float64], bits: int) -> Encoded:
    """Code values of linear sRGB (IEC 61966-2-1)."""
    light = np.clip(light, 0.0, 1.0)
    coded = np.where(light <= 0.0031308, 12.92 * light, 1.055 * light ** (1 / 2.4) - 0.055)
    codes = np.rint(coded * (2**bits - 1))
    return np.asarray(codes, dtype=np.uint8 if bits == 8 else np.uint16)


def photo_of(light: NDArray[np.float64], bits: int = 16) -> Photo:
    """A photo of linear sRGB, shape (h, w, 3)."""
    codes = encode(light, bits)
    space = colour_space(srgb_profile(), 2**bits)
    return Photo(
        name="painted",
        sha256=hashlib.sha256(codes.tobytes()).hexdigest(),
        encoded=codes,
        decoders=space.decoders,
        to_xyz=space.to_xyz,
        space="sRGB",
    )


def painted_light(
    fields: Mapping[Box, tuple[float, float, float]],
    size: tuple[int, int] = (200, 150),
    noise: float = 0.0,
    seed: int = 7,
) -> NDArray[np.float64]:
    """Linear sRGB with boxes x, y, w, h of given CIELAB on black; noise is a share of the light."""
    width, height = size
    light = np.zeros((height, width, 3))
    for (x, y, w, h), lab in fields.items():
        light[y : y + h, x : x + w] = lab_to_light(np.array(lab))
    random = np.random.default_rng(seed)
    return light * (1.0 + noise * random.standard_normal(light.shape))
