"""What a calibration makes of a photo's linear light: balanced light, XYZ, Lab.

Every reading goes this way: decoded light, tone curve, evenness of light, gains, colour
correction, XYZ. Pixels are averaged as balanced light, in which the mean of an area is what the
whole area reflects; the rest is done once, with that mean.

References
----------
Finlayson, G. D., Mackiewicz, M. and Hurlbert, A. (2015). Color correction using root-polynomial
regression. IEEE Transactions on Image Processing 24(5), 1460-1470.
"""

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from tonematch.arrays import Array, Matrix3, Vector3
from tonematch.measure.colour.convert import xyz_to_lab
from tonematch.measure.colour.jacobian import jacobian
from tonematch.measure.core import Calibration, EvenLight, ToneCurve

# Light falls to no less than this share by any slope; a slope that steep is no measurement.
_DIMMEST = 0.1


def balanced_light(calibration: Calibration, light: Array, x: Array, y: Array) -> Array:
    """Linear RGB that is free of the lamp's colour, its exposure and its place.

    Parameters
    ----------
    light : ndarray, shape (n, 3)
        Linear RGB as decoded (`linear_light`).
    x, y : ndarray, shape (n,)
        Where the pixels are, in pixels of the upright picture.

    Returns
    -------
    ndarray, shape (n, 3)
        The neutral that reflects everything is the photo's white.
    """
    if calibration.tone is not None:
        light = true_light(calibration.tone, light)
    if calibration.even is not None:
        light = light / light_share(calibration.even, x, y)
    return light * calibration.gains


def true_light(tone: ToneCurve, light: Array) -> Array:
    """Decoded light through a tone curve; shapes (..., 3)."""
    channels = [np.interp(light[..., c], tone.levels[:, c], tone.values[:, c]) for c in range(3)]
    return np.stack(channels, axis=-1)


def light_share(even: EvenLight, x: Array, y: Array) -> Array:
    """Light at places beside the light on the card.

    Parameters
    ----------
    x, y : ndarray, shape (n,)

    Returns
    -------
    ndarray, shape (n, 3)
    """
    apart = (np.stack([x, y], axis=-1) - even.origin) / even.longest
    share: Array = np.maximum(1.0 + apart @ even.slope, _DIMMEST)
    if even.grid is None:
        return share
    h, w = even.grid.shape[:2]
    rows, columns = y / even.size[1] * (h - 1), x / even.size[0] * (w - 1)
    top, left = np.clip(rows.astype(int), 0, h - 2), np.clip(columns.astype(int), 0, w - 2)
    down, across = (rows - top)[:, None], (columns - left)[:, None]
    upper = even.grid[top, left] * (1 - across) + even.grid[top, left + 1] * across
    lower = even.grid[top + 1, left] * (1 - across) + even.grid[top + 1, left + 1] * across
    return np.asarray(share * (upper * (1 - down) + lower * down))


def root_terms(rgb: Array, degree: int) -> Array:
    """Root-polynomial expansion, which scales with exposure.

    Parameters
    ----------
    rgb : ndarray, shape (..., 3)
        Negative values count as 0 under a root.
    degree : {1, 2, 3}

    Returns
    -------
    ndarray, shape (..., m)
        m is 3, 6 or 13; Finlayson, Mackiewicz and Hurlbert (2015), table I.
    """
    if degree == 1:
        return rgb
    r, g, b = np.moveaxis(np.maximum(rgb, 0.0), -1, 0)
    terms = [np.sqrt(r * g), np.sqrt(g * b), np.sqrt(r * b)]
    if degree == 3:
        pairs = ((r, g), (g, b), (r, b), (g, r), (b, g), (b, r))
        terms += [np.cbrt(one * other**2) for one, other in pairs] + [np.cbrt(r * g * b)]
    return np.concatenate([rgb, np.stack(terms, axis=-1)], axis=-1)


def calibrated_xyz(calibration: Calibration, balanced: Array) -> Array:
    """CIE XYZ of balanced light.

    Parameters
    ----------
    balanced : ndarray, shape (..., 3)
        From `balanced_light`.

    Returns
    -------
    ndarray, shape (..., 3)
        D50, 2 degree, Y of white 1.
    """
    return root_terms(balanced, calibration.root_degree) @ calibration.to_xyz.T


def calibrated_lab(calibration: Calibration, light: Array, place: tuple[float, float]) -> Array:
    """CIELAB (D50, 2 degree) of decoded colours at one place of the picture.

    Parameters
    ----------
    light : ndarray, shape (..., 3)
    place : tuple of two float
        x and y.

    Returns
    -------
    ndarray, shape (..., 3)
    """
    x, y = np.array(place)[:, None]
    balanced = balanced_light(calibration, light.reshape(-1, 3), x, y)
    return xyz_to_lab(calibrated_xyz(calibration, balanced)).reshape(light.shape)


def shifted(calibration: Calibration, by: Vector3) -> Calibration:
    """The calibration with its parameters moved.

    Parameters
    ----------
    by : ndarray, shape (k,)
        Steps of the parameters that `relative_covariance` is about, in its order.
    """
    tone, even = calibration.tone, calibration.even
    beyond = 3
    if tone is not None:
        beyond += len(tone.modes)
        tone = replace(tone, values=tone.values * np.exp(np.tensordot(by[3:beyond], tone.modes, 1)))
    if even is not None:
        even = replace(even, slope=even.slope + by[beyond : beyond + 6].reshape(2, 3))
    return replace(calibration, gains=calibration.gains * np.exp(by[:3]), tone=tone, even=even)


def lab_by_balanced(calibration: Calibration, balanced: Vector3) -> Matrix3:
    """Derivative of Lab with respect to balanced light; row L*, a*, b*, column red, green, blue.

    Parameters
    ----------
    balanced : ndarray, shape (3,)

    Returns
    -------
    ndarray, shape (3, 3)
    """
    step = 1e-4 * max(float(np.abs(balanced).max()), 1e-4)
    return jacobian(lambda rgb: xyz_to_lab(calibrated_xyz(calibration, rgb)), balanced, step)


def lab_by_light(calibration: Calibration, light: Vector3, place: tuple[float, float]) -> Matrix3:
    """Derivative of Lab with respect to decoded light; arguments as `calibrated_lab`.

    Returns
    -------
    ndarray, shape (3, 3)
    """
    step = 1e-4 * max(float(np.abs(light).max()), 1e-4)
    return jacobian(lambda rgb: calibrated_lab(calibration, rgb, place), light, step)


def lab_by_parameters(
    calibration: Calibration, light: Vector3, place: tuple[float, float]
) -> NDArray[np.float64]:
    """Derivative of Lab with respect to the calibration's parameters.

    It is how an error of the calibration, which every area shares, acts on one area.

    Parameters
    ----------
    light, place
        As `calibrated_lab`.

    Returns
    -------
    ndarray, shape (3, k)
    """
    zero = np.zeros(len(calibration.relative_covariance))

    def lab(steps: Array) -> Array:
        return np.array([calibrated_lab(shifted(calibration, by), light, place) for by in steps])

    return jacobian(lab, zero, 1e-4)
