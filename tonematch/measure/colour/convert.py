"""CIE XYZ and CIELAB for D50 and the 2 degree observer, and sRGB for swatches on a screen."""

import numpy as np
from numpy.typing import ArrayLike, NDArray

from tonematch.arrays import Array
from tonematch.errors import ValueRefused
from tonematch.photo.preview import srgb_codes
from tonematch.photo.profile import ROMM_TO_XYZ

# D50 of the ICC profile connection space, ISO 15076-1:2010, so that a profile's white is
# L* 100, a* 0, b* 0.
WHITE: Array = np.array([0.9642, 1.0, 0.8249])
XYZ_TO_ROMM: Array = np.asarray(np.linalg.inv(ROMM_TO_XYZ), dtype=np.float64)
# ISO/CIE 11664-4: up to this share of the white, cubed, the law is a straight line.
_KNEE = 6.0 / 29.0
_LAB_BY_F: Array = np.array([(0.0, 116.0, 0.0), (500.0, -500.0, 0.0), (0.0, 200.0, -200.0)])


def xyz_to_lab(xyz: ArrayLike) -> Array:
    """CIELAB (ISO/CIE 11664-4), L* 0 to 100, of XYZ with Y of white 1; shapes (..., 3)."""
    share = np.asarray(xyz, dtype=np.float64) / WHITE
    line = share / (3.0 * _KNEE**2) + 4.0 / 29.0
    f = np.where(share > _KNEE**3, np.cbrt(share), line)
    lab = np.empty_like(f)
    lab[..., 0] = 116.0 * f[..., 1] - 16.0
    lab[..., 1] = 500.0 * (f[..., 0] - f[..., 1])
    lab[..., 2] = 200.0 * (f[..., 1] - f[..., 2])
    return lab


def lab_to_xyz(lab: ArrayLike) -> Array:
    """XYZ of CIELAB, the inverse of `xyz_to_lab`; shapes (..., 3)."""
    lab = np.asarray(lab, dtype=np.float64)
    f = np.empty_like(lab)
    f[..., 1] = (lab[..., 0] + 16.0) / 116.0
    f[..., 0] = f[..., 1] + lab[..., 1] / 500.0
    f[..., 2] = f[..., 1] - lab[..., 2] / 200.0
    line = 3.0 * _KNEE**2 * (f - 4.0 / 29.0)
    return np.asarray(WHITE * np.where(f > _KNEE, f**3, line))


def lab_to_romm(lab: ArrayLike) -> Array:
    """Linear ROMM RGB (ISO 22028-2) of one CIELAB colour, no channel below 0.0001."""
    return np.maximum(XYZ_TO_ROMM @ lab_to_xyz(lab), 1e-4)


def lab_by_romm(rgb: Array) -> Array:
    """Slopes of CIELAB with linear ROMM RGB (..., 3), shape (..., 3, 3)."""
    share = rgb @ ROMM_TO_XYZ.T / WHITE
    bend = np.where(share > _KNEE**3, np.cbrt(share) ** -2, _KNEE**-2) / 3.0
    return np.asarray(_LAB_BY_F * (bend / WHITE)[..., None, :] @ ROMM_TO_XYZ)


def lab_to_srgb_hex(lab: ArrayLike) -> str:
    """The nearest colour a usual screen can show, as "#rrggbb"; of one, shape (3,)."""
    red, green, blue = lab_to_srgb(lab)
    return f"#{red:02x}{green:02x}{blue:02x}"


def lab_to_srgb(lab: ArrayLike, lamp: str = "D50") -> NDArray[np.uint8]:
    """The nearest colours a usual screen can show, as codes from 0 to 255; shapes (..., 3).

    Adapted from D50 to the screen's D65 by Bradford; out of gamut is clipped. By half of what
    `lamp`, a CIE illuminant of 2 degree, differs from D50 the colours are tinted, as an eye that is
    half used to it sees them (a simulation from three bands: what parts under another lamp it
    cannot know).
    """
    xyz: NDArray[np.floating] = lab_to_xyz(lab)
    if lamp != "D50":
        # Here, so that most pages need not wait for a library that only other lamps ask for.
        from tonematch.measure.colour.colour_science import colour

        white = colour.xy_to_XYZ(
            colour.CCS_ILLUMINANTS["CIE 1931 2 Degree Standard Observer"][lamp]
        )
        halfway = (WHITE + white) / 2.0
        xyz = colour.chromatic_adaptation(xyz, WHITE, halfway, transform="Bradford")
    return srgb_codes(xyz.astype(np.float32))


def check_lab(what: str, lab: ArrayLike) -> Array:
    """A colour (3,) that can be one of a surface; `what` it is the colour of is for the message.

    Raises ValueRefused where these are not three finite numbers with L* from 0 to 100, a* and b*
    from -150 to 150.
    """
    value = np.asarray(lab, dtype=np.float64)
    in_range = value.shape == (3,) and np.isfinite(value).all()
    if not in_range or not 0 <= value[0] <= 100 or np.abs(value[1:]).max() > 150:
        raise ValueRefused(
            f"The colour of the {what} cannot be used: give L*, a* and b* of CIELAB (D50), "
            "L* from 0 to 100, a* and b* within 150 of neutral."
        )
    return value
