"""What a calibration makes of a photo's linear light: balanced light, XYZ, Lab.

Every reading goes this way: decoded light, tone curve, evenness of light, balance, colour
correction, XYZ. The lamp is balanced in one sharpened space, whatever RGB space a developed file
is in: the same light then reads the same from all of them. A raw file is balanced where the lamp
acts, in the sensor's own channels. Pixels are averaged as balanced light, in
which the mean of an area is what the whole area reflects; the rest is done once, with that mean.

References
----------
Finlayson, G. D., Drew, M. S. and Funt, B. V. (1994). Spectral sharpening: sensor transformations
for improved color constancy. Journal of the Optical Society of America A 11(5), 1553-1563.
Finlayson, G. D. and Süsstrunk, S. (2000). Performance of a chromatic adaptation transform based on
spectral sharpening. IS&T/SID Color Imaging Conference 8, 49-55 (the matrix).
Finlayson, G. D., Mackiewicz, M. and Hurlbert, A. (2015). Color correction using root-polynomial
regression. IEEE Transactions on Image Processing 24(5), 1460-1470.
"""

import numpy as np
import scipy

from tonematch.arrays import Array, Matrix3, Vector3
from tonematch.measure.calibration.tone_prior import modes_at
from tonematch.measure.colour.convert import WHITE, xyz_to_lab
from tonematch.measure.colour.jacobian import jacobian
from tonematch.measure.core import Calibration, EvenLight, ToneCurve
from tonematch.photo.core import SENSOR, Photo

# XYZ to red, green, blue of Finlayson and Süsstrunk (2000), scaled so that white is 1, 1, 1.
_SHARP = np.array(
    [[1.2694, -0.0988, -0.1706], [-0.8364, 1.8006, 0.0357], [0.0297, -0.0315, 1.0018]]
)
_XYZ_TO_SHARP: Matrix3 = _SHARP / (_SHARP @ WHITE)[:, None]
_SHARP_TO_XYZ: Matrix3 = np.asarray(np.linalg.inv(_XYZ_TO_SHARP), dtype=np.float64)

# Light falls to no less than this share by any slope; a slope that steep is no measurement.
_DIMMEST = 0.1
# Nodes of a curve, so close that straight lines between them err by less than 0.0001 of the light.
_DARKEST, _BRIGHTEST, _NODES = 1e-5, 4.0, 513


def balanced_light(calibration: Calibration, light: Array, x: Array, y: Array) -> Array:
    """Light that is free of the lamp's colour, its exposure and its place, shape (n, 3).

    Parameters
    ----------
    light : ndarray, shape (n, 3)
        Linear RGB as decoded (`linear_light`).
    x, y : ndarray, shape (n,)
        Where the pixels are, in pixels of the upright picture.
    """
    light = true_light(calibration.tone, light)
    if calibration.even is not None:
        light = light / light_share(calibration.even, x, y)
    return np.asarray(light @ calibration.balance.T * calibration.gains)


def balance_of(photo: Photo) -> tuple[Matrix3, Matrix3]:
    """Linear RGB to the space in which lamps are balanced, and from there to CIE XYZ (D50)."""
    if photo.space == SENSOR:
        return np.eye(3), photo.to_xyz
    return _XYZ_TO_SHARP @ photo.to_xyz, _SHARP_TO_XYZ


def start_light(tone: ToneCurve, light: Array) -> Array:
    """Decoded light as a tone curve takes it up, before its modes; shapes (..., 3)."""
    return _by_channel(light, tone.levels, tone.values) if len(tone.levels) else light


def true_light(tone: ToneCurve, light: Array) -> Array:
    """Decoded light through a tone curve, which rises everywhere; shapes (..., 3)."""
    light = start_light(tone, light)
    return _by_channel(light, *_curve(tone)) if tone.weights.any() else light


def light_before_tone(tone: ToneCurve, light: Array) -> Array:
    """The inverse of `true_light`."""
    if tone.weights.any():
        light = _by_channel(light, *reversed(_curve(tone)))
    return _by_channel(light, tone.values, tone.levels) if len(tone.levels) else light


def _by_channel(light: Array, levels: Array, values: Array) -> Array:
    """Light (..., 3) through a table for each channel, shape (n, 3) each."""
    channels = [np.interp(light[..., c], levels[:, c], values[:, c]) for c in range(3)]
    return np.stack(channels, axis=-1)


