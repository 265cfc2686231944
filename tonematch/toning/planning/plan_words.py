"""What is said of a plan: its kind in one line, its cautions, notes on the gap."""

from collections.abc import Collection, Sequence
from itertools import groupby

from tonematch.arrays import Vector3
from tonematch.measure.colour.difference import delta_e_2000
from tonematch.measure.words import capital, difference_parts, join_words
from tonematch.toning.core import Layer, PlanLustre, Step, Surface
from tonematch.toning.layers.rules import check_layering, is_irreversible
from tonematch.toning.planning.lustre_words import say_lustre_of_last
from tonematch.toning.planning.missing import say_taking_back

HARMS = "Stop here: another layer is likelier to harm than to help."
MATCHES = "Stop here: the repair is within the tolerance already."
NOTHING_ALLOWED = "Stop here: the rules of layering let nothing be laid on this surface now."
TOO_UNCERTAIN = (
    "Layers on this shelf may come within the tolerance, but what they do is too uncertain to "
    "count on: make strips of them first."
)
SIX_LIE = "Stop here: six layers lie on it already, and each hides more of the gold."
UNTRIED = (
    "Stop here: what would help does not come off again once it is dry, and was never tried. Make "
    "a strip of it first."
)
STRIPS_FIRST = (
    "Make test strips first: none of these layers has a trial yet, so what they do is the shelf's "
    "guess, and wide. 'Test strips' at the foot of the Plan page, or 'tonematch strips choose', "
    "has the best plans laid once on offcuts, and prints their sheet. Until they are read back "
    "only a first step is proposed: one coat that comes off again."
)
STRIPS_INSTEAD = (
    "Make test strips first: no plan gets there in more than one case of five. 'Test strips' at the "
    "foot of the Plan page, or 'tonematch strips choose', says which to make and prints their sheet."
)
MINUTES_BELOW, DAYS_ABOVE = 2.0, 72.0  # hours; so one speaks
_HOURS = {"minute": 1.0 / 60.0, "hour": 1.0, "day": 24.0}
LARGE_DIFFERENCE = 5.0  # CIEDE2000 is meant for differences up to about this (ISO/CIE 11664-6)

_KINDS = {
    "seal": ("a seal", "seals"),
    "glaze": ("a glaze", "glazes"),
    "wash": ("a wash", "washes"),
    "dust": ("a dusting", "dustings"),
    "wax": ("a wax", "waxes"),
    "rub": ("a rubbing through", "rubbings through"),
    "lift": ("a taking back", "takings back"),
}
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


def cautions_of(
    surface: Surface,
    laid: Sequence[Layer],
    steps: Sequence[Step],
    tried: Collection[str] | None = None,
    lustre: PlanLustre | None = None,
) -> tuple[str, ...]:
    """What to mind in a plan, the most serious first, nothing twice.

    Parameters
    ----------
    laid : sequence of Layer
        The plan's layers in order.
    steps : sequence of Step
        The same, with strengths and coats.
    tried : collection of str, optional
        Names of the layers that have trials.
    lustre : PlanLustre, optional
        Where the plan leaves the lustre; without it the shelf's word for its layers is said.
    """
    said = [
        f"{capital(layer.name)} cannot be undone: try it on a strip first."
        for layer in laid
        if is_irreversible(layer)
    ]
    findings = check_layering(surface, laid, coats=[step.coats for step in steps])
    said += [finding.sentence for finding in findings]
    said += [
        f"No trial of {layer.name} yet: make a strip first."
        for layer in laid
        if tried is not None and layer.name not in tried
    ]
    said.append(lustre.words if lustre else say_lustre_of_last(surface, laid, steps))
    for number, (layer, step) in enumerate(zip(laid, steps, strict=True), start=1):
        said.append(_say_drying(layer, step, last=number == len(laid)))
    said += _say_own_cautions(laid)
    return tuple(dict.fromkeys(filter(None, said)))


def say_notes(before: Vector3, target: Vector3, beneath: Sequence[Layer] = ()) -> tuple[str, ...]:
    """What holds for the gap (CIELAB, D50, 2 degree), whichever plan is taken."""
    notes = []
    more = {"lighter": target[0] - before[0] > 1.0}
    more |= dict.fromkeys(("cleaner", "yellower"), target[2] - before[2] > 1.0)
    # The words of the comparison, so that no hue is called by one name there and by another here.
    words = [part.word for part in difference_parts(before, target) if more.get(part.word)]
    if words:
        said = f"The target is {join_words(words)} than the surface is now"
        taken_back = say_taking_back(beneath)
        notes.append(
            f"{said}: {taken_back}, before any new layer."
            if taken_back
            else f"{said}, and toning mostly subtracts: look at the leaf and the preparation "
            "before any layer."
        )
    gap = float(delta_e_2000(before, target))
    if gap > LARGE_DIFFERENCE:
        notes.append(
            f"CIEDE2000 is meant for differences up to about {LARGE_DIFFERENCE:g} and this one is "
            f"{gap:.1f}: read again after each layer."
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
    begin = f"{least / _HOURS[first]:.3g}" if first == last else _count(least, first)
    return f"{begin} to {_count(most, last)}"


def _unit(hours: float) -> str:
    if hours < 1.0:
        return "minute"
    return "hour" if hours <= DAYS_ABOVE else "day"


def _count(hours: float, unit: str) -> str:
    number = f"{hours / _HOURS[unit]:.3g}"
    return f"{number} {unit}" if number == "1" else f"{number} {unit}s"


def _say_own_cautions(laid: Sequence[Layer]) -> list[str]:
    """The layers' own cautions, each once with the layers that it concerns."""
    concerned: dict[str, list[str]] = {}
    for layer in laid:
        for caution in layer.cautions:
            names = concerned.setdefault(caution, [])
            if layer.name not in names:
                names.append(layer.name)
    return [f"{capital(', '.join(names))}: {caution}" for caution, names in concerned.items()]


def _say_drying(layer: Layer, step: Step, last: bool) -> str:
    before_next = "" if last else " before the next layer"
    if layer.kind == "rub":  # it lays nothing that could dry
        return f"Photograph again after {layer.name}{before_next}."
    if layer.drying_hours[1] <= 0:
        return ""
    coats = " each coat of" if step.coats > 1 else ""
    dry = say_hours(*layer.drying_hours)
    return f"Let{coats} {layer.name} dry {dry}, then photograph again{before_next}."
