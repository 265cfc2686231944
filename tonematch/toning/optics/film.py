"""How one layer acts: fifteen numbers, and what they do to a surface.

A layer laid at strength s in c coats has the amount ``t = (c * s)**gamma * exp(effects)``, scaled
by its technique and finish effects: where twice the strength brings less than twice as much, so
does a second coat. The amount lies as a film over a part of the area: up to t = 1
``area = reach * t**phi``, and beyond, where every further coat reaches the same share of what was
left, ``area = 1 - (1 - reach)**(t**phi)``; its thickness is ``reach * t / area``. With phi = 0 and
reach = 1 it is an even film everywhere; with phi = 1 specks of full thickness (dust, fly-specks).
Rubbing back is the same law: an opaque "film" of bole on the part worn through. So is taking back:
on the part that comes clean lies the stain that is left, over what was there before the layer.

A coat brings a surface of its own, which takes the place of the one below it. On gold, light that
it turns back inside deepens the colour; over another film that has happened already, and over a
matte layer it fills the tooth that scattered white. So what lies beneath is first rid of ``white``
where it is matte and of ``undone`` where it is a film; with the coat it gets ``inner`` (Saunderson,
J. L. (1942). Calculation of the color of pigmented plastics. Journal of the Optical Society of
America 32(12), 727-736). What a coat's own surface does and what those beneath had done are two
numbers: with one for both, seals over other films were foretold the worst.
"""

from collections.abc import Sequence
from dataclasses import dataclass, fields
from functools import cached_property

import numpy as np
from numpy.typing import ArrayLike, NDArray

from tonematch.arrays import Array
from tonematch.toning.core import Application, Finish, Kind, Surface, Technique
from tonematch.toning.optics.kubelka_munk import (
    DARKEST,
    bands_to_lab,
    kubelka_munk,
    lab_to_bands,
    mix_by_area,
    within,
)

# Where each parameter stands in a vector theta.
LN_K, LN_S = slice(0, 3), slice(3, 6)
LN_GAMMA, LOGIT_PHI, LN_SPREADING, LN_REACH, TECHNIQUE, FINISH = 6, 7, 8, 9, 10, 11
WHITE, INNER, UNDONE = 12, 13, 14
PARAMETERS = 15
# What can be moved at once to see what each does to the bands, a row for each: the K of all bands,
# since a band hangs on its own alone, their S, and six that all bands have in common. The others
# act through the amount. And which band hangs on which, shape (3, 15).
AT_ONCE = np.zeros((8, PARAMETERS))
AT_ONCE[0, LN_K] = AT_ONCE[1, LN_S] = 1.0
AT_ONCE[range(2, 8), [LOGIT_PHI, LN_SPREADING, LN_REACH, WHITE, INNER, UNDONE]] = 1.0
OF_BAND = np.ones((3, PARAMETERS))
OF_BAND[:, LN_K] = OF_BAND[:, LN_S] = np.eye(3)

# What lies everywhere, with a surface of its own.
FILMS: frozenset[Kind] = frozenset({"seal", "glaze", "wash", "wax"})
TECHNIQUE_SIGN: dict[Technique, float] = {"water": 0.5, "oil": -0.5, "unknown": 0.0}
# Amount at which a coat's surface has taken the place of two thirds of what lay there, and how
# matte a layer's surface is, and how much of a film (choices of this project, no source).
FILLS = 0.25
SKINS: dict[Kind | None, tuple[float, float]] = {
    None: (0.0, 0.0),
    "lift": (0.0, 0.0),
    "seal": (0.0, 1.0),
    "glaze": (0.0, 1.0),
    "wax": (0.0, 1.0),
    "wash": (1.0, 0.6),
    "dust": (1.0, 0.0),
    "rub": (1.0, 0.0),
}
FINISH_SIGN: dict[Finish, float] = {"burnished": 0.5, "matte": -0.5, "unknown": 0.0}


