"""How far cameras depart from the standard observer on gilding, found by simulation.

A camera calibrated on a grey card reads a surface of linear ROMM RGB r as (I + P) r, where P
takes neutrals to 0: P r = Q (red - green, blue - green), Q of shape (3, 2). P is the same for all
areas of a photograph. What no P can tell, since two spectra of one colour may read apart
(metamerism), differs from surface to surface.

The population: the cameras of colour-science, each also with its curves 4 nm to either side (two
sensors of one model differ), each with its one phone-like matrix (``camera.py``), under the
lamps of colour-science's table of illuminants but those that the tests photograph under; the
kinds of lamp (daylight, tungsten, LED, fluorescent) weigh the same.
The surfaces: old gilding and repairs of films (``films.py``). All of it is a starting guess: no
covariance of this kind is published for gilding.

Run ``python -m tests.demonstration.camera_error`` to print the figures kept in budget.toml.
"""

import warnings

import numpy as np

from tests.demonstration.camera import colour_matrix
from tests.demonstration.films import FILMS, SMOKE, lay, new_gold
from tests.demonstration.spectra import (
    Array,
    band_weights,
    delta_e_2000,
    illuminant,
    rgb_weights,
    sensitivity,
    xyz_weights,
)

with warnings.catch_warnings():
    warnings.filterwarnings("ignore", message=".*Matplotlib.*")
    import colour

CAMERAS = ("Nikon 5100 (NPL)", "Sigma SDMerill (NPL)")
SHIFTS = (-4, 0, 4)
"""Nanometres by which a sensor's curves lie off."""
KINDS = {
    "daylight": ("C", "D55", "D60", "D75", "ID50", "ID65", "ISO 7589 Photographic Daylight",
                 "ISO 7589 Sensitometric Daylight"),
    "tungsten": ("ISO 7589 Studio Tungsten", "ISO 7589 Sensitometric Studio Tungsten",
                 "ISO 7589 Photoflood", "ISO 7589 Sensitometric Photoflood"),
    "LED": ("LED-B1", "LED-B2", "LED-B3", "LED-B5", "LED-BH1", "LED-RGB1", "LED-V1"),
    "fluorescent": ("FL1", *(f"FL{number}" for number in range(3, 13)),
                    *(f"FL3.{number}" for number in range(1, 16))),
}  # fmt: skip
"""Without the lamps that the tests photograph under: A, D50, D65, LED-B4, LED-V2, FL2."""
SURFACES, SHOTS = 200, 400
GREATEST = 6.0
"""Greatest CIEDE2000 of surfaces that are compared."""


def random_surfaces(rng: np.random.Generator) -> Array:
    """Reflectances of old gilding and of repairs, shape (SURFACES, 36)."""
    found = []
    tones = [film for film in FILMS.values() if film.kind in ("glaze", "wash", "dust", "wax")]
    for number in range(SURFACES):
        surface = new_gold("red", rng.uniform(0.005, 0.03))
        if number % 2:
            surface = lay(surface, SMOKE, rng.uniform(0.2, 1.0))
            surface = lay(surface, FILMS["rub to bole"], rng.uniform(0.0, 1.5))
        else:
            surface = lay(surface, FILMS["clear shellac seal"], 1.0)
            for film in rng.choice(np.array(tones, dtype=object), size=2, replace=False):
                surface = lay(surface, film, rng.uniform(0.1, 1.2))
        found.append(surface.reflectance)
    return np.array(found)


def to_romm() -> Array:
    """Linear sRGB to linear ROMM RGB, white to white (Bradford), shape (3, 3)."""
    srgb = colour.RGB_COLOURSPACES["sRGB"].matrix_RGB_to_XYZ
    white = xyz_weights("D50").sum(axis=0)
    adapt = colour.adaptation.matrix_chromatic_adaptation_VonKries(
        srgb.sum(axis=1), white, "Bradford"
    )
    matrix = np.linalg.inv(colour.RGB_COLOURSPACES["ROMM RGB"].matrix_RGB_to_XYZ) @ adapt @ srgb
    return np.asarray(matrix / matrix.sum(axis=1, keepdims=True))


