"""Workshops whose films obey other physics than the layer model, and than the first simulator's.

Every seed is a workshop: ten to twelve layers, a hand, and a way in which its golds take a coat,
all drawn. What happens in them, wavelength by wavelength (36 bands), that neither tonematch nor
`tests.toning.simulator` knows:

- doses that saturate: brushed twice as thick, a coat is not twice as thick [1]_;
- a surface of its own for every film, which takes the place of the one below it [2]_, so that a
  seal over a matte wash or dust fills the tooth that scattered white, and the colour deepens;
- specks that cover by area, by chance one over the other, with a gain of their shadows [3]_;
- old gold toned with paints, varnish and smoke that no layer on the shelf holds (metamers);
- hands that scatter by 10 to 25 %;
- layers that come off again, nearly: what is taken back leaves a residue.

Everything is invented: names, mixtures, amounts. K and S of the paints are measured (Rochester
Institute of Technology, in tests/reference); mixtures, resins and smoke are made up.

References
----------
.. [1] Langmuir, I. (1918). The adsorption of gases on plane surfaces of glass, mica and platinum.
   Journal of the American Chemical Society 40(9), 1361-1403: amount = x / (1 + x / most).
.. [2] Saunderson, J. L. (1942). Calculation of the color of pigmented plastics. Journal of the
   Optical Society of America 32(12), 727-736.
.. [3] Murray, A. (1936). Monochrome reproduction in photoengraving. Journal of the Franklin
   Institute 221(6), 721-744. That specks laid by chance leave exp(-x) bare is Poisson's law.
"""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import cache

import numpy as np

from tests.demonstration.spectra import (
    WAVELENGTHS,
    Array,
    bole_reflectance,
    gold_reflectance,
    kubelka_munk,
    lab_d50,
    metal_reflectance,
    step_up,
    under_surface,
)
from tests.toning.simulated import Whole
from tests.toning.simulator import mixed
from tonematch.toning.core import Finish, Kind, Layer, Technique
from tonematch.toning.layers.taking_back import TAKEN_BACK

TAKEN_BACK_BY: dict[Kind, str] = {
    "seal": "alcohol", "wash": "water", "dust": "dry brush", "wax": "white spirit",
}  # fmt: skip
"""With what a layer comes off; glazes are oil and stay, and what is rubbed is gone."""
BOOKS = 0.5
"""Deviation of log K and S of a paint in a book from one of that name in this workshop."""
FILLS = 0.15
"""Thickness at which a coat's surface has taken the place of two thirds of what lay there."""

_WARM = ("CadmiumOrange", "PyrroleOrange", "CadmiumRedLight", "PyrroleRed")
_RED = ("CadmiumRedLight", "PyrroleRed", "QuinacridoneRed")
_YELLOW = ("HansaYellowOpaque", "DiarylideYellow", "BismuthVanadateYellow")
_GREEN = ("PhthaloGreenYellowShade", "PhthaloGreenBlueShade")
_BLUE = ("UltramarineBlue", "CobaltBlue", "DioxazinePurple")
# A tone's paints: from which one is drawn, least and greatest share.
_TONES: dict[str, tuple[tuple[tuple[str, ...], float, float], ...]] = {
    "dun": ((("BoneBlack",), 0.35, 0.6), (_WARM, 0.05, 0.14)),
    "fox": ((("BoneBlack",), 0.15, 0.35), (_RED, 0.06, 0.14)),
    "straw": ((("BoneBlack",), 0.08, 0.25), (_YELLOW, 0.06, 0.16)),
    "moss": ((("BoneBlack",), 0.35, 0.55), (_YELLOW, 0.05, 0.12), (_GREEN, 0.004, 0.012)),
    "slate": ((("BoneBlack",), 0.4, 0.7), (_BLUE, 0.02, 0.08)),
    "mist": ((("BoneBlack",), 0.3, 0.5), (("TitaniumWhite",), 0.12, 0.3), (_WARM, 0.03, 0.08)),
}
_SMOOTH = np.ones_like(WAVELENGTHS)


