"""What toning layers do to gold, wavelength by wavelength, for the demonstration.

Absorption K and scattering S are smooth curves: starting guesses, made up to look plausible.
Nobody measured them, and the shelf's own three-band guesses (layers.toml) were made apart from
them. Three things happen here that three-band Kubelka-Munk does not know: bands of 10 nm instead
of three, the surface of a coat reflecting light of its own, and coats that leave gaps.

Run ``python -m tests.demonstration.films`` to print what each does to gold, and the K and S in
the three bands of linear ROMM RGB that come nearest to it.
"""

from dataclasses import dataclass, replace

import numpy as np
from scipy.optimize import least_squares

from tests.demonstration.spectra import (
    WAVELENGTHS,
    Array,
    bole_reflectance,
    gold_reflectance,
    kubelka_munk,
    lab_d50,
    rgb_weights,
    step_up,
    under_surface,
)

INNER_PER_OUTER = 4.0
"""Light turned back inside a coat per light reflected at its outside. Starting guess."""


@dataclass(frozen=True, eq=False)
class Film:
    """One layer at strength 1.0, by its name on the shelf.

    Attributes
    ----------
    name, kind : str
    K, S : ndarray, shape (36,)
        Absorption and scattering times thickness of one coat.
    cover : float
        Part of the area that the coat reaches, 0 to 1. For kind "rub" the part worn through.
    outer : float or None
        Fraction of light that the coat's own surface reflects; None leaves the surface as it is.
    """

    name: str
    kind: str
    K: Array
    S: Array
    cover: float = 1.0
    outer: float | None = None


@dataclass(frozen=True, eq=False)
class Surface:
    """Gilding with what was laid on it so far.

    Attributes
    ----------
    inside : ndarray, shape (..., 36)
        Reflectance beneath the outermost surface.
    bole : ndarray, shape (36,)
        Reflectance of what shows where leaf is worn through.
    outer : float, or ndarray of shape (..., 1)
        Fraction of light that the outermost surface reflects of itself.
    """

    inside: Array
    bole: Array
    outer: Array | float = 0.0

    @property
    def reflectance(self) -> Array:
        """What is seen, shape (..., 36)."""
        return under_surface(self.inside, self.outer, INNER_PER_OUTER * self.outer)


def _falling(at_400: float, reach: float, floor: float = 0.0) -> Array:
    """A curve that falls exponentially from `at_400` with `reach` nm, above `floor`."""
    return floor + (at_400 - floor) * np.exp(-(WAVELENGTHS - 400.0) / reach)


def _films() -> dict[str, Film]:
    flat = np.ones_like(WAVELENGTHS)
    raw_umber = step_up(0.225, 0.150, 560.0, 60.0)
    burnt_umber = step_up(0.270, 0.110, 605.0, 35.0)
    burnt_sienna = step_up(0.260, 0.035, 588.0, 18.0)
    raw_sienna = step_up(0.230, 0.030, 540.0, 24.0)
    ochre = step_up(0.190, 0.015, 525.0, 16.0)
    black = _falling(0.20, 900.0)
    earth = step_up(0.020, 0.040, 580.0, 40.0)
    films = (
        Film("clear shellac seal", "seal", _falling(0.030, 60.0, 0.006), 0.001 * flat, outer=0.02),
        Film("button shellac", "seal", _falling(0.130, 75.0, 0.012), 0.002 * flat, outer=0.025),
        Film("low-polarity resin seal", "seal", _falling(0.012, 60.0, 0.004), 0.001 * flat,
             outer=0.015),
        Film("gelatine size", "seal", 0.010 * flat, 0.012 * flat, outer=0.01),
        Film("raw umber glaze", "glaze", 0.85 * raw_umber, 0.35 * earth, outer=0.02),
        Film("burnt umber glaze", "glaze", 0.85 * burnt_umber, 0.30 * earth, outer=0.02),
        Film("burnt sienna glaze", "glaze", 0.90 * burnt_sienna, 0.40 * earth, outer=0.02),
        Film("raw sienna glaze", "glaze", 0.80 * raw_sienna, 0.50 * earth, outer=0.02),
        Film("raw umber wash", "wash", 0.70 * raw_umber, 1.4 * earth, 0.96, 0.008),
        Film("burnt umber wash", "wash", 0.70 * burnt_umber, 1.3 * earth, 0.96, 0.008),
        Film("raw sienna wash", "wash", 0.70 * raw_sienna, 1.8 * earth, 0.96, 0.008),
        Film("yellow ochre wash", "wash", 0.75 * ochre, 3.0 * earth, 0.95, 0.006),
        Film("lamp black wash", "wash", 0.80 * black, 0.008 * flat, 0.96, 0.008),
        Film("casein umber wash", "wash", 0.80 * raw_umber, 2.2 * earth, 0.94, 0.006),
        Film("rottenstone dust", "dust", _falling(0.130, 700.0), 0.22 * flat, 0.62, 0.0),
        Film("raw umber dust", "dust", 0.75 * raw_umber, 1.8 * earth, 0.55),
        Film("dark wax", "wax", 0.45 * black + 0.12 * raw_umber, 0.006 * flat, outer=0.015),
        Film("umber wax", "wax", 0.45 * raw_umber, 0.30 * earth, outer=0.015),
        Film("clear wax", "wax", _falling(0.030, 150.0, 0.010), 0.002 * flat, outer=0.012),
        Film("rub to bole", "rub", 0.0 * flat, 0.0 * flat, 0.20),
    )  # fmt: skip
    return {film.name: film for film in films}