def as_read(surfaces: Array, camera: str, lamp: str, shift: int) -> Array:
    """Linear ROMM RGB that a camera reads after its card, shape (n, 3)."""
    curves = np.roll(sensitivity(camera), shift, axis=0)  # 0 at both ends
    weights = band_weights(illuminant(lamp)[:, None] * curves)
    balanced = surfaces @ (weights / weights.sum(axis=0))
    return np.asarray(balanced @ colour_matrix(camera).T @ to_romm().T)


def common_error(true: Array, read: Array) -> tuple[Array, Array]:
    """Q of one camera and lamp, and what it leaves of each surface as shares.

    Least squares with the slope of the cube root as weight, as the eye weighs light.

    Returns
    -------
    Q : ndarray, shape (3, 2)
    left : ndarray, shape (n, 3)
    """
    from_grey = true[:, [0, 2]] - true[:, [1]]
    error = read - true
    Q = np.empty((3, 2))
    for c in range(3):
        weight = true[:, c] ** (-2 / 3)
        Q[c], *_ = np.linalg.lstsq(from_grey * weight[:, None], error[:, c] * weight)
    return Q, (error - from_grey @ Q.T) / true


def lab(romm: Array) -> Array:
    """CIELAB of linear ROMM RGB, shape (..., 3)."""
    matrix = colour.RGB_COLOURSPACES["ROMM RGB"].matrix_RGB_to_XYZ
    white = colour.XYZ_to_xy(matrix.sum(axis=1))
    return np.asarray(colour.XYZ_to_Lab(romm @ matrix.T, white), dtype=np.float64)


def shares_at_95(true: Array, Q: Array, rng: np.random.Generator) -> float:
    """How far compared differences err at their 95 % point, beside what a normal P would do.

    The population has many lamps that do little and a few that do much, so that a normal
    distribution of its second moments is too wide at the 95 % point, which intervals need.
    """
    first, second = rng.permutation(len(true)), rng.permutation(len(true))
    apart = delta_e_2000(lab(true[first]), lab(true[second]))
    near = (apart > 0.5) & (apart < GREATEST)
    first, second, apart = first[near], second[near], apart[near]

    def reach(errors: Array) -> float:
        P_of = errors.reshape(-1, 3, 2)
        from_grey = true[:, [0, 2]] - true[:, [1]]
        seen = lab(np.maximum(true + np.einsum("kcd,nd->knc", P_of, from_grey), 1e-4))
        compared = delta_e_2000(seen[:, first], seen[:, second])
        return float(np.quantile(np.abs(compared - apart), 0.95))

    normal = rng.multivariate_normal(np.zeros(6), Q.T @ Q / len(Q), size=len(Q))
    return reach(Q) / reach(normal)


def main() -> None:
    """Print moments of Q (row by row: red, green, blue), fit at 95 %, and of what Q leaves."""
    surfaces = random_surfaces(np.random.default_rng(11))
    weights = rgb_weights("ROMM RGB", "D50")
    true = surfaces @ weights / weights.sum(axis=0)
    rng = np.random.default_rng(12)
    found = []
    for _ in range(SHOTS):
        lamp = str(rng.choice(KINDS[str(rng.choice(list(KINDS)))]))
        camera, shift = str(rng.choice(CAMERAS)), int(rng.choice(SHIFTS))
        found.append(common_error(true, as_read(surfaces, camera, lamp, shift)))
    Q = np.array([common.ravel() for common, _ in found])
    left = np.concatenate([rest for _, rest in found])
    share = shares_at_95(true, Q, rng)
    print(f"# at the 95 % point {share:.2f} of what a normal distribution would do")
    for name, moments in (
        ("common", share**2 * Q.T @ Q / len(Q)),
        ("surface", left.T @ left / len(left)),
    ):
        rows = ",\n".join(f"    [{', '.join(f'{v:.3g}' for v in row)}]" for row in moments)
        print(f"{name} = [\n{rows},\n]")


if __name__ == "__main__":
    main()
