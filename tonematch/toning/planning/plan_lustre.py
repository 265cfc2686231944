"""Where a plan leaves the lustre beside the old gold's, and what laid last would bring it near."""

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from tonematch.measure.colour.difference import delta_e_2000
from tonematch.toning.core import Coat, Layer, LustreStep, PlanLustre, Prediction
from tonematch.toning.layers.coats import say_too_many
from tonematch.toning.layers.rules import check_layering, is_irreversible
from tonematch.toning.model.lustre import LustreModel
from tonematch.toning.model.lustre_law import LustrePrediction
from tonematch.toning.optics.film import Laid
from tonematch.toning.planning.gap import Gap, Workshop
from tonematch.toning.planning.lustre_words import is_apart, say_lustre
from tonematch.toning.planning.recipes import options_of

# Expected distance, in stops, that a last layer must gain: for less nobody lays one. A choice.
LEAST_GAIN = 0.1


@dataclass(frozen=True, eq=False)
class _Ending:
    """How a plan ends: what was laid, and where it leaves the colour."""

    gap: Gap
    workshop: Workshop
    laid: Sequence[Coat]
    colour: Prediction


def lustre_at_end(
    gap: Gap, workshop: Workshop, laid: Sequence[Coat], colour: Prediction
) -> PlanLustre | None:
    """Lustre where what a plan lays (nothing, where it says stop) ends; None if not measured.

    Where it would part from the old gold's by more than counts as alike, the layer is named that
    laid last brings it nearest, under the rules of layering and without taking the colour that the
    plan leaves out of the tolerance, or farther than it is.
    """
    if gap.lustres is None or workshop.lustre is None:
        return None
    before, target = gap.lustres
    model, now = workshop.lustre, LustrePrediction(before, 0.0)
    end = [now, *model.predict(now, laid)][-1]
    ending = _Ending(gap, workshop, laid, colour)
    last = _nearest(model, end, target, ending) if is_apart(end, target) else None
    tried = any(model.known(coat.layer).trials for coat in laid)
    words = say_lustre(end, target, last, laid=bool(laid), tried=tried)
    return PlanLustre(end.stops, end.interval, target, last, words)


def expected_distance(end: LustrePrediction, target: float) -> float:
    """Mean distance of a normal distribution from a target, in stops.

    Leone, F. C., Nelson, L. S. and Nottingham, R. B. (1961). The folded normal distribution.
    Technometrics 3(4), 543-550.
    """
    off = end.stops - target
    if end.deviation == 0.0:
        return abs(off)
    z = off / end.deviation
    near = end.deviation * math.sqrt(2.0 / math.pi) * math.exp(-(z**2) / 2.0)
    return near + off * math.erf(z / math.sqrt(2.0))


def _nearest(
    model: LustreModel, end: LustrePrediction, target: float, ending: _Ending
) -> LustreStep | None:
    """The coat that laid last is expected to leave the least distance; None where none gains."""
    under = ending.workshop.surface.beneath
    beneath = [*under, *(c.layer for c in ending.laid for _ in range(c.coats))]
    found = [
        (expected_distance(after, target), coat, after)
        for layer in _allowed(ending)
        for coat, after in _ends(model, end, layer)
        if not say_too_many(layer, coat.coats, beneath)
    ]
    enough = expected_distance(end, target) - LEAST_GAIN
    for distance, coat, after in sorted(found, key=lambda one: one[0]):
        if distance > enough:
            return None
        if _keeps_colour(ending, coat):
            return LustreStep(
                coat.layer.name, coat.strength, coat.coats, after.stops, after.interval
            )
    return None


def _allowed(ending: _Ending) -> Iterator[Layer]:
    """Layers that may go over what the plan laid; nothing that cannot be undone."""
    beneath = [coat.layer for coat in ending.laid]
    for layer in ending.workshop.layers:
        findings = check_layering(ending.workshop.surface, [*beneath, layer])
        blocked = any(f.severity == "blocked" and f.step == len(beneath) for f in findings)
        if not blocked and not is_irreversible(layer):
            yield layer


def _ends(
    model: LustreModel, before: LustrePrediction, layer: Layer
) -> Iterator[tuple[Coat, LustrePrediction]]:
    coats = options_of(layer)
    amounts = [coat.strength * coat.coats for coat in coats]
    return zip(coats, model.predict_layer(layer, amounts, before), strict=True)


def _keeps_colour(ending: _Ending, coat: Coat) -> bool:
    gap, workshop, now = ending.gap, ending.workshop, ending.colour
    laid = Laid.on(now.lab, coat.strength, coat.coats, workshop.surface)
    (after,), _ = workshop.model.predict_layer(coat.layer, laid, now.covariance)
    most = max(gap.tolerance, float(delta_e_2000(now.lab, gap.target)))
    return float(delta_e_2000(after, gap.target)) <= most
