"""Spectra of metal, clay and thin coats, for the rendered photographs and the demo trials.

Everything here lives on one axis, 380 to 730 nm in steps of 10 nm: 36 values. It is the truth
that the demonstration is made from; tonematch itself works in three bands and never imports it.

References
----------
.. [1] Kubelka, P. (1948). New contributions to the optics of intensely light-scattering
   materials. Part I. Journal of the Optical Society of America 38(5), 448-457.
.. [2] Saunderson, J. L. (1942). Calculation of the color of pigmented plastics. Journal of the
   Optical Society of America 32(12), 727-736.
.. [3] Johnson, P. B. and Christy, R. W. (1972). Optical constants of the noble metals. Physical
   Review B 6(12), 4370-4379.
"""

import csv
import warnings
from functools import cache

import numpy as np
from numpy.typing import NDArray
from scipy.interpolate import CubicSpline

from tonematch.swatchbook import swatch_path

with warnings.catch_warnings():
    warnings.filterwarnings("ignore", message=".*Matplotlib.*")
    import colour

Array = NDArray[np.float64]

WAVELENGTHS: Array = np.arange(380.0, 731.0, 10.0)
METALS = swatch_path("metals.csv")
_FINE: Array = np.arange(380.0, 781.0, 1.0)


def band_weights(curve: Array) -> Array:
    """Turn a curve given nm by nm into weights for spectra of 36 values.

    The spectrum is taken as a cubic spline through its values, and as constant beyond 730 nm.

    Parameters
    ----------
    curve : ndarray, shape (401,) or (401, n)
        Values at 380, 381, ..., 780 nm.

    Returns
    -------
    ndarray, shape (36,) or (36, n)
        ``spectrum @ weights`` is the integral of spectrum times curve, per nm.
    """
    spline = CubicSpline(WAVELENGTHS, np.eye(WAVELENGTHS.size))
    return np.asarray(spline(np.minimum(_FINE, WAVELENGTHS[-1])).T @ curve, dtype=np.float64)


def illuminant(name: str) -> Array:
    """Relative power of a CIE illuminant (colour-science), 380 to 780 nm by 1 nm, shape (401,)."""
    table = colour.SDS_ILLUMINANTS[name]
    return np.asarray(np.interp(_FINE, table.wavelengths, table.values), dtype=np.float64)


def sensitivity(camera: str) -> Array:
    """Spectral sensitivities of a camera (colour-science), shape (401, 3), 0 where not measured."""
    table = colour.MSDS_CAMERA_SENSITIVITIES[camera]
    axis = table.wavelengths
    curves = [np.interp(_FINE, axis, column, left=0.0, right=0.0) for column in table.values.T]
    return np.stack(curves, axis=-1)


@cache
def xyz_weights(light: str) -> Array:
    """Weights from a reflectance spectrum to CIE XYZ, 2 degree, Y of white 1; shape (36, 3)."""
    table = colour.MSDS_CMFS["CIE 1931 2 Degree Standard Observer"]
    observer = np.stack(
        [np.interp(_FINE, table.wavelengths, column) for column in table.values.T], axis=-1
    )
    weights = band_weights(illuminant(light)[:, None] * observer)
    return np.asarray(weights / weights[:, 1].sum(), dtype=np.float64)


def lab_d50(reflectance: Array) -> Array:
    """CIELAB for D50 and the 2 degree observer of reflectance spectra.

    Parameters
    ----------
    reflectance : ndarray, shape (..., 36)
        0 to 1.

    Returns
    -------
    ndarray, shape (..., 3)
        A perfect reflector is exactly 100, 0, 0.
    """
    weights = xyz_weights("D50")
    white = colour.XYZ_to_xy(weights.sum(axis=0))
    return np.asarray(colour.XYZ_to_Lab(reflectance @ weights, white), dtype=np.float64)


def rgb_weights(space: str, light: str) -> Array:
    """Weights from a reflectance spectrum to linear RGB of a space (colour-science); (36, 3)."""
    to_rgb = np.linalg.inv(colour.RGB_COLOURSPACES[space].matrix_RGB_to_XYZ)
    return np.asarray(xyz_weights(light) @ to_rgb.T, dtype=np.float64)


