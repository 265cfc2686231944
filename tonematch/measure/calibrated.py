"""What a calibration makes of a photo's linear light: balanced light, XYZ, Lab.

Every reading goes this way: decoded light, gains, colour correction, XYZ. Pixels are averaged
as balanced light, in which the mean of an area is what the whole area reflects; the rest is
done once, with that mean.
"""

from collections.abc import Callable
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from tonematch.measure.convert import xyz_to_lab
from tonematch.measure.core import Calibration, Matrix3, Vector3

Array = NDArray[np.float64]


def balanced_light(calibration: Calibration, light: Array, x: Array, y: Array) -> Array:
    """Linear RGB that is free of the lamp's colour, its exposure and its place.

    Parameters
    ----------
    calibration : Calibration
    light : ndarray, shape (n, 3)
        Linear RGB as decoded (`linear_light`).
    x, y : ndarray, shape (n,)
        Where the pixels are, in pixels of the upright picture.

    Returns
    -------
    ndarray, shape (n, 3)
        The neutral that reflects everything is the photo's white.
    """
    return light * calibration.gains


def calibrated_xyz(calibration: Calibration, balanced: Array) -> Array:
    """CIE XYZ of balanced light.

    Parameters
    ----------
    calibration : Calibration
    balanced : ndarray, shape (..., 3)
        From `balanced_light`.

    Returns
    -------
    ndarray, shape (..., 3)
        D50, 2 degree, Y of white 1.
    """
    return balanced @ calibration.to_xyz.T


def calibrated_lab(
    calibration: Calibration, light: Vector3, place: tuple[float, float]
) -> NDArray[np.float64]:
    """CIELAB (D50, 2 degree) of one decoded colour at one place of the picture.

    Parameters
    ----------
    calibration : Calibration
    light : ndarray, shape (3,)
    place : tuple of two float
        x and y.

    Returns
    -------
    ndarray, shape (3,)
    """
    x, y = np.array(place)[:, None]
    balanced = balanced_light(calibration, light[None, :], x, y)
    return xyz_to_lab(calibrated_xyz(calibration, balanced))[0]


def shifted(calibration: Calibration, by: Vector3) -> Calibration:
    """The calibration with its parameters moved.

    Parameters
    ----------
    calibration : Calibration
    by : ndarray, shape (k,)
        Steps of the parameters that `relative_covariance` is about, in its order.

    Returns
    -------
    Calibration
    """
    return replace(calibration, gains=calibration.gains * np.exp(by[:3]))


def lab_by_balanced(calibration: Calibration, balanced: Vector3) -> Matrix3:
    """Derivative of Lab with respect to balanced light; row L*, a*, b*, column red, green, blue.

    Parameters
    ----------
    calibration : Calibration
    balanced : ndarray, shape (3,)

    Returns
    -------
    ndarray, shape (3, 3)
    """
    step = 1e-4 * max(float(np.abs(balanced).max()), 1e-4)
    return _slope(lambda rgb: xyz_to_lab(calibrated_xyz(calibration, rgb)), balanced, step)


def lab_by_light(calibration: Calibration, light: Vector3, place: tuple[float, float]) -> Matrix3:
    """Derivative of Lab with respect to decoded light; arguments as `calibrated_lab`.

    Returns
    -------
    ndarray, shape (3, 3)
    """
    step = 1e-4 * max(float(np.abs(light).max()), 1e-4)
    return _slope(lambda rgb: calibrated_lab(calibration, rgb, place), light, step)


def lab_by_parameters(
    calibration: Calibration, light: Vector3, place: tuple[float, float]
) -> NDArray[np.float64]:
    """Derivative of Lab with respect to the calibration's parameters.

    It is how an error of the calibration, which every area shares, acts on one area.

    Parameters
    ----------
    calibration : Calibration
    light, place
        As `calibrated_lab`.

    Returns
    -------
    ndarray, shape (3, k)
    """
    zero = np.zeros(len(calibration.relative_covariance))
    return _slope(lambda by: calibrated_lab(shifted(calibration, by), light, place), zero, 1e-4)


def _slope(function: Callable[[Array], Array], at: Array, step: float) -> NDArray[np.float64]:
    """Derivative by central differences."""
    shifts = step * np.eye(len(at))
    ways = [function(at + shift) - function(at - shift) for shift in shifts]
    return np.stack(ways, axis=-1) / (2.0 * step)
