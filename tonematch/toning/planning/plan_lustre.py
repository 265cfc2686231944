"""Where a plan leaves the lustre beside the old gold's, and what laid last would bring it near."""

import math
from collections.abc import Callable, Iterable, Iterator, Sequence
from functools import partial

from tonematch.measure.colour.difference import delta_e_2000
from tonematch.toning.core import Coat, LustreStep, PlanLustre, Prediction
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
    last = None
    if is_apart(end, target):
        keeps_colour = partial(_keeps_colour, gap, workshop, colour)
        last = _nearest(_one_more(model, workshop, laid, end), end, target, keeps_colour)
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
    ends: Iterable[tuple[Coat, LustrePrediction]],
    now: LustrePrediction,
    target: float,
    keeps_colour: Callable[[Coat], bool],
) -> LustreStep | None:
    """The coat that laid last is expected to leave the least distance; None where none gains."""
    found = [(expected_distance(after, target), coat, after) for coat, after in ends]
    enough = expected_distance(now, target) - LEAST_GAIN
    for distance, coat, after in sorted(found, key=lambda one: one[0]):
        if distance > enough:
            return None
        if keeps_colour(coat):
            return LustreStep(
                coat.layer.name, coat.strength, coat.coats, after.stops, after.interval
            )
    return None


def _one_more(
    model: LustreModel, workshop: Workshop, laid: Sequence[Coat], end: LustrePrediction
) -> Iterator[tuple[Coat, LustrePrediction]]:
    """What may go over what a plan laid, and where it ends; nothing that cannot be undone."""
    layers = [coat.layer for coat in laid]
    lying = [*workshop.surface.beneath, *(c.layer for c in laid for _ in range(c.coats))]
    for layer in workshop.layers:
        findings = check_layering(workshop.surface, [*layers, layer])
        blocked = any(f.severity == "blocked" and f.step == len(layers) for f in findings)
        if blocked or is_irreversible(layer):
            continue
        coats = [coat for coat in options_of(layer) if not say_too_many(layer, coat.coats, lying)]
        amounts = [coat.strength * coat.coats for coat in coats]
        yield from zip(coats, model.predict_layer(layer, amounts, end), strict=True)


def _keeps_colour(gap: Gap, workshop: Workshop, now: Prediction, coat: Coat) -> bool:
    laid = Laid.on(now.lab, coat.strength, coat.coats, workshop.surface)
    (after,), _ = workshop.model.predict_layer(coat.layer, laid, now.covariance)
    most = max(gap.tolerance, float(delta_e_2000(now.lab, gap.target)))
    return float(delta_e_2000(after, gap.target)) <= most