FILMS: dict[str, Film] = _films()

SMOKE = Film("smoke and grime (no layer of the shelf)", "glaze", _falling(0.34, 330.0),
             0.012 * np.ones_like(WAVELENGTHS), 0.97, 0.015)  # fmt: skip
"""What a century of fires leaves on gold. Starting guess."""


def new_gold(bole: str = "red", gaps: float = 0.01) -> Surface:
    """Untoned new leaf over bole, with a few gaps between leaves (part of the area)."""
    ground = bole_reflectance(bole)
    return Surface((1 - gaps) * gold_reflectance() + gaps * ground, ground)


def lay(surface: Surface, film: Film, amount: Array | float) -> Surface:
    """Lay a layer on a surface.

    Parameters
    ----------
    surface : Surface
    film : Film
    amount : float or ndarray that broadcasts with ``surface.inside``
        Strength times coats times whatever the hand adds, not negative.

    Returns
    -------
    Surface
        For kind "rub" the leaf is worn through over ``cover * amount`` of the area, and what lay
        on it there goes with it.
    """
    if film.kind == "rub":
        worn = np.clip(film.cover * np.asarray(amount), 0.0, 1.0)
        return replace(surface, inside=(1 - worn) * surface.inside + worn * surface.bole)
    coated = kubelka_munk(surface.inside, film.K, film.S, np.asarray(amount) / film.cover)
    inside = (1 - film.cover) * surface.inside + film.cover * coated
    return Surface(inside, surface.bole, surface.outer if film.outer is None else film.outer)


def romm(reflectance: Array) -> Array:
    """Linear ROMM RGB (ISO 22028-2, D50), shape (..., 3)."""
    return np.asarray(reflectance @ rgb_weights("ROMM RGB", "D50"), dtype=np.float64)


def three_bands(film: Film) -> tuple[Array, Array]:
    """K and S in three bands whose Kubelka-Munk comes nearest to what a film does.

    Least squares on the cube root of linear ROMM RGB, over new gold, toned gold and worn gold,
    with amounts 0.25 to 2.

    Returns
    -------
    K, S : ndarray, shape (3,)
    """
    grounds = [
        lay(new_gold(), FILMS["clear shellac seal"], 1.0),
        lay(new_gold(), FILMS["raw umber glaze"], 1.0),
        lay(new_gold(), FILMS["rub to bole"], 2.0),
    ]
    cases = [
        (romm(ground.reflectance), romm(lay(ground, film, x).reflectance), x)
        for ground in grounds
        for x in (0.25, 0.5, 1.0, 2.0)
    ]

    def misfit(log_ks: Array) -> Array:
        K, S = np.exp(log_ks[:3]), np.exp(log_ks[3:])
        return np.concatenate(
            [np.cbrt(kubelka_munk(Rg, K, S, x)) - np.cbrt(seen) for Rg, seen, x in cases]
        )

    start = np.log(np.concatenate([np.full(3, 0.1), np.full(3, 0.02)]))
    found = least_squares(misfit, start, bounds=(np.log(1e-4), np.log(2.0)))
    return np.exp(found.x[:3]), np.exp(found.x[3:])


def main() -> None:
    """Print, as TOML, the three-band K and S of every film and what one coat does to gold."""
    bare = lay(new_gold(), FILMS["clear shellac seal"], 1.0)
    print("# Starting guesses from tests/demonstration/films.py, three bands of linear ROMM RGB.")
    for film in FILMS.values():
        lab = lab_d50(lay(bare, film, 1.0).reflectance)
        print(f'\n["{film.name}"]  # sealed gold {lab_d50(bare.reflectance).round(1).tolist()}'
              f" becomes {lab.round(1).tolist()}")  # fmt: skip
        if film.kind == "rub":
            print(f"cover = {film.cover}")
            continue
        K, S = three_bands(film)
        print(f"absorption = {K.round(4).tolist()}\nscattering = {S.round(4).tolist()}")


if __name__ == "__main__":
    main()
