"""What is said of a plan: its kind, why each layer is laid and what to mind, notes on the gap."""

from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import replace
from itertools import groupby

from tonematch.arrays import Vector3
from tonematch.measure.colour.difference import delta_e_2000
from tonematch.measure.words import capital, difference_parts, join_words
from tonematch.toning.core import Layer, Plan, PlanLustre, Step, Surface
from tonematch.toning.layers.coats import drying_hours, hours_in_all, say_coats
from tonematch.toning.layers.rule_table import load_vocabulary
from tonematch.toning.layers.rules import (
    check_layering,
    is_irreversible,
    job_rules,
)
from tonematch.toning.layers.shelf import find_layer
from tonematch.toning.planning.lustre_words import say_lustre_of_last
from tonematch.toning.planning.missing import say_taking_back

HARDLY_NEARER = "Stop here: no layer brings it visibly nearer."
HARMS = "Stop here: another layer is likelier to harm than to help."
MATCHES = "Stop here: the repair is near enough already."
NOTHING_ALLOWED = "Stop here: the rules of layering let nothing be laid on this surface now."
TOO_UNCERTAIN = (
    "Layers on this shelf may come near enough, but what they do is too uncertain to count on: "
    "make strips of them first."
)
SIX_LIE = "Stop here: six layers lie on it already, and each hides more of the gold."
UNTRIED = (
    "Stop here: what would help does not come off again once it is dry, and was never tried. Make "
    "a strip of it first."
)
STRIPS_FIRST = (
    "Make test strips first: you have tried none of these layers yet, so what they do is the "
    "shelf's guess. Lay the best plans once on offcuts; the photograph of a printed sheet reads "
    "them all. Until then only one coat that comes off again is proposed, over a seal if need be."
)
SEEN = 1.0  # CIEDE2000 from which what a seal does to the colour is worth a word (a choice)
STRIPS_INSTEAD = (
    "Make test strips first: no plan gets there in more than one case of five. They are laid once "
    "on offcuts, and the photograph of a printed sheet reads them all."
)
MINUTES_BELOW, DAYS_ABOVE = 2.0, 72.0  # hours; so one speaks
_HOURS = {"minute": 1.0 / 60.0, "hour": 1.0, "day": 24.0}

_KINDS = {
    "seal": ("a seal", "seals"),
    "glaze": ("a glaze", "glazes"),
    "wash": ("a wash", "washes"),
    "dust": ("a dusting", "dustings"),
    "wax": ("a wax", "waxes"),
    "rub": ("a rubbing through", "rubbings through"),
    "lift": ("a taking back", "takings back"),
}
_CHANCES = (
    (0.95, "almost sure"),
    (0.80, "very likely"),
    (0.60, "likely"),
    (0.40, "an even chance"),
    (0.20, "unlikely"),
    (0.05, "very unlikely"),
    (0.0, "hardly possible"),
)
_NUMBERS = {2: "two", 3: "three", 4: "four"}


def say_kinds(laid: Sequence[Layer]) -> str:
    """The kinds of a plan's one to four layers in order, without a full stop."""
    parts = []
    for kind, group in groupby(layer.kind for layer in laid):
        count = len(list(group))
        one, many = _KINDS[kind]
        parts.append(one if count == 1 else f"{_NUMBERS[count]} {many}")
    undone = "; not all of it can be undone" if any(map(is_irreversible, laid)) else ""
    return capital(", then ".join(parts)) + undone


def worded(
    steps: Sequence[Step],
    laid: Sequence[Layer],
    labs: Sequence[Vector3],
    target: Vector3,
    surface: Surface,
    tried: Collection[str] | None = None,
    lustre: PlanLustre | None = None,
) -> tuple[Step, ...]:
    """Steps with why each is laid, in the words of a comparison, and what to mind at it.

    What holds for the surface or the whole job, whatever is laid, is not among it.

    Parameters
    ----------
    laid : sequence of Layer
        Of the steps, in order.
    labs : sequence of ndarray, shape (3,)
        CIELAB (D50, 2 degree) before the first step and after each.
    target : ndarray, shape (3,)
        The original.
    tried : collection of str, optional
        Names of the layers that have trials.
    lustre : PlanLustre, optional
        Where it is known, the shelf's word for the layers' lustre is not said.
    """
    findings = check_layering(surface, laid, coats=[step.coats for step in steps])
    touching = max((at for at, layer in enumerate(laid) if layer.lustre), default=-1)
    said = []
    for at, (step, layer) in enumerate(zip(steps, laid, strict=True)):
        cautions = [
            f"{capital(layer.name)} cannot be undone: try it on a strip first."
            if is_irreversible(layer)
            else "",
            *(f.sentence for f in findings if f.step == at and not f.rule.is_general()),
            f"You have not tried {layer.name.replace(',', '')} yet: make a strip first."
            if tried is not None and layer.name not in tried
            else "",
            *layer.cautions,
            say_lustre_of_last(surface, laid, steps) if at == touching and lustre is None else "",
        ]
        because = _say_because(layer, labs[at], labs[at + 1], target, last=at == len(laid) - 1)
        cautions = [*dict.fromkeys(filter(None, cautions))]
        said.append(replace(step, because=because, cautions=tuple(cautions)))
    return tuple(said)