@dataclass(frozen=True, eq=False)
class Film:
    """What one layer is made of.

    Attributes
    ----------
    K, S : ndarray, shape (36,)
        Absorption and scattering times thickness of one dose.
    most : float
        Doses at which the thickness would level out; one dose is a thickness of 1.
    skin : ndarray, shape (3,)
        Fraction of light that its surface reflects from outside, that it turns back from inside,
        and that its tooth scatters white.
    specks : float
        0 for a film that lies everywhere; else specks laid for a dose, as a share of the area.
    gain : float
        Their shadows: added area for each area times what is left bare.
    """

    kind: Kind
    K: Array
    S: Array
    most: float
    skin: Array
    specks: float = 0.0
    gain: float = 0.0


@dataclass(frozen=True, eq=False)
class Surface:
    """Gilding with what was laid on it so far; one, or n at once.

    Attributes
    ----------
    inside : ndarray, shape (..., 36)
        Reflectance beneath the outermost surface.
    bole : ndarray, shape (36,)
        Reflectance of what shows where leaf is worn through.
    skin : ndarray, shape (..., 3)
        What the outermost surface does, as that of a `Film`; zeros for bare gold.
    beneath : Surface or None
        What lay there before the last layer, where one lies.
    film : Film or None
    dose : float or ndarray, shape (n, 1)
        What was laid last.
    """

    inside: Array
    bole: Array
    skin: Array
    beneath: "Surface | None" = None
    film: Film | None = None
    dose: float | Array = 0.0

    @property
    def reflectance(self) -> Array:
        """What is seen, shape (..., 36)."""
        outer, inner, matte = (self.skin[..., n, None] for n in range(3))
        return np.asarray(matte + (1.0 - matte) * under_surface(self.inside, outer, inner))


def thickness(film: Film, dose: Array | float) -> Array:
    """How thick a dose lies, in doses: saturates (Langmuir 1918), and is 1 for one dose."""
    return np.asarray(dose * (1.0 + 1.0 / film.most) / (1.0 + np.asarray(dose) / film.most))


def area(film: Film, dose: Array | float) -> Array:
    """Share of the area that looks covered: specks by chance, with the gain of their shadows."""
    covered = 1.0 - np.exp(-film.specks * thickness(film, dose))
    return np.asarray(np.minimum(covered + film.gain * covered * (1.0 - covered), 1.0))


def lay(surface: Surface, film: Film, dose: Array | float) -> Surface:
    """Lay a film, specks, or rub to the bole.

    Specks are a dose thick and mix by area (Murray-Davies). The skin is the film's own where it
    lies, and where the film is thin the surface beneath still shows its tooth.
    """
    if film.specks:
        covered = area(film, dose)
        solid = surface.bole if film.kind == "rub" else _film(surface, film, 1.0)
        inside = (1.0 - covered) * surface.inside + covered * solid
    else:
        thick = thickness(film, dose)
        covered = 1.0 - np.exp(-thick / FILLS)
        inside = _film(surface, film, thick)
    skin = (1.0 - covered) * surface.skin + covered * film.skin
    return Surface(inside, surface.bole, skin, surface, film, dose)


def _film(surface: Surface, film: Film, thick: Array | float) -> Array:
    return kubelka_munk(surface.inside, film.K, film.S, thick)


