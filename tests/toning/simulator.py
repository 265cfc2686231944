"""A workshop that does not exist: spectral films on gold, for tests that need a known truth.

Ten layers over the six kinds: films of measured artists' paints mixed with one another, and
absorbers like shellac, wavelength by wavelength, with partial cover, a surface of their own, a
strength curve, and a hand that scatters. The layer model sees readings and the kind of a layer;
K and S of the spectra are never given to it, and no name here is on the shelf.

K and S of the paints: Rochester Institute of Technology data as carried by waacton/Unicolour
(MIT), in tests/reference; metals: Johnson and Christy 1972 (swatches/metals.csv). How much of each
paint a layer holds, its cover and its curve are made up.
"""

import json
from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import cache
from pathlib import Path

import numpy as np

from tests.demonstration.films import SMOKE, Film, Surface, lay
from tests.demonstration.spectra import (
    WAVELENGTHS,
    Array,
    bole_reflectance,
    gold_reflectance,
    lab_d50,
    metal_reflectance,
)
from tests.toning import simulated
from tests.toning.simulated import Simulated, SimulatedTrial, Whole
from tonematch.toning.core import Finish, Kind, Layer, Technique, Trial

PAINTS = Path(__file__).parents[1] / "reference" / "artist_paint_KS.json"

HAND = 0.15
"""Deviation of log thickness from one application to the next."""
EFFECTS: dict[Technique | Finish, float] = {"matte": 1.2, "oil": 0.9}
"""How much more of a coat a surface takes than burnished water gilding. Made up."""
BODY = 1.9
"""Thickness of a full coat (K and S are relative to titanium white's S of 1). So laid, a plain
Gaussian process errs by 5.0, 3.2, 1.9 and 1.2 CIEDE2000 after 20, 50, 100 and 300 trials."""


@dataclass(frozen=True, eq=False)
class SimulatedLayer:
    """A film with the exponent that turns strength into thickness."""

    film: Film
    kind: Kind
    curve: float


# Name, kind, paints with their share, cover, own surface, curve.
_RECIPES: tuple[tuple[str, Kind, dict[str, float], float, float | None, float], ...] = (
    ("warm glaze", "glaze", {"CadmiumOrange": 0.25, "BoneBlack": 0.5, "PyrroleRed": 0.05},
     1.0, 0.02, 1.0),
    ("red glaze", "glaze", {"QuinacridoneRed": 0.35, "BoneBlack": 0.3}, 1.0, 0.02, 0.9),
    ("yellow glaze", "glaze", {"DiarylideYellow": 0.25, "BoneBlack": 0.15}, 1.0, 0.02, 1.1),
    ("green wash", "wash",
     {"HansaYellowOpaque": 0.15, "BoneBlack": 0.5, "PhthaloGreenYellowShade": 0.03,
      "TitaniumWhite": 0.03}, 0.95, 0.008, 1.0),
    ("black wash", "wash", {"BoneBlack": 0.7, "UltramarineBlue": 0.2}, 0.95, 0.008, 0.85),
    ("grey dust", "dust", {"TitaniumWhite": 0.25, "BoneBlack": 0.5, "CadmiumOrange": 0.05},
     0.6, None, 1.0),
    ("brown wax", "wax", {"BoneBlack": 0.3, "CadmiumRedLight": 0.08}, 1.0, 0.015, 1.0),
)  # fmt: skip


def mixed(shares: dict[str, float]) -> tuple[Array, Array]:
    """K and S of a mixture: the sum by share (Duncan 1940)."""
    table = json.loads(PAINTS.read_text(encoding="utf-8"))
    size = WAVELENGTHS.size

    def total(which: str) -> Array:
        parts = [share * np.array(table[name][which][:size]) for name, share in shares.items()]
        return np.asarray(BODY * np.sum(parts, axis=0), dtype=np.float64)

    return total("K"), total("S")


def _resin(at_400: float, reach: float, floor: float) -> tuple[Array, Array]:
    """An absorber like shellac: falls from blue to red, hardly scatters."""
    K = floor + at_400 * np.exp(-(WAVELENGTHS - 400.0) / reach)
    return K, np.full_like(K, 0.001)