def chart_reflectance() -> Array:
    """Reflectance of the 24 patches of the chart "ColorChecker N Ohta", shape (24, 36)."""
    patches = colour.SDS_COLOURCHECKERS["ColorChecker N Ohta"].values()
    return np.array([np.interp(WAVELENGTHS, p.wavelengths, p.values) for p in patches])


def delta_e_2000(lab1: Array, lab2: Array) -> Array:
    """CIEDE2000 by colour-science, kL = kC = kH = 1."""
    return np.asarray(colour.delta_E(lab1, lab2, method="CIE 2000"), dtype=np.float64)


def metal_reflectance(metal: str) -> Array:
    """Reflectance of a smooth metal in its mirror direction at normal incidence, shape (36,).

    Fresnel reflectance of the optical constants of Johnson and Christy [3]_ kept in metals.csv
    (``python -m tests.demonstration.metals`` writes it).

    Parameters
    ----------
    metal : {"gold", "silver", "copper"}

    Raises
    ------
    KeyError
        When metals.csv has no such metal.
    """
    with METALS.open(encoding="utf-8", newline="") as file:
        rows = [row for row in csv.DictReader(file) if row["metal"] == metal]
    if not rows:
        raise KeyError(metal)
    index = np.array([complex(float(row["n"]), float(row["k"])) for row in rows])
    return np.asarray(np.abs((index - 1) / (index + 1)) ** 2, dtype=np.float64)


def gold_reflectance() -> Array:
    """Reflectance of gold, shape (36,); see `metal_reflectance`."""
    return metal_reflectance("gold")


def step_up(low: float, high: float, centre: float, width: float) -> Array:
    """A smooth rise from `low` to `high` around `centre` nm, the shape of an earth pigment."""
    return low + (high - low) / (1 + np.exp(-(WAVELENGTHS - centre) / width))


def bole_reflectance(kind: str = "red") -> Array:
    """Reflectance of clay bole, shape (36,). Starting guess: made up to look plausible.

    Parameters
    ----------
    kind : {"red", "yellow", "grey"}
    """
    shapes = {
        "red": step_up(0.055, 0.30, 592.0, 17.0),
        "yellow": step_up(0.10, 0.52, 545.0, 22.0),
        "grey": step_up(0.10, 0.16, 560.0, 60.0),
    }
    return shapes[kind]


def kubelka_munk(Rg: Array, K: Array, S: Array, x: Array | float) -> Array:
    """Reflectance of a coat over a ground, Kubelka 1948 [1]_.

    Parameters
    ----------
    Rg : ndarray, shape (..., 36)
        Reflectance of the ground, 0 to 1.
    K, S : ndarray, shape (36,)
        Absorption and scattering per unit thickness, not negative.
    x : float or ndarray that broadcasts with `Rg`
        Thickness, not negative.

    Returns
    -------
    ndarray, shape (..., 36)
    """
    S = np.maximum(S, 1e-6)  # the limit S = 0 is Rg exp(-2 K x), and is reached smoothly
    a = 1 + np.maximum(K, 1e-9) / S
    b = np.sqrt(a * a - 1)
    tanh = np.tanh(b * S * x)
    # The usual form with both sides multiplied by tanh, so that x = 0 gives Rg.
    return (tanh * (1 - Rg * a) + Rg * b) / (tanh * (a - Rg) + b)


def under_surface(inside: Array, outer: Array | float, inner: Array | float) -> Array:
    """Reflectance seen from outside a coat with a surface of its own, Saunderson 1942 [2]_.

    Parameters
    ----------
    inside : ndarray, shape (..., 36)
        Reflectance beneath the surface.
    outer, inner : float, or ndarray that broadcasts with `inside`
        Fraction reflected at the surface from outside and from inside, 0 to 1.
    """
    return outer + (1 - outer) * (1 - inner) * inside / (1 - inner * inside)
