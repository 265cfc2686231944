"""An ICC profile becomes decoding tables and a matrix, or is kept as a LUT profile.

The profile is asked, not parsed: known code values go through LittleCMS, and what comes out
shows whether the channels add up. Where they do (matrix-shaper profiles), one table per channel
and one matrix say all. Where they do not (LUT profiles), the pixels themselves go through
LittleCMS when they are needed.

References
----------
ISO 15076-1:2010 (ICC.1:2010), profile connection space: XYZ relative to D50.
ISO 22028-2:2013, ROMM RGB: the linear space that LUT profiles are taken to.
"""

from dataclasses import dataclass
from functools import lru_cache
from io import BytesIO

import imagecodecs
import numpy as np
from numpy.typing import NDArray
from PIL import ImageCms

from tonematch.arrays import Array, Matrix3
from tonematch.errors import PhotoError
from tonematch.photo.core import FloatPicture

# Linear ROMM RGB to XYZ D50, ISO 22028-2:2013, rounded as published.
ROMM_TO_XYZ: Matrix3 = np.array(
    [[0.7977, 0.1352, 0.0313], [0.2880, 0.7119, 0.0001], [0.0, 0.0, 0.8249]]
)
_XYZ_TO_ROMM: Matrix3 = np.asarray(np.linalg.inv(ROMM_TO_XYZ), dtype=np.float64)

# A profile is additive when no probe departs by more than this from the sum of its channels,
# in XYZ with Y of white 1: below the step of an 8-bit picture in mid-tones.
_ADDITIVE_WITHIN = 5e-4


@dataclass(frozen=True, eq=False)
class ColourSpace:
    """How code values of a file become linear light.

    Attributes
    ----------
    name : str
        The profile's own description.
    decoders : tuple of three ndarray, shape (levels,), or None
        None for a LUT profile.
    to_xyz : ndarray, shape (3, 3)
        Linear RGB to XYZ D50; of linear ROMM RGB for a LUT profile.
    lut : bytes or None
        The profile itself where it is a LUT profile.
    """

    name: str
    decoders: tuple[NDArray[np.float32], ...] | None
    to_xyz: Matrix3
    lut: bytes | None


def srgb_profile() -> bytes:
    """LittleCMS's own sRGB profile (IEC 61966-2-1)."""
    return bytes(imagecodecs.cms_profile("srgb"))


def code_to_xyz(code: Array, profile: bytes) -> Array:
    """Code values (..., 3) through a profile to XYZ D50, Y of white 1 (relative colorimetric).

    The code values are RGB as a share of the highest, the profile an ICC profile of an RGB device.
    """
    flat = np.ascontiguousarray(code, dtype=np.float64).reshape(1, -1, 3)
    xyz = imagecodecs.cms_transform(
        flat,
        profile,
        imagecodecs.cms_profile("xyz"),
        colorspace="rgb",
        outcolorspace="xyz",
        outdtype="f8",
        intent=imagecodecs.CMS.INTENT.RELATIVE_COLORIMETRIC,
        flags=imagecodecs.CMS.FLAGS.NOOPTIMIZE | imagecodecs.CMS.FLAGS.NOCACHE,
    )
    return np.asarray(xyz, dtype=np.float64).reshape(code.shape)


def code_to_romm(code: Array, profile: bytes) -> FloatPicture:
    """Code values as `code_to_xyz`, through a LUT profile to linear ROMM RGB."""
    romm = code_to_xyz(code, profile) @ _XYZ_TO_ROMM.T
    return romm.astype(np.float32)


@lru_cache(maxsize=8)
def colour_space(profile: bytes, levels: int) -> ColourSpace:
    """What an ICC profile says about code values, of which a channel has 256 or 65536 levels.

    Raises PhotoError where the profile cannot be used, or is not one of an RGB device.
    """
    name, space = _describe(profile)
    if space != "RGB":
        raise PhotoError(
            f"The colour profile in the file is for {space} and not for RGB: "
            "save the picture again as an RGB file."
        )
    try:
        return _probe(profile, levels, name)
    except (imagecodecs.CmsError, ValueError) as error:
        raise PhotoError(
            "The colour profile in the file is damaged: "
            "export the picture again with an sRGB or Display P3 profile."
        ) from error


def _describe(profile: bytes) -> tuple[str, str]:
    """Name of a profile and the colour space of its device."""
    try:
        opened = ImageCms.ImageCmsProfile(BytesIO(profile))
        name = ImageCms.getProfileDescription(opened).strip()
    except (ImageCms.PyCMSError, OSError) as error:
        raise PhotoError(
            "The colour profile in the file cannot be read: "
            "export the picture again with an sRGB or Display P3 profile."
        ) from error
    return name or "unnamed profile", opened.profile.xcolor_space.strip()


def _probe(profile: bytes, levels: int, name: str) -> ColourSpace:
    codes = np.linspace(0.0, 1.0, levels)
    zero = code_to_xyz(np.zeros((1, 3)), profile)[0]
    decoders = []
    columns = []
    for channel in range(3):
        ramp = np.zeros((levels, 3))
        ramp[:, channel] = codes
        xyz = code_to_xyz(ramp, profile) - zero
        column = xyz[-1]
        decoders.append((xyz @ column / (column @ column)).astype(np.float32))
        columns.append(column)
    to_xyz = np.stack(columns, axis=1)
    if _adds_up(profile, levels, decoders, to_xyz, zero):
        return ColourSpace(name, tuple(decoders), to_xyz, None)
    return ColourSpace(name, None, ROMM_TO_XYZ, profile)


def _adds_up(
    profile: bytes, levels: int, decoders: list[NDArray[np.float32]], to_xyz: Matrix3, zero: Array
) -> bool:
    """Whether mixed colours are the sum of their channels, and black is black."""
    grid = np.linspace(0, levels - 1, 6).astype(int)
    codes = np.stack(np.meshgrid(grid, grid, grid), axis=-1).reshape(-1, 3)
    linear = np.stack([decoders[c][codes[:, c]] for c in range(3)], axis=-1)
    truth = code_to_xyz(codes / (levels - 1), profile)
    worst = np.abs(linear @ to_xyz.T - truth).max()
    return bool(worst < _ADDITIVE_WITHIN and np.abs(zero).max() < _ADDITIVE_WITHIN)
