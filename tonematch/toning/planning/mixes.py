"""Mixes of two pigments in one wash or glaze.

What is mixed in the pot absorbs and scatters by the amount of each part: K and S add (Duncan, D. R.
(1940), The colour of pigment mixtures, Proceedings of the Physical Society 52, 390-401). So a mix
of two layers that were tried can be predicted before it was ever laid.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import combinations

import numpy as np
from numpy.typing import ArrayLike

from tonematch.toning.core import Layer, Surface
from tonematch.toning.layers.mix import blended
from tonematch.toning.model.fit import LayerFit
from tonematch.toning.model.fitted_layer import LearnedLayer
from tonematch.toning.model.layer_model import LayerModel
from tonematch.toning.model.prior import Prior, VarianceComponents
from tonematch.toning.optics.film import LN_K, LN_S, PARAMETERS
from tonematch.toning.planning.objective import Objective
from tonematch.toning.planning.recipes import cost_after_one_layer

Bands = tuple[float, float, float]

MIXED_KINDS = ("glaze", "wash")
# Parts of the first to parts of the second that a gilder measures by the brush (a choice).
PARTS = ((2, 1), (1, 1), (1, 2))
MOST_MIXES = 6  # that are worth a search: the time goes with the number of layers


@dataclass(frozen=True, eq=False)
class Mixture:
    """Two layers in one pot: what a plan lays, full strength being both at full strength.

    `share`, above 0 and below 1, is that of `one`.
    """

    layer: Layer
    one: Layer
    other: Layer
    share: float


def mix(one: Layer, other: Layer, parts: tuple[int, int] = (1, 1)) -> Mixture:
    """Two layers that mix (`can_mix`), each at full strength, in so many parts of each."""
    a, b = parts
    share = a / (a + b)
    mixed = blended(one.mix, other.mix, parts)
    worn_off = dict.fromkeys((one.reversible, other.reversible))
    layer = Layer(
        name=f"{one.name} with {other.name}, {a} to {b}",
        kind=one.kind,
        material=f"{a} of {one.material or one.name} to {b} of {other.material or other.name}",
        binder=one.binder,
        solvent=one.solvent,
        technique=one.technique,
        effect=f"between {one.name} and {other.name}",
        full_strength="" if mixed else f"both at full strength, {a} to {b} by volume",
        mix=mixed,
        absorption=_blend(share, one.absorption, other.absorption),
        scattering=_blend(share, one.scattering, other.scattering),
        cover=share * one.cover + (1.0 - share) * other.cover,
        strengths=tuple(sorted(set(one.strengths) & set(other.strengths))) or one.strengths,
        most_coats=min(one.most_coats, other.most_coats),
        drying_hours=(
            max(one.drying_hours[0], other.drying_hours[0]),
            max(one.drying_hours[1], other.drying_hours[1]),
        ),
        reversible="not reversible" if "not reversible" in worn_off else " and ".join(worn_off),
        over=one.over,
        cautions=tuple(dict.fromkeys((*one.cautions, *other.cautions))),
        source="mixed from two layers of the shelf by Duncan 1940",
        at_hand=one.at_hand and other.at_hand,
    )
    return Mixture(layer, one, other, share)


def can_mix(one: Layer, other: Layer) -> bool:
    """Whether two layers go into one pot."""
    return (
        one.name != other.name
        and one.kind == other.kind
        and one.kind in MIXED_KINDS
        and one.binder == other.binder
        and one.solvent == other.solvent
        and "unknown" not in (one.binder, one.solvent)
    )


def with_mixes(
    model: LayerModel,
    layers: Sequence[Layer],
    before: ArrayLike,
    target: ArrayLike,
    surface: Surface,
) -> tuple[LayerModel, list[Layer]]:
    """A model that knows the mixes which may help here, and those mixes as layers.

    Give both to the workshop that plans: the layers beside those that may be used anyway. Only
    layers that the model has trials of are mixed: a mix of guesses helps nobody. Mixes come that
    are nearer than either part by itself, the best first; both colours are CIELAB (D50, 2 degree).
    """
    every = list(mixes_of([layer for layer in layers if layer.name in model.layers_]))
    # A mix that was laid already is known by its own trials.
    mixed = model.with_layers({m.layer.name: learned_mix(model, m) for m in every})
    nothing = np.zeros((3, 3))
    objective = Objective(np.asarray(target, dtype=np.float64), nothing)
    start = np.asarray(before, dtype=np.float64)[None]

    def nearest(layer: Layer) -> float:
        return float(
            cost_after_one_layer(mixed, layer, start, nothing[None], surface, objective)[0]
        )

    alone = {layer.name: nearest(layer) for m in every for layer in (m.one, m.other)}
    gains = {
        m.layer.name: min(alone[m.one.name], alone[m.other.name]) - nearest(m.layer) for m in every
    }
    useful = sorted((m for m in every if gains[m.layer.name] > 0.0), key=lambda m: nearest(m.layer))
    return mixed, [m.layer for m in useful[:MOST_MIXES]]


def mixes_of(layers: Sequence[Layer]) -> Iterator[Mixture]:
    """Every pair that mixes, in each of the usual parts."""
    for one, other in combinations(layers, 2):
        if can_mix(one, other):
            for parts in PARTS:
                yield mix(one, other, parts)


def learned_mix(model: LayerModel, mixture: Mixture) -> LearnedLayer:
    """What a model with trials of both parts can say of their mix.

    K and S are added by share, everything else is between the two; the covariances to first order.
    """
    w, v = mixture.share, 1.0 - mixture.share
    one, other = model.layers_[mixture.one.name], model.layers_[mixture.other.name]
    theta = w * one.fit.theta + v * other.fit.theta
    to_one, to_other = w * np.eye(PARAMETERS), v * np.eye(PARAMETERS)
    for bands in (LN_K, LN_S):
        first, second = w * np.exp(one.fit.theta[bands]), v * np.exp(other.fit.theta[bands])
        theta[bands] = np.log(first + second)
        to_one[bands, bands] = np.diag(first / (first + second))
        to_other[bands, bands] = np.diag(second / (first + second))
    covariance = (
        to_one @ one.fit.covariance @ to_one.T + to_other @ other.fit.covariance @ to_other.T
    )
    nothing = np.zeros((PARAMETERS, PARAMETERS))
    fit = LayerFit(theta, covariance, nothing, np.empty(0))
    components = VarianceComponents(
        w * one.components.hand + v * other.components.hand,
        w * one.components.misfit + v * other.components.misfit,
    )
    root = np.asarray(np.linalg.cholesky(covariance), dtype=np.float64)
    return LearnedLayer(Prior(theta, root), fit, components, None, 0, np.empty(0))


def _blend(share: float, one: Bands | None, other: Bands | None) -> Bands | None:
    if one is None or other is None:
        return None
    r, g, b = share * np.array(one) + (1.0 - share) * np.array(other)
    return float(r), float(g), float(b)