def _curve(tone: ToneCurve) -> tuple[Array, Array]:
    """Start light and true light there, shape (n, 3) each."""
    nodes = np.concatenate([[0.0], np.geomspace(_DARKEST, _BRIGHTEST, _NODES)])
    levels = np.stack([nodes] * 3, axis=-1)
    return levels, np.maximum.accumulate(levels * np.exp(tone_bend(tone, levels) @ tone.weights))


def tone_bend(tone: ToneCurve, light: Array) -> Array:
    """Change of log(true light) with each weight of a curve at start light; (..., 3, p)."""
    modes = modes_at(light) - modes_at(start_light(tone, tone.anchor))
    return modes[..., : len(tone.weights)]


def light_share(even: EvenLight, x: Array, y: Array) -> Array:
    """Light at places x and y, (n,) each, beside the light on the card, shape (n, 3)."""
    apart = (np.stack([x, y], axis=-1) - even.origin) / even.longest
    share: Array = np.maximum(1.0 + apart @ even.slope, _DIMMEST)
    if even.grid is None:
        return share
    h, w = even.grid.shape[:2]
    at = np.array([y / even.size[1] * (h - 1), x / even.size[0] * (w - 1)])
    fallen = [
        scipy.ndimage.map_coordinates(even.grid[..., c], at, order=1, mode="nearest")
        for c in range(3)
    ]
    return np.asarray(share * np.stack(fallen, axis=-1))


def root_terms(rgb: Array, degree: int) -> Array:
    """Root-polynomial expansion, which scales with exposure.

    Of light (..., 3) the terms are (..., m), m being 3, 6 or 13 at degree 1, 2 or 3: Finlayson,
    Mackiewicz and Hurlbert (2015), table I. Negative values count as 0 under a root.
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
    """CIE XYZ (D50, 2 degree, Y of white 1) of balanced light; shapes (..., 3)."""
    return root_terms(balanced, calibration.root_degree) @ calibration.to_xyz.T


def calibrated_lab(calibration: Calibration, light: Array, place: tuple[float, float]) -> Array:
    """CIELAB (D50, 2 degree) of decoded colours (..., 3) at one place, x and y, of the picture."""
    x, y = np.array(place)[:, None]
    balanced = balanced_light(calibration, light.reshape(-1, 3), x, y)
    return xyz_to_lab(calibrated_xyz(calibration, balanced)).reshape(light.shape)


def lab_by_balanced(calibration: Calibration, balanced: Vector3) -> Matrix3:
    """Slopes of Lab with balanced light (3,), shape (3, 3): row L*, a*, b*, column R, G, B."""
    step = 1e-4 * max(float(np.abs(balanced).max()), 1e-4)
    return jacobian(lambda rgb: xyz_to_lab(calibrated_xyz(calibration, rgb)), balanced, step)


def lab_by_light(calibration: Calibration, light: Vector3, place: tuple[float, float]) -> Matrix3:
    """Slopes of Lab with decoded light (3,) at a place, shape (3, 3)."""
    step = 1e-4 * max(float(np.abs(light).max()), 1e-4)
    return jacobian(lambda rgb: calibrated_lab(calibration, rgb, place), light, step)


def lab_by_parameters(
    calibration: Calibration, light: Vector3, place: tuple[float, float]
) -> Array:
    """Slopes of Lab with the calibration's parameters, shape (3, k), for light as `calibrated_lab`.

    It is how an error of the calibration, which every area shares, acts on one area.
    """
    even, tone = calibration.even, calibration.tone
    x, y = np.array(place)[:, None]
    rgb = true_light(tone, light)
    by_light: Array = np.zeros((3, 0))
    if even is not None:
        rgb = rgb / light_share(even, x, y)[0]
        apart = (np.array(place) - even.origin) / even.longest
        plane = np.maximum(1.0 + apart @ even.slope, _DIMMEST)
        by_light = np.asarray(-np.kron(apart, np.diag(rgb / plane)), dtype=np.float64)
    by_tone = rgb[:, None] * tone_bend(tone, start_light(tone, light))
    balanced = calibration.balance @ rgb * calibration.gains
    by_rgb = calibration.gains[:, None] * calibration.balance
    steps = np.hstack([np.diag(balanced), by_rgb @ by_tone, by_rgb @ by_light])
    return np.asarray(lab_by_balanced(calibration, balanced) @ steps)
