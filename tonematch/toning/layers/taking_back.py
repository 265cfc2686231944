"""Taking back: the layer on top comes off again, by what its entry says.

A lift is a layer of its own, named after the one that it takes back: it is planned, laid, logged
and learned as any other.
"""

from collections.abc import Iterable, Sequence
from dataclasses import replace
from itertools import takewhile

from tonematch.arrays import Vector3
from tonematch.swatchbook import swatch_table
from tonematch.toning.core import Application, Layer, Surface, Trial

TAKEN_BACK = ", taken back"


def ways_to_take_back() -> tuple[str, ...]:
    """What takes layers back, as an entry's `taken_back_by` names it."""
    return tuple(swatch_table("kinds.toml")["way"])


def lift_of(layer: Layer) -> Layer:
    """What takes this layer back, as a layer."""
    way = swatch_table("kinds.toml")["way"].get(layer.taken_back_by, {})
    return Layer(
        layer.name + TAKEN_BACK,
        "lift",
        binder="none",
        solvent=way.get("solvent", "unknown"),
        technique=way.get("technique", ""),
        effect=f"takes {layer.name} off again, but for a stain",
        full_strength="as much as comes off",
        strengths=(1.0,),
        most_coats=1,
        drying_hours=tuple(way.get("drying_hours", (0.0, 0.0))),
        reversible="by laying it again",
        over=f"{layer.name} that lies on top",
        cautions=tuple(way.get("cautions", ())),
        source="swatches/kinds.toml",
        at_hand=False,  # it is planned where its layer lies, not taken from the shelf
    )


def lifted(names: Sequence[str], lift: str) -> int:
    """How many at the end of a stack of names, the lowest first, a lift takes off; 0 for none."""
    name = lift.removesuffix(TAKEN_BACK).casefold()
    return len(list(takewhile(lambda on_top: on_top.casefold() == name, reversed(names))))


def stack_after(stack: Sequence[Layer], layer: Layer, coats: int = 1) -> tuple[Layer, ...]:
    """A stack, the lowest first, once a layer is laid on it or taken back."""
    if layer.kind != "lift":
        return (*stack, *[layer] * coats)
    return tuple(stack[: len(stack) - lifted([one.name for one in stack], layer.name)])


def surface_after(
    surface: Surface, layer: Layer, coats: int = 1, before: Vector3 | None = None
) -> Surface:
    """A surface once a layer is laid on it, or taken back; `before` is what was read before."""
    stack = stack_after(surface.beneath, layer, coats)
    read = surface.read_before or (None,) * len(surface.beneath)
    new = None if before is None else (float(before[0]), float(before[1]), float(before[2]))
    more = (new,) * max(len(stack) - len(read), 0)
    return replace(surface, beneath=stack, read_before=(*read[: len(stack)], *more))


def lifts_on(surface: Surface) -> list[tuple[Layer, Surface]]:
    """What can be taken back, from the top down, each with the surface that it then lies on.

    Down to the lowest layer that tones: a seal comes off for what lies under it, not for itself.
    """
    found: list[tuple[Layer, Surface]] = []
    met: set[str] = set()
    while surface.beneath and (top := surface.beneath[-1]).taken_back_by and top.name not in met:
        met.add(top.name)
        found.append((lift_of(top), surface))
        surface = surface_after(surface, found[-1][0])
    while found and found[-1][1].beneath[-1].kind == "seal":
        found.pop()
    return found


def with_beneath(trials: Iterable[Trial]) -> list[Trial]:
    """Trials, oldest first, that know what each lay on, where those before it tell.

    That is the kind of layer directly beneath, and of a lift what its gold read before the layer
    was laid. Trials of other pieces and zones may come between.
    """
    lying: dict[tuple[str, str], list[Application]] = {}
    told = []
    for trial in trials:
        laid, stack = trial.application, lying.setdefault((trial.piece, trial.zone), [])
        if not trial.piece or trial.step == 1:  # another strip
            stack.clear()
        if laid.over is None and stack:
            laid = replace(laid, over=stack[-1].kind)
        if laid.kind != "lift":
            stack.append(laid)
        elif count := lifted([one.layer for one in stack], laid.layer):
            laid = replace(laid, under=stack[-count].before)
            del stack[-count:]
        told.append(replace(trial, application=laid))
    return told