@dataclass(frozen=True, eq=False)
class SecondWorkshop:
    """A workshop of its own: see `tests.toning.simulated.Simulated`.

    Attributes
    ----------
    films : mapping from name to Film
    layers : mapping from name to Layer
        What the gilder knows of them: the kind, with what each comes off, and of what is in it
        the K and S that a book gives, which are not this workshop's.
    hand : float
        Deviation of log dose, 0.10 to 0.25.
    takes : mapping
        How much more of a coat matte gilding, and oil gilding, takes.
    residue : float
        Share of a layer that stays when it is taken back.
    palette : frozenset of str
        The paints on the shelf; old gold was toned with others.
    """

    films: Mapping[str, Film]
    layers: Mapping[str, Layer]
    hand: float
    takes: Mapping[Technique | Finish, float]
    residue: float
    palette: frozenset[str]

    def new_surface(self, rng: np.random.Generator) -> Surface:
        """Untoned leaf of a random alloy over a random bole, a little worn."""
        ground = bole_reflectance(str(rng.choice(["red", "yellow", "grey"])))
        silver, worn = rng.uniform(0.0, 0.08), rng.uniform(0.0, 0.08)
        leaf = (1.0 - silver) * gold_reflectance() + silver * metal_reflectance("silver")
        return Surface((1.0 - worn) * leaf + worn * ground, ground, np.zeros(3))

    def random_old_surface(self, seed: int) -> Surface:
        """Gilding worn, smoked, varnished and toned with earths and paints of other shelves."""
        rng = np.random.default_rng(seed)
        surface = self.new_surface(rng)
        worn = rng.uniform(0.0, 0.2)
        inside = (1.0 - worn) * surface.inside + worn * surface.bole
        surface = replace(surface, inside=inside)
        foreign = sorted({paint for some in (_WARM, _RED, _YELLOW) for paint in some})
        foreign = [paint for paint in foreign if paint not in self.palette]
        for _ in range(int(rng.integers(1, 4))):
            K, S = mixed({str(rng.choice(foreign)): rng.uniform(0.01, 0.05)})
            earth = step_up(0.25, rng.uniform(0.03, 0.15), rng.uniform(530, 600), 25.0)
            film = Film("glaze", K + earth, S, 2.0, _skin(rng, "glaze"))
            surface = lay(surface, film, rng.uniform(0.1, 1.0))
        K = _resin(rng.uniform(0.2, 0.5), rng.uniform(150, 450), rng.uniform(0.02, 0.15))
        smoke = Film("wash", K, 0.01 * _SMOOTH, 2.0, _skin(rng, "wash"))
        return lay(surface, smoke, rng.uniform(0.1, 1.2))

    def true_after(
        self,
        surface: Surface,
        layer: str,
        strength: float | Array,
        coats: float | Array = 1,
        *,
        technique: Technique = "water",
        finish: Finish = "burnished",
        hand: float | Array = 0.0,
    ) -> Surface:
        """The surface once a layer lies on it, or is taken back."""
        if layer.endswith(TAKEN_BACK):
            return self.lift(surface, layer.removesuffix(TAKEN_BACK), hand)
        film = self.films[layer]
        takes = 1.0
        if film.kind != "rub":
            takes = self.takes.get(technique, 1.0) * self.takes.get(finish, 1.0)
        return lay(surface, film, coats * strength * takes * np.exp(hand))

    def lift(self, surface: Surface, layer: str, hand: float | Array = 0.0) -> Surface:
        """Nearly what lay beneath a layer; what it was, where that is not on top or stays."""
        under, film = surface.beneath, surface.film
        if under is None or film is not self.films[layer] or film.kind not in TAKEN_BACK_BY:
            return surface
        left = lay(under, film, self.residue * np.exp(hand) * surface.dose)
        return replace(left, beneath=under.beneath, film=under.film, dose=under.dose)

    def lab_of(self, surface: Surface) -> Array:
        """True CIELAB (D50, 2 degree), shape (..., 3)."""
        return lab_d50(surface.reflectance)

    def rows(self, surface: Surface, at: Whole) -> Surface:
        """These of many surfaces; a single one counts as many of one. They cannot be lifted."""
        inside, skin = np.atleast_2d(surface.inside), np.atleast_2d(surface.skin)
        return Surface(inside[at], surface.bole, skin[at])


