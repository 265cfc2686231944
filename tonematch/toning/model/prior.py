"""What is thought of a layer before its trials: a normal distribution over its fifteen numbers."""

from dataclasses import dataclass, replace
from functools import cache

import numpy as np

from tonematch.arrays import Array
from tonematch.swatchbook import swatch_table
from tonematch.toning.core import Layer
from tonematch.toning.layers.shelf import load_boles
from tonematch.toning.optics.film import (
    FILMS,
    FINISH,
    INNER,
    LN_GAMMA,
    LN_K,
    LN_REACH,
    LN_S,
    LN_SPREADING,
    LOGIT_PHI,
    PARAMETERS,
    TECHNIQUE,
    UNDONE,
    WHITE,
)
from tonematch.toning.optics.kubelka_munk import absorption_for, lab_to_bands

# Standard deviations of ln K and ln S: what the three bands have in common, and each band's own. A
# shelf entry knows the hue of a layer better than its depth; of a kind alone neither is known. That
# of a shelf entry's bands is measured (`hue_width`), all others are choices of this project.
SHELF_DEPTH, KIND_WIDTH = 0.7, (0.9, 0.5)
# Scattering of bole, in coats: enough that none of the gold shows through it.
OPAQUE = 4.0

# White that a film takes from a matte layer, light that it turns back inside, and what a film
# beneath had turned back, as shares: found on simulated workshops. What is no film has no skin of
# its own.
SKIN, SKIN_WIDTH, NO_SKIN = (0.015, 0.05, 0.1), (0.015, 0.1, 0.07), 1e-6


@dataclass(frozen=True, eq=False)
class Prior:
    """A normal distribution of p numbers: theta is ``mean + root @ u``, u (k,) of unit variance."""

    mean: Array
    root: Array

    def at(self, u: Array) -> Array:
        """Theta of coordinates in which the prior has unit variance, shape (p,)."""
        return np.asarray(self.mean + self.root @ u)

    @property
    def covariance(self) -> Array:
        """Of theta, shape (p, p)."""
        return np.asarray(self.root @ self.root.T)

    @property
    def key(self) -> bytes:
        """The same for the same distribution alone."""
        return self.mean.tobytes() + self.root.tobytes()


@dataclass(frozen=True)
class VarianceComponents:
    """How well a layer repeats.

    `hand` is the relative standard deviation of the amount from one day to the next, `misfit` what
    the film law leaves unexplained, in CIEDE2000.
    """

    hand: float
    misfit: float


@cache
def hue_width() -> float:
    """How far ln K of one band lies from what pigments of that name have, by pigments.toml."""
    squares, freedom = 0.0, 0
    for paints in swatch_table("pigments.toml").values():
        bands = np.log(list(paints.values()))
        hues = bands - bands.mean(axis=1, keepdims=True)
        squares += float(((hues - hues.mean(axis=0)) ** 2).sum())
        freedom += 2 * (len(hues) - 1)  # three bands whose mean is taken out
    return float(np.sqrt(squares / freedom))


def first_prior(layer: Layer) -> Prior:
    """The starting guess of a layer with its width: from its shelf entry, else from its kind."""
    layer, (common, own) = _with_optics(layer)
    in_parts = layer.kind in ("rub", "lift")
    in_specks = in_parts or layer.cover > 0.5
    mean = np.zeros(PARAMETERS)
    is_film = layer.kind in FILMS
    skin = [WHITE, INNER, UNDONE]
    mean[skin] = SKIN if is_film else 0.0
    mean[LN_K] = np.log(np.maximum(layer.absorption or (), 1e-3))
    mean[LN_S] = np.log(np.maximum(layer.scattering or (), 1e-3))
    mean[LOGIT_PHI] = 2.0 if in_specks else -1.5
    mean[LN_REACH] = np.log(layer.cover) if in_parts else 0.0
    covariance = np.zeros((PARAMETERS, PARAMETERS))
    covariance[LN_K, LN_K] = covariance[LN_S, LN_S] = common**2 + own**2 * np.eye(3)
    covariance[skin, skin] = np.square(SKIN_WIDTH if is_film else NO_SKIN)
    covariance[LN_GAMMA, LN_GAMMA] = 0.4**2
    covariance[LOGIT_PHI, LOGIT_PHI] = 2.0**2
    covariance[LN_SPREADING, LN_SPREADING] = 1.0
    covariance[LN_REACH, LN_REACH] = (0.7 if in_parts else 0.03) ** 2
    covariance[TECHNIQUE, TECHNIQUE] = covariance[FINISH, FINISH] = 0.15**2
    return Prior(mean, np.asarray(np.linalg.cholesky(covariance), dtype=np.float64))


def acting_like(layer: Layer, like: Layer) -> Layer:
    """A layer whose starting guess is that of another, for one that nobody has tried yet."""
    return replace(
        layer,
        absorption=like.absorption,
        scattering=like.scattering,
        cover=like.cover,
        lustre=like.lustre,
        source=f"starting guess: like {like.name}",
    )


def _with_optics(layer: Layer) -> tuple[Layer, tuple[float, float]]:
    """The layer with K and S filled in, and the widths of ln K and ln S."""
    if layer.kind == "rub" and layer.beneath:
        shows = lab_to_bands(load_boles()[layer.beneath])
        scattering = np.full(3, OPAQUE)
        K = absorption_for(shows, scattering)
        layer = replace(layer, absorption=tuple(K), scattering=tuple(scattering))
    if layer.absorption is not None and layer.scattering is not None:
        return layer, (SHELF_DEPTH, hue_width())
    return replace(layer, **swatch_table("kinds.toml")[layer.kind]), KIND_WIDTH
