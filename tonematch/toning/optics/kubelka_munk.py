"""Light through a coat: Kubelka-Munk films, partial cover, and the three bands they work in.

The bands are the channels of linear ROMM RGB (ISO 22028-2), whose white is D50 and which holds
every surface colour with all three values between 0 and 1.
"""

import numpy as np

from tonematch.arrays import Array
from tonematch.measure.colour.convert import XYZ_TO_ROMM, lab_to_xyz, xyz_to_lab
from tonematch.photo.profile import ROMM_TO_XYZ

# Reflectances are kept inside the open interval (0, 1), where Kubelka-Munk is defined.
DARKEST, LIGHTEST = 1e-4, 0.9995
# Below this K the film is taken as this faintly absorbing: the formula is 0/0 at K = 0.
FAINTEST = 1e-9


def lab_to_bands(lab: Array) -> Array:
    """Reflectance in the three bands, within [1e-4, 0.9995], of CIELAB (D50, 2 degree)."""
    return within(lab_to_xyz(lab) @ XYZ_TO_ROMM.T)


def within(reflectance: Array) -> Array:
    """Reflectance kept inside [1e-4, 0.9995]."""
    return np.minimum(np.maximum(reflectance, DARKEST), LIGHTEST)


def bands_to_lab(bands: Array) -> Array:
    """CIELAB (D50, 2 degree) of reflectances in the three bands: the inverse of lab_to_bands."""
    return xyz_to_lab(bands @ ROMM_TO_XYZ.T)


def kubelka_munk(ground: Array, absorption: Array, scattering: Array, thickness: Array) -> Array:
    """Reflectance, 0 to 1, of a film over a ground of reflectance Rg; shapes are broadcast.

    K and S are per unit of thickness; neither they nor the thickness are negative.

    Notes
    -----
    Kubelka, P. (1948). New contributions to the optics of intensely light-scattering materials,
    part I. Journal of the Optical Society of America 38(5), 448-457: the hyperbolic solution,
    here multiplied through by S so that S = 0 gives Rg exp(-2 K X).

    Examples
    --------
    A film that only absorbs passes the light twice:

    >>> float(np.round(kubelka_munk(np.array(0.8), np.array(0.5), np.array(0.0), np.array(1.0)), 6))
    0.294304
    """
    K = np.maximum(absorption, FAINTEST)
    S = scattering
    B = np.sqrt(K * (K + 2.0 * S))
    # coth is 1 to double precision beyond 20, and the thinnest film is left as good as none.
    B_coth = B / np.tanh(np.minimum(np.maximum(B * thickness, 1e-12), 20.0))
    return np.asarray((S - ground * (K + S - B_coth)) / (K + S - ground * S + B_coth))


def absorption_for(reflectance: Array, scattering: Array) -> Array:
    """K of what reflects this (0 < R < 1) when laid opaque: the Kubelka-Munk function."""
    return np.asarray(scattering * (1.0 - reflectance) ** 2 / (2.0 * reflectance))


def mix_by_area(ground: Array, covered: Array, area: Array, spreading: Array) -> Array:
    """Reflectance of a surface of which a part is covered, seen from too far to tell the spots.

    The area covered is a fraction, 0 to 1; `spreading` is the Yule-Nielsen n: 1 (spots wider than
    light spreads) and more.

    Notes
    -----
    Yule, J. A. C. and Nielsen, W. J. (1951). The penetration of light into paper and its effect
    on halftone reproduction. Proceedings of the Technical Association of the Graphic Arts 3,
    65-76. n = 1 is the plain mean by area (Murray and Davies 1936).
    """
    root = 1.0 / spreading
    mixed = (1.0 - area) * ground**root + area * covered**root
    return np.asarray(mixed**spreading)