@dataclass(frozen=True, eq=False)
class Laid:
    """Applications of one layer as arrays.

    Attributes
    ----------
    before : ndarray, shape (..., n, 3)
        CIELAB, D50, 2 degree.
    strength, coats, technique, finish : ndarray, shape (n,)
        The last two as signs: +0.5, -0.5, or 0 where unknown.
    skin : ndarray, shape (n, 2)
        Of what lies directly beneath: see SKINS.
    under : ndarray, shape (n, 3), or None
        For a lift: CIELAB that shows where the layer comes off clean.
    """

    before: Array
    strength: Array
    coats: Array
    technique: Array
    finish: Array
    skin: Array
    under: Array | None = None

    @classmethod
    def of(cls, applications: Sequence[Application]) -> "Laid":
        """Gather applications of one layer."""
        return cls(
            before=np.array([a.before for a in applications], dtype=np.float64).reshape(-1, 3),
            strength=np.array([a.strength for a in applications], dtype=np.float64),
            coats=np.array([a.coats for a in applications], dtype=np.float64),
            technique=np.array([TECHNIQUE_SIGN[a.technique] for a in applications]),
            finish=np.array([FINISH_SIGN[a.finish] for a in applications]),
            skin=np.array([SKINS[a.over] for a in applications]).reshape(-1, 2),
            under=None
            if all(a.under is None for a in applications)
            else np.array([a.before if a.under is None else a.under for a in applications]),
        )

    @classmethod
    def on(
        cls,
        before: ArrayLike,
        strength: ArrayLike,
        coats: ArrayLike,
        gilding: Surface | Application,
        under: ArrayLike | None = None,
        skin: ArrayLike | None = None,
    ) -> "Laid":
        """One layer on surfaces of one gilding; what is of one surface or number holds for all.

        `skin` is that of what lies on the gilding last, unless given.
        """
        n = np.broadcast_shapes(np.shape(before)[:-1], np.shape(strength), np.shape(coats), (1,))

        def spread(value: ArrayLike, *more: int) -> Array:
            return np.array(np.broadcast_to(np.asarray(value, dtype=np.float64), (*n, *more)))

        return cls(
            spread(before, 3),
            spread(strength),
            spread(coats),
            spread(TECHNIQUE_SIGN[gilding.technique]),
            spread(FINISH_SIGN[gilding.finish]),
            spread(SKINS[gilding.over] if skin is None else skin, 2),
            None if under is None else spread(under, 3),
        )

    def __len__(self) -> int:
        return len(self.before)

    @cached_property
    def ground(self) -> Array:
        """Reflectance before in the three bands, shape (n, 3)."""
        return lab_to_bands(self.before)

    def only(self, rows: NDArray[np.intp]) -> "Laid":
        """Some of the applications."""
        columns = {field.name: getattr(self, field.name) for field in fields(self)}
        return Laid(**{name: told[rows] for name, told in columns.items() if told is not None})


def amount(theta: Array, laid: Laid) -> Array:
    """Coats of full strength that lie there, shape (..., n), for a theta of shape (..., 15)."""
    t = theta[..., None, :]
    effects = t[..., TECHNIQUE] * laid.technique + t[..., FINISH] * laid.finish
    dose = laid.coats * laid.strength
    return np.asarray(dose ** np.exp(t[..., LN_GAMMA]) * np.exp(effects))


def amount_by_theta(theta: Array, laid: Laid) -> Array:
    """Slopes of the amount's natural logarithm with a theta of shape (15,), shape (n, 15)."""
    slopes = np.zeros((len(laid), PARAMETERS))
    slopes[:, LN_GAMMA] = np.exp(theta[LN_GAMMA]) * np.log(laid.coats * laid.strength)
    slopes[:, TECHNIQUE], slopes[:, FINISH] = laid.technique, laid.finish
    return slopes


def lay(theta: Array, laid: Laid, more: float | Array = 0.0) -> Array:
    """CIELAB after the layer, shape (..., n, 3), for a theta of shape (..., 15).

    `more`, (..., n), is the natural logarithm by which the amount is scaled: the hand's scatter.
    """
    return bands_to_lab(bands_after(theta, laid, more))


def bands_after(
    theta: Array, laid: Laid, more: float | Array = 0.0, lighter: float | Array = 0.0
) -> Array:
    """Reflectance in the three bands after the layer, shape (..., n, 3), arguments as of `lay`.

    `lighter`, (..., n, 1), is the natural logarithm by which the reflectance before is scaled.
    """
    ground = laid.ground * np.exp(lighter)
    t = (amount(theta, laid) * np.exp(more))[..., None]
    theta = theta[..., None, :]
    phi = 1.0 / (1.0 + np.exp(-theta[..., LOGIT_PHI, None]))
    reach = np.minimum(np.exp(theta[..., LN_REACH, None]), 1.0)
    cover = t**phi
    area = np.where(t < 1.0, reach * cover, 1.0 - (1.0 - reach) ** cover)
    thick = reach * t / area
    beneath = ground if laid.under is None else lab_to_bands(laid.under)
    filled = -np.expm1(-t / FILLS)
    white = filled * np.clip(theta[..., WHITE, None], -0.05, 0.15) * laid.skin[:, :1]
    inner = filled * np.clip(theta[..., INNER, None], -0.3, 0.6)
    undone = filled * np.clip(theta[..., UNDONE, None], -0.3, 0.6)
    bare = np.maximum(beneath - white, DARKEST) / (1.0 - white)
    bare = bare / (1.0 - undone * laid.skin[:, 1:] * (1.0 - bare))
    film = kubelka_munk(bare, np.exp(theta[..., LN_K]), np.exp(theta[..., LN_S]), thick)
    film = (1.0 - inner) * within(film) / (1.0 - inner * within(film))
    spreading = 1.0 + np.exp(theta[..., LN_SPREADING, None])
    return mix_by_area(ground, within(film), area, spreading)
