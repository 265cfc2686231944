"""Which test strips to make so as to learn most for the comparison at hand.

What the layers may be is drawn from what the model believes; for each draw the plan that would then
be best is searched. A strip is worth what it would take off the doubt about where those plans end,
by the linearised posterior: a design that aims at the prediction that matters (Chaloner and
Verdinelli 1995, Bayesian experimental design: a review, Statistical Science 10, 273-304). Strips
are chosen one by one, each given those before it; nothing is fitted anew.
"""

from collections.abc import Iterator, Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import ArrayLike

from tonematch.arrays import Vector3
from tonematch.errors import ShelfError, ValueRefused
from tonematch.toning.core import MOST_STRIPS, Layer, Strip, Surface
from tonematch.toning.model.layer_model import LayerModel
from tonematch.toning.optics.film import Laid
from tonematch.toning.planning.design import Draw, Gains
from tonematch.toning.planning.gap import Gap
from tonematch.toning.planning.ground import Ground
from tonematch.toning.planning.recipes import options_of

# Choice of this project, no source: draws of what the layers may be.
PLANNED_DRAWS = 16


def choose_strips(
    model: LayerModel,
    layers: Sequence[Layer],
    before: ArrayLike,
    target: ArrayLike,
    count: int = 12,
    ground: Ground | None = None,
) -> tuple[Strip, ...]:
    """The strips that teach most for one comparison.

    Parameters
    ----------
    model : LayerModel
        Fitted; to no trials where the logbook is empty.
    layers : sequence of Layer
        What may be laid.
    before, target : array_like, shape (3,)
        CIELAB (D50, 2 degree) of the repair now and of what it should become.
    count : int
        1 to 20.
    ground : Ground, optional
        What lies on the repair, and so on every strip; nothing is known of it by default.

    Returns
    -------
    tuple of Strip
        The most telling first; a strip may come twice, for the hand's scatter. Fewer than `count`
        only where the rules allow nothing.

    Raises
    ------
    ShelfError
        Where there is no layer.
    ValueRefused
        For a count out of range.
    """
    if not layers:
        raise ShelfError("There is no layer to make strips of: put at least one on the shelf.")
    if count not in range(1, MOST_STRIPS + 1):
        raise ValueRefused(f"{count} strips cannot be chosen: ask for 1 to {MOST_STRIPS}.")
    ground = ground or Ground(Surface())
    start = np.asarray(before, dtype=np.float64)
    candidates = list(possible_strips(model, layers, start, ground))
    if not candidates:
        return ()
    gap = Gap(start, np.asarray(target, dtype=np.float64), np.zeros((3, 3)), np.eye(3))
    known = {layer.name: model.known(layer) for layer in layers}
    rng = np.random.default_rng(1)
    draws = [Draw.of(known, layers, gap, ground.surface, rng) for _ in range(PLANNED_DRAWS)]
    gains = Gains.of(known, draws, candidates, ground.surface, model.reading_noise)
    return tuple(replace(candidates[at], gain=gain) for at, gain in gains.choose(count))


def possible_strips(
    model: LayerModel, layers: Sequence[Layer], before: Vector3, ground: Ground
) -> Iterator[Strip]:
    """Every strip that the rules allow: each layer at each of its strengths and coats.

    On the ground as it is where that is allowed, else over the first seal that allows it.
    """
    seals = [layer for layer in layers if layer.kind == "seal"]
    firsts = {layer.name: _first(layer, seals, ground) for layer in layers}
    for option in options_of(layers):
        layer = layers[option.layer]
        first = firsts[layer.name]
        if first is None:
            continue
        lab = before
        for seal in first:
            lab = _on_one(model, seal, lab, ground.gilding)
        yield Strip(layer, option.strength, option.coats, first, lab, 0.0)


def _first(layer: Layer, seals: Sequence[Layer], ground: Ground) -> tuple[Layer, ...] | None:
    """What must go on the ground for the rules to allow a layer: nothing, a seal, or no way."""
    ways: list[tuple[Layer, ...]] = [(), *((seal,) for seal in seals if seal is not layer)]
    for way in ways:
        findings = ground.findings([*way, layer])
        if all(finding.severity != "blocked" for finding in findings):
            return way
    return None


def _on_one(model: LayerModel, layer: Layer, before: Vector3, surface: Surface) -> Vector3:
    """The surface after one full coat of a layer."""
    laid = Laid.on(before, layer.strengths[-1], 1.0, surface)
    lab, _ = model.predict_layer(layer, laid, np.zeros((3, 3)))
    return np.asarray(lab[0])
