"""CIE XYZ and CIELAB for D50 and the 2 degree observer, and sRGB for swatches on a screen."""

import numpy as np
from numpy.typing import ArrayLike, NDArray

from tonematch.errors import ValueRefused
from tonematch.measure.colour.colour_science import colour
from tonematch.measure.colour.jacobian import jacobian
from tonematch.photo.profile import ROMM_TO_XYZ

# D50 of the ICC profile connection space, ISO 15076-1:2010, so that a profile's white is
# L* 100, a* 0, b* 0.
WHITE: NDArray[np.float64] = np.array([0.9642, 1.0, 0.8249])
_WHITE_XY = WHITE[:2] / WHITE.sum()
_TO_ROMM = np.linalg.inv(ROMM_TO_XYZ)


def xyz_to_lab(xyz: ArrayLike) -> NDArray[np.float64]:
    """CIELAB of XYZ (ISO/CIE 11664-4).

    Parameters
    ----------
    xyz : array_like, shape (..., 3)
        D50, 2 degree, Y of white 1.

    Returns
    -------
    ndarray, shape (..., 3)
        L* 0 to 100 for Y of 0 to 1.
    """
    return np.asarray(colour.XYZ_to_Lab(np.asarray(xyz, dtype=np.float64), _WHITE_XY))


def lab_to_xyz(lab: ArrayLike) -> NDArray[np.float64]:
    """XYZ of CIELAB, the inverse of `xyz_to_lab`.

    Parameters
    ----------
    lab : array_like, shape (..., 3)

    Returns
    -------
    ndarray, shape (..., 3)
    """
    return np.asarray(colour.Lab_to_XYZ(np.asarray(lab, dtype=np.float64), _WHITE_XY))


def lab_to_romm(lab: ArrayLike) -> NDArray[np.float64]:
    """Linear ROMM RGB (ISO 22028-2) of CIELAB, no channel at or below 0.

    Parameters
    ----------
    lab : array_like, shape (3,)

    Returns
    -------
    ndarray, shape (3,)
        At least 0.0001.
    """
    return np.maximum(_TO_ROMM @ lab_to_xyz(lab), 1e-4)


def lab_by_romm(rgb: NDArray[np.float64]) -> NDArray[np.float64]:
    """Derivative of CIELAB with respect to linear ROMM RGB, by central differences.

    Parameters
    ----------
    rgb : ndarray, shape (3,)

    Returns
    -------
    ndarray, shape (3, 3)
    """
    return jacobian(lambda at: xyz_to_lab(ROMM_TO_XYZ @ at), rgb, 1e-4 * float(rgb.max()))


def lab_to_srgb_hex(lab: ArrayLike) -> str:
    """The nearest colour a usual screen can show, as "#rrggbb".

    Parameters
    ----------
    lab : array_like, shape (3,)

    Returns
    -------
    str
        Adapted from D50 to the screen's D65 by Bradford; out of gamut is clipped.
    """
    srgb = colour.XYZ_to_sRGB(
        lab_to_xyz(lab), illuminant=_WHITE_XY, chromatic_adaptation_transform="Bradford"
    )
    red, green, blue = np.rint(np.clip(srgb, 0.0, 1.0) * 255).astype(int)
    return f"#{red:02x}{green:02x}{blue:02x}"


def check_lab(what: str, lab: ArrayLike) -> NDArray[np.float64]:
    """A colour that can be one of a surface.

    Parameters
    ----------
    what : str
        What it is the colour of, for the message.
    lab : array_like, shape (3,)

    Returns
    -------
    ndarray, shape (3,)

    Raises
    ------
    ValueRefused
        Where these are not three finite numbers with L* from 0 to 100, a* and b* from -150 to 150.
    """
    value = np.asarray(lab, dtype=np.float64)
    in_range = value.shape == (3,) and np.isfinite(value).all()
    if not in_range or not 0 <= value[0] <= 100 or np.abs(value[1:]).max() > 150:
        raise ValueRefused(
            f"The colour of the {what} cannot be used: give L*, a* and b* of CIELAB (D50), "
            "L* from 0 to 100, a* and b* within 150 of neutral."
        )
    return value