@cache
def second_workshop(seed: int) -> SecondWorkshop:
    """The workshop of a seed."""
    rng = np.random.default_rng([seed, 36])
    more = set(_some(rng, ("seal", "wash", "dust"), int(rng.integers(0, 3))))
    films = {}
    for name, at_400 in (("clear", 0.03), ("amber", 0.3), ("brown", 0.15)):
        if name != "brown" or "seal" in more:
            K = rng.uniform(0.7, 1.4) * _resin(at_400, rng.uniform(55, 90), 0.2 * at_400)
            films[f"{name} coat"] = _film_of(rng, "seal", K, 0.001 * _SMOOTH)
    tones: dict[Kind, list[str]] = {
        "glaze": _some(rng, ("dun", "fox", "straw", "slate"), 3),
        "wash": _some(rng, ("moss", "slate", "dun", "straw"), 2 + ("wash" in more)),
        "dust": _some(rng, ("mist", "dun"), 1 + ("dust" in more)),
        "wax": _some(rng, ("dun", "fox"), 1),
    }
    palette: set[str] = set()
    for kind, names in tones.items():
        for tone in names:
            shares = {str(rng.choice(of)): rng.uniform(low, high) for of, low, high in _TONES[tone]}
            palette |= set(shares)
            body = rng.uniform(0.7, 1.4)
            K, S = mixed(shares)
            films[f"{tone} {kind}"] = _film_of(rng, kind, body * K, body * S)
    films["thinned leaf"] = _film_of(rng, "rub", _SMOOTH, _SMOOTH)
    takes: dict[Technique | Finish, float] = {
        "oil": rng.uniform(0.75, 1.0), "matte": rng.uniform(1.0, 1.4)
    }  # fmt: skip
    layers = {name: _entry(rng, name, film) for name, film in films.items()}
    hand, residue = rng.uniform(0.10, 0.25), rng.uniform(0.02, 0.08)
    return SecondWorkshop(films, layers, hand, takes, residue, frozenset(palette))


def _entry(rng: np.random.Generator, name: str, film: Film) -> Layer:
    """A layer as the gilder knows it: for what is in it, books give K and S of their own paints."""
    off = TAKEN_BACK_BY.get(film.kind, "")
    layer = Layer(
        name,
        film.kind,
        drying_hours=_DRYING_HOURS[film.kind],
        reversible=off or "not reversible",
        taken_back_by=off,
    )
    if film.kind == "rub":
        return layer
    bands = [(low <= WAVELENGTHS) & (low + 100 > WAVELENGTHS) for low in (600, 500, 400)]
    told = np.exp(BOOKS * rng.standard_normal()) * np.exp(0.5 * BOOKS * rng.standard_normal((2, 3)))
    K, S = told * [[curve[band].mean() for band in bands] for curve in (film.K, film.S)]
    cover = float(film.kind == "dust")
    return replace(layer, absorption=tuple(K), scattering=tuple(S), cover=cover)


# Hours that a layer dries.
_DRYING_HOURS: dict[Kind, tuple[float, float]] = {
    "seal": (2.0, 12.0), "glaze": (24.0, 72.0), "wash": (1.0, 4.0), "dust": (0.0, 0.0),
    "wax": (4.0, 24.0), "rub": (0.0, 0.0),
}  # fmt: skip
# Least and greatest of what a surface reflects from outside, turns back, and scatters white.
_SKINS: dict[Kind, tuple[tuple[float, float], ...]] = {
    "seal": ((0.020, 0.045), (0.10, 0.35), (0.000, 0.004)),
    "glaze": ((0.015, 0.030), (0.10, 0.30), (0.002, 0.010)),
    "wash": ((0.008, 0.020), (0.05, 0.20), (0.015, 0.040)),
    "dust": ((0.000, 0.010), (0.00, 0.10), (0.030, 0.060)),
    "wax": ((0.012, 0.025), (0.10, 0.25), (0.002, 0.010)),
    "rub": ((0.000, 0.000), (0.00, 0.00), (0.010, 0.030)),
}
# Least and greatest specks of a dose.
_SPECKS: dict[Kind, tuple[float, float]] = {"dust": (0.5, 1.1), "rub": (0.15, 0.35)}


def _film_of(rng: np.random.Generator, kind: Kind, K: Array, S: Array) -> Film:
    specks, gain = 0.0, 0.0
    if kind in _SPECKS:
        specks, gain = rng.uniform(*_SPECKS[kind]), rng.uniform(0.0, 0.5) * (kind == "dust")
    return Film(kind, K, S, rng.uniform(1.0, 3.0), _skin(rng, kind), specks, gain)


def _skin(rng: np.random.Generator, kind: Kind) -> Array:
    return np.array([rng.uniform(*span) for span in _SKINS[kind]])


def _resin(at_400: float, reach: float, floor: float) -> Array:
    """Absorption that falls from blue to red."""
    return np.asarray(floor + at_400 * np.exp(-(WAVELENGTHS - 400.0) / reach))


def _some(rng: np.random.Generator, names: tuple[str, ...], count: int) -> list[str]:
    return [str(name) for name in rng.choice(names, count, replace=False)]