@cache
def workshop() -> dict[str, SimulatedLayer]:
    """The ten layers by name."""
    nothing = np.zeros_like(WAVELENGTHS)
    films: list[tuple[Film, Kind, float]] = [
        (Film("thin seal", "seal", *_resin(0.03, 60.0, 0.006), outer=0.02), "seal", 1.0),
        (Film("orange seal", "seal", *_resin(0.3, 75.0, 0.02), outer=0.025), "seal", 1.0),
        (Film("worn back", "rub", nothing, nothing, cover=0.3), "rub", 1.2),
    ]
    for name, kind, shares, cover, outer, curve in _RECIPES:
        films.append((Film(name, kind, *mixed(shares), cover, outer), kind, curve))
    return {film.name: SimulatedLayer(film, kind, curve) for film, kind, curve in films}


def new_surface(rng: np.random.Generator) -> Surface:
    """Untoned leaf of a random alloy over a random bole, a little worn."""
    ground = bole_reflectance(str(rng.choice(["red", "yellow"])))
    silver, worn = rng.uniform(0.0, 0.06), rng.uniform(0.0, 0.08)
    leaf = (1.0 - silver) * gold_reflectance() + silver * metal_reflectance("silver")
    return Surface((1.0 - worn) * leaf + worn * ground, ground)


def random_old_surface(seed: int) -> Surface:
    """Gilding that was worn, smoked and toned by hands unknown."""
    rng = np.random.default_rng(seed)
    surface = new_surface(rng)
    worn = rng.uniform(0.0, 0.25)
    surface = replace(surface, inside=(1.0 - worn) * surface.inside + worn * surface.bole)
    surface = lay(surface, SMOKE, rng.uniform(0.1, 0.8))
    for name in rng.choice(list(workshop()), size=rng.integers(1, 4), replace=False):
        surface = lay(surface, workshop()[str(name)].film, rng.uniform(0.2, 0.9))
    return surface


def true_after(
    surface: Surface,
    layer: str,
    strength: float | Array,
    coats: float | Array = 1,
    *,
    technique: Technique = "water",
    finish: Finish = "burnished",
    hand: float | Array = 0.0,
) -> Surface:
    """The surface once a layer lies on it.

    Parameters
    ----------
    surface : Surface
    layer : str
        One of `workshop`.
    strength : float
        Above 0.
    coats : int
    technique, finish : str
    hand : float
        Natural logarithm by which the hand laid more than meant; 0 is the hand's median.

    Returns
    -------
    Surface
    """
    known = workshop()[layer]
    takes = 1.0
    if known.kind != "rub":
        takes = EFFECTS.get(technique, 1.0) * EFFECTS.get(finish, 1.0)
    return lay(surface, known.film, coats * strength**known.curve * takes * np.exp(hand))


def lab_of(surface: Surface) -> Array:
    """True CIELAB (D50, 2 degree) of a surface, shape (3,)."""
    return lab_d50(surface.reflectance)


def make_trials(n: int, seed: int) -> list[Trial]:
    """The first n trials of a seed, as a logbook would hold them."""
    return [made.trial for made in make_with_truth(n, seed)]


def make_with_truth(n: int, seed: int) -> list[SimulatedTrial]:
    """The first n trials of a seed with their truth; another seed is other pieces."""
    return simulated.make_with_truth(FIRST, n, seed)


def rows(surface: Surface, at: Whole) -> Surface:
    """These of many surfaces; a single one counts as many of one."""
    inside = np.atleast_2d(surface.inside)
    outer = np.broadcast_to(np.asarray(surface.outer), (len(inside), 1))
    return Surface(inside[at], surface.bole, outer[at])


class _First:
    """The workshop of this module; of a layer the gilder knows the kind, and what is for good."""

    def __init__(self, hand: float = HAND) -> None:
        self.hand = hand

    layers: Mapping[str, Layer] = {
        name: Layer(
            name, known.kind, reversible="not reversible" if known.kind == "rub" else "unknown"
        )
        for name, known in workshop().items()
    }
    new_surface = staticmethod(new_surface)
    random_old_surface = staticmethod(random_old_surface)
    true_after = staticmethod(true_after)
    lab_of = staticmethod(lab_of)
    rows = staticmethod(rows)


FIRST: Simulated[Surface] = _First()


def by_hand(hand: float) -> Simulated[Surface]:
    """That workshop, where log thickness deviates so from one application to the next."""
    return _First(hand)
