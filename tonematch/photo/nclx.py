"""Colour that a HEIF or AVIF file states by number instead of by an ICC profile.

References
----------
ITU-T H.273 (ISO/IEC 23091-2): code points of primaries and transfer characteristics.
ISO/IEC 14496-12, 12.1.5: the 'colr' box of type 'nclx'.
"""

import struct
from collections.abc import Mapping
from functools import lru_cache

import imagecodecs
import numpy as np
from numpy.typing import NDArray

from tonematch.errors import PhotoError

# H.273, table 2: x and y of red, green, blue; all of these have D65 as white.
_PRIMARIES: Mapping[int, tuple[float, ...]] = {
    1: (0.640, 0.330, 0.300, 0.600, 0.150, 0.060),
    2: (0.640, 0.330, 0.300, 0.600, 0.150, 0.060),  # unspecified: taken as sRGB
    9: (0.708, 0.292, 0.170, 0.797, 0.131, 0.046),
    12: (0.680, 0.320, 0.265, 0.690, 0.150, 0.060),
}
_D65 = (0.3127, 0.3290)
_LINEAR, _BT709 = 8, {1, 6, 14, 15}
_SRGB = {2, 13}  # 2 is unspecified: taken as sRGB
_HDR = {16: "PQ", 18: "HLG"}


def nclx_of(content: bytes) -> bytes | None:
    """An ICC profile for the 'nclx' colour box of a HEIF or AVIF file, None where it has none."""
    at = content.find(b"colrnclx")
    if at < 0 or len(content) < at + 12:
        return None
    primaries, transfer = struct.unpack(">HH", content[at + 8 : at + 12])
    return nclx_profile(primaries, transfer)


@lru_cache(maxsize=8)
def nclx_profile(primaries: int, transfer: int) -> bytes:
    """An ICC profile that says the same as two code points of H.273.

    Raises PhotoError where the picture is coded for high dynamic range, or in a way that no
    photograph is.
    """
    if transfer in _HDR:
        raise PhotoError(
            f"The picture is coded for high dynamic range ({_HDR[transfer]}): photograph again "
            "with HDR off, or in raw."
        )
    if primaries not in _PRIMARIES or transfer not in _BT709 | _SRGB | {_LINEAR}:
        raise PhotoError(
            "The picture states a colour space that photographs do not have: export it again as "
            "sRGB or Display P3."
        )
    return bytes(
        imagecodecs.cms_profile(
            "rgb",
            whitepoint=_D65,
            primaries=_PRIMARIES[primaries],
            transferfunction=_decoding(transfer),
        )
    )


def _decoding(transfer: int) -> NDArray[np.float32]:
    """Linear light for evenly spaced code values, H.273, table 3."""
    code = np.linspace(0.0, 1.0, 4096)
    if transfer == _LINEAR:
        linear = code
    elif transfer in _BT709:
        linear = np.where(code < 0.081, code / 4.5, ((code + 0.099) / 1.099) ** (1 / 0.45))
    else:
        linear = np.where(code <= 0.04045, code / 12.92, ((code + 0.055) / 1.055) ** 2.4)
    return linear.astype(np.float32)
