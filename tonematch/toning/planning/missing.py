"""What the shelf lacks where no plan closes the gap, said by direction."""

from collections.abc import Collection, Sequence
from itertools import takewhile

import numpy as np

from tonematch.arrays import Vector3
from tonematch.swatchbook import swatch_table
from tonematch.toning.core import Layer, Surface
from tonematch.toning.layers.rule_table import load_vocabulary
from tonematch.toning.layers.rules import check_layering
from tonematch.toning.layers.taking_back import lifts_on


def say_missing_seal(surface: Surface, layers: Sequence[Layer]) -> str:
    """Whether a seal would open the way that the rules bar, in one sentence; empty if not."""
    isolating = load_vocabulary().isolating
    if any(map(isolating.fits, layers)):
        return ""
    barred = [
        layer.name
        for layer in layers
        for finding in check_layering(surface, [layer])
        if finding.rule.seal_first
        or (finding.severity == "blocked" and finding.rule.unless_isolated)
    ]
    if not barred:
        return ""
    return (
        f"Out of reach: the shelf lacks a seal that isolates, without which {barred[0]} cannot be "
        "laid here: low-polarity resin seal, for example."
    )


def say_missing(
    reached: Vector3, target: Vector3, at_hand: Collection[str], surface: Surface
) -> str:
    """Which kind of layer would take the surface on from the best that can be reached.

    Both colours are CIELAB, D50, 2 degree; `at_hand` are the layers that the plan could use.
    """
    direction = max(
        swatch_table("directions.toml")["direction"],
        key=lambda d: float(np.dot(d["delta"], target - reached) / np.linalg.norm(d["delta"])),
    )
    words, layers = direction["words"], direction["layers"]
    if not layers:
        taken_back = say_taking_back(surface)
        if taken_back:
            return f"Out of reach of another layer: for {words} {taken_back}."
        return (
            f"Out of reach of any layer{_unless_fresh(surface)}: the target asks for {words}, and "
            "toning mostly subtracts: look at the leaf (its alloy), the burnish and the "
            "preparation beneath."
        )
    held = [name for name in layers if name in at_hand]
    lacking = [name for name in layers if name not in at_hand]
    if not held:
        return f"Out of reach: the shelf lacks {words}: {_one_of(lacking)}, for example."
    other = _one_of(lacking) if lacking else "one of its kind that may be laid"
    return (
        f"Out of reach: the target asks for {words}, and {held[0]} does not go so far here: mix it "
        f"stronger, allow one layer more, or look for {other}."
    )


def say_taking_back(surface: Surface) -> str:
    """What to take back from a surface that must become lighter, without a full stop.

    Empty where nothing that tones comes off, or the rules let nothing take off what lies on top.
    """
    on_top = [here.beneath[-1] for _, here in takewhile(_may_be_lifted, lifts_on(surface))]
    if not on_top:
        return ""
    names = [f"{layer.name} ({layer.taken_back_by})" for layer in on_top]
    return f"take back what lies on it, {', then '.join(names)}"


def _unless_fresh(surface: Surface) -> str:
    """How what lies on top came off before it hardened; empty where it does not harden."""
    if not surface.beneath or "hard to reverse" not in surface.beneath[-1].reversible:
        return ""
    top = surface.beneath[-1]
    return f", unless {top.name} is fresh and still comes off ({top.reversible})"


def _may_be_lifted(lift: tuple[Layer, Surface]) -> bool:
    layer, here = lift
    return all(finding.severity != "blocked" for finding in check_layering(here, [layer]))


def _one_of(names: list[str]) -> str:
    return names[0] if len(names) == 1 else f"{', '.join(names[:-1])} or {names[-1]}"