def say_job(layers: Iterable[Layer]) -> str:
    """What to mind through the whole job with these layers, in a few words; empty for nothing."""
    heads = dict.fromkeys(rule.job for layer in layers for rule in job_rules(layer))
    return join_words([*heads]) if heads else ""


def say_notes(before: Vector3, target: Vector3, surface: Surface) -> tuple[str, ...]:
    """What holds for the gap (CIELAB, D50, 2 degree), whichever plan is taken."""
    notes = []
    more = {"lighter": target[0] - before[0] > 1.0}
    more |= dict.fromkeys(("cleaner", "yellower"), target[2] - before[2] > 1.0)
    # The words of the comparison, so that no hue is called by one name there and by another here.
    words = [part.word for part in difference_parts(before, target) if more.get(part.word)]
    if words:
        said = f"The target is {join_words(words)} than the surface is now"
        taken_back = say_taking_back(surface)
        notes.append(
            f"{said}: {taken_back}, before any new layer."
            if taken_back
            else f"{said}, and toning mostly subtracts: look at the leaf and the preparation "
            "before any layer."
        )
    return tuple(notes)


def say_blocked(surface: Surface, layers: Sequence[Layer]) -> tuple[str, ...]:
    """Why nothing may be laid first: one sentence for each rule that stands in the way."""
    by_rule = {
        finding.rule.id: finding.sentence
        for layer in layers
        for finding in check_layering(surface, [layer])
        if finding.severity == "blocked"
    }
    return tuple(by_rule.values())


def say_hours(least: float, most: float) -> str:
    """A span of hours, 0 <= least <= most, as one says it at the bench: minutes, hours or days."""
    first, last = _unit(least), _unit(most)
    if most < MINUTES_BELOW:
        first = last = "minute"
    if least <= 0.0:
        return f"up to {_count(most, last)}"
    if least == most:
        return _count(most, last)
    begin = _number(least / _HOURS[first]) if first == last else _count(least, first)
    return f"{begin} to {_count(most, last)}"


def _unit(hours: float) -> str:
    if hours < 1.0:
        return "minute"
    return "hour" if hours <= DAYS_ABOVE else "day"


def _count(hours: float, unit: str) -> str:
    number = _number(hours / _HOURS[unit])
    return f"{number} {unit}" if number == "1" else f"{number} {unit}s"


def _number(count: float) -> str:
    """As one waits: minutes by fives from ten on, nothing finer than a tenth."""
    if count >= 10.0:
        return f"{count:.0f}"
    return f"{max(count, 0.1):.2g}"


def say_work(layer: Layer, coats: int, surface: Surface) -> str:
    """How a layer is laid, how long to wait for it, and how it comes off, without a full stop."""
    # How it is taken back is told as what a lift takes.
    told = [layer.technique.rstrip(".")] if layer.technique and layer.kind != "lift" else []
    hours = drying_hours(layer, surface)
    if hours[1] > 0.0:
        told.append(f"{'each coat ' if coats > 1 else ''}dries {say_hours(*hours)}")
    if layer.reversible == "unknown":
        told.append("how it comes off is not known")
    elif not is_irreversible(layer) and layer.kind != "lift":
        told.append(f"comes off: {layer.reversible}")
    return "; ".join(told)


def say_bench(plan: Plan, layers: Mapping[str, Layer], surface: Surface) -> str:
    """How long a plan takes on the bench, all its coats together."""
    laid = [(find_layer(layers, step.layer), step.coats) for step in plan.steps]
    hours = hours_in_all(laid, surface)
    return f"dry in {say_hours(*hours)}" if hours[1] > 0.0 else "nothing to dry"


def say_to_lay(step: Step) -> str:
    """A step by its name: ``umber glaze``, ``umber glaze, 2 coats``."""
    return step.layer if step.coats == 1 else f"{step.layer}, {say_coats(step.coats)}"


def say_probability(chance: float) -> str:
    """A probability, 0 to 1, in per cent; no finer than it is known, and never certain."""
    if chance > 0.95:
        return "over 95 %"
    return f"{100 * chance:.0f} %" if chance >= 0.01 else "under 1 %"


def say_chance(chance: float) -> str:
    """A probability, 0 to 1, as words and per cent: ``likely (64 %)``."""
    words = next(words for least, words in _CHANCES if chance >= least)
    return f"{words} ({say_probability(chance)})"


def _say_because(
    layer: Layer, before: Vector3, after: Vector3, target: Vector3, *, last: bool
) -> str:
    does = {part.word for part in difference_parts(before, after)}
    asked = [part.word for part in difference_parts(before, target) if part.word in does]
    because = f"because the original is {join_words(asked)}" if asked else ""
    if layer.kind == "seal":
        to = "to close the surface" if last else "to isolate"
        if not load_vocabulary().isolating.fits(layer):  # size: the next wet coat goes through it
            to = "to even the lustre"
        moves = float(delta_e_2000(before, after)) >= SEEN
        return f"{to}, and {because}" if because and moves else to
    return because or "to make up for what the other layers do"
