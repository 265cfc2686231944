"""Which test strips to make for a gap: its best plans as stacks, and layers that nobody has tried.

Errors lie on toned ground, so a strip teaches most as a stack: the layers of a plan on one another,
read after each. Beside the stacks a layer without a trial gets a strip of its own, for no stack is
planned well with what nobody has seen.
"""

from collections.abc import Collection, Sequence

import numpy as np

from tonematch.errors import ShelfError, ValueRefused
from tonematch.toning.core import MOST_STRIPS, Coat, Layer, Strip, Surface
from tonematch.toning.layers.rules import check_layering
from tonematch.toning.planning.gap import Gap, Workshop
from tonematch.toning.planning.ground import Ground
from tonematch.toning.planning.objective import Objective
from tonematch.toning.planning.recipes import cost_after_one_layer
from tonematch.toning.planning.search import Search

# Choices of this project, no source: how many stacks, and what a recipe costs more, in CIEDE2000,
# where all that it tones with is seen already.
STACKS, SEEN = 3, 1.0


def choose_strips(
    gap: Gap, workshop: Workshop, ground: Ground, most: int = 12
) -> tuple[Strip, ...]:
    """The strips that teach most for one gap, the stacks first.

    The ground is what lies on the repair, and so on every strip; the workshop's surface is that of
    the ground. There are `most`, 1 to 20, and fewer where little is unknown or the rules allow
    little.

    Raises
    ------
    ShelfError
        Where there is no layer.
    ValueRefused
        For a number out of range.
    """
    if not workshop.layers:
        raise ShelfError("There is no layer to make strips of: put at least one on the shelf.")
    if most not in range(1, MOST_STRIPS + 1):
        raise ValueRefused(f"{most} strips cannot be chosen: ask for 1 to {MOST_STRIPS}.")
    if any(finding.severity == "blocked" for finding in ground.findings(())):
        return ()
    stacks = choose_stacks(gap, workshop)
    stacked = {layer.name for stack in stacks for layer in stack.layers}
    # A stack takes the place of three single strips.
    singles = _of_untried(gap, workshop, stacked)[: MOST_STRIPS - 3 * len(stacks)]
    return (*stacks, *singles)[:most]


def choose_stacks(gap: Gap, workshop: Workshop) -> tuple[Strip, ...]:
    """The best recipes, each to be laid once on an offcut and read after every layer.

    One whose layers lie on a stack already teaches less. What cannot be undone does no harm here.
    """
    search = Search(gap, workshop)
    rest = search.run(workshop.most_layers)
    stacks: list[Strip] = []
    while rest and len(stacks) < STACKS:
        seen = {layer.name for stack in stacks for layer in stack.layers}
        best = min(rest, key=lambda recipe: recipe.cost + SEEN * _share(recipe.layers, seen))
        stacks.append(Strip(best.coats))
        rest.remove(best)
    return tuple(stacks)


def _share(layers: Sequence[Layer], seen: Collection[str]) -> float:
    """Of the layers that tone, the share that is among those."""
    tones = [layer.name for layer in layers if layer.kind != "seal"]
    return sum(name in seen for name in tones) / max(len(tones), 1)


def _of_untried(gap: Gap, workshop: Workshop, stacked: set[str]) -> list[Strip]:
    """A strip of each layer that has no trial and is in no stack, the most promising first."""
    objective = Objective(gap.target, gap.target_covariance)
    known = workshop.model.tried | stacked
    seals = [layer for layer in workshop.layers if layer.kind == "seal"]
    found: list[tuple[float, Strip]] = []
    for layer in workshop.layers:
        first = None if layer.name in known else _first(layer, seals, workshop.surface)
        if first is None:
            continue
        ends = cost_after_one_layer(
            workshop.model,
            layer,
            gap.before[None],
            np.zeros((1, 3, 3)),
            workshop.surface,
            objective,
        )
        middle = layer.strengths[len(layer.strengths) // 2]
        found.append((float(ends[0]), Strip((Coat(layer, middle),), first)))
    return [strip for _, strip in sorted(found, key=lambda one: one[0])]


def _first(layer: Layer, seals: list[Layer], surface: Surface) -> tuple[Layer, ...] | None:
    """What must go on the ground for the rules to allow a layer: nothing, a seal, or no way."""
    ways: list[tuple[Layer, ...]] = [(), *((seal,) for seal in seals if seal is not layer)]
    for way in ways:
        findings = check_layering(surface, [*way, layer])
        if all(finding.severity != "blocked" for finding in findings):
            return way
    return None
