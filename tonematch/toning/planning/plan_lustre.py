"""Where a plan leaves the lustre beside the old gold's, and what laid last would bring it near."""

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from tonematch.errors import ValueRefused
from tonematch.measure.colour.difference import delta_e_2000
from tonematch.toning.core import Layer, LustreStep, Matrix3, PlanLustre, Surface, Vector3
from tonematch.toning.layers.coats import say_too_many
from tonematch.toning.layers.rules import check_layering, is_irreversible
from tonematch.toning.model.chain import Coat
from tonematch.toning.model.lustre import LustreModel
from tonematch.toning.model.lustre_law import MOST_LUSTRE, LustrePrediction
from tonematch.toning.planning.lustre_words import is_apart, say_lustre
from tonematch.toning.planning.recipes import LayerPredictor, options_of

Array = NDArray[np.float64]

# Expected distance, in stops, that a last layer must gain: for less nobody lays one. A choice.
LEAST_GAIN = 0.1


@dataclass(frozen=True, eq=False)
class LustreAim:
    """What is known of lustre where a plan is made.

    Attributes
    ----------
    model : LustreModel
    before, target : float
        Rise of the repair and of the old gold in stops, read from the same pictures.

    Raises
    ------
    ValueRefused
        Where one of them is not from 0 to 10 stops.
    """

    model: LustreModel
    before: float
    target: float

    def __post_init__(self) -> None:
        for name, stops in (("surface", self.before), ("target", self.target)):
            if not 0.0 <= stops <= MOST_LUSTRE:
                raise ValueRefused(
                    f"A lustre of {stops:g} stops for the {name} cannot be used: give a number "
                    f"from 0 to {MOST_LUSTRE:g}."
                )


@dataclass(frozen=True, eq=False)
class Ending:
    """How a plan ends: what was laid, and the colour that it leads to.

    Attributes
    ----------
    surface : Surface
    laid : sequence of Coat
    lab : ndarray, shape (3,)
    covariance : ndarray, shape (3, 3)
    target : ndarray, shape (3,)
        The old gold's CIELAB.
    tolerance : float
    """

    surface: Surface
    laid: Sequence[Coat]
    lab: Vector3
    covariance: Matrix3
    target: Vector3
    tolerance: float


def lustre_at_end(
    aim: LustreAim, ending: Ending, layers: Sequence[Layer], colours: LayerPredictor
) -> PlanLustre:
    """Lustre at the end of a plan.

    Parameters
    ----------
    aim : LustreAim
    ending : Ending
    layers : sequence of Layer
        What may be laid last: where the lustre would part from the old gold's by more than
        counts as alike, that is named which brings it nearest, under the rules of layering and
        without taking the colour out of the tolerance, or farther than it is.
    colours : LayerPredictor

    Returns
    -------
    PlanLustre
    """
    now = LustrePrediction(aim.before, 0.0)
    end = [now, *aim.model.predict(now, ending.laid)][-1]
    last = _nearest(aim, ending, end, layers, colours) if is_apart(end, aim.target) else None
    tried = any(aim.model.known(coat.layer).trials for coat in ending.laid)
    words = say_lustre(end, aim.target, last, laid=bool(ending.laid), tried=tried)
    return PlanLustre(end.stops, end.interval, aim.target, last, words)


def expected_distance(end: LustrePrediction, target: float) -> float:
    """Mean distance of a normal distribution from a target, in stops.

    References
    ----------
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
    aim: LustreAim,
    ending: Ending,
    end: LustrePrediction,
    layers: Sequence[Layer],
    colours: LayerPredictor,
) -> LustreStep | None:
    """The coat that laid last is expected to leave the least distance; None where none gains."""
    beneath = [*ending.surface.beneath, *(c.layer for c in ending.laid for _ in range(c.coats))]
    found = [
        (expected_distance(after, aim.target), coat, after)
        for layer in _allowed(ending, layers)
        for coat, after in _ends(aim.model, end, layer)
        if not say_too_many(layer, coat.coats, beneath)
    ]
    enough = expected_distance(end, aim.target) - LEAST_GAIN
    for distance, coat, after in sorted(found, key=lambda one: one[0]):
        if distance > enough:
            return None
        if _keeps_colour(ending, coat, colours):
            return LustreStep(
                coat.layer.name, coat.strength, coat.coats, after.stops, after.interval
            )
    return None


def _allowed(ending: Ending, layers: Sequence[Layer]) -> Iterator[Layer]:
    """Layers that may go over what the plan laid; nothing that cannot be undone."""
    beneath = [coat.layer for coat in ending.laid]
    for layer in layers:
        findings = check_layering(ending.surface, [*beneath, layer])
        blocked = any(f.severity == "blocked" and f.step == len(beneath) for f in findings)
        if not blocked and not is_irreversible(layer):
            yield layer


def _ends(
    model: LustreModel, before: LustrePrediction, layer: Layer
) -> Iterator[tuple[Coat, LustrePrediction]]:
    options = options_of([layer])
    amounts = [option.strength * option.coats for option in options]
    for option, after in zip(options, model.predict_many(before, layer, amounts), strict=True):
        yield Coat(layer, option.strength, option.coats), after


def _keeps_colour(ending: Ending, coat: Coat, colours: LayerPredictor) -> bool:
    after, _ = colours.predict_many(
        coat.layer.name,
        coat.layer.kind,
        ending.lab[None],
        ending.covariance[None],
        np.array([coat.strength]),
        np.array([float(coat.coats)]),
        ending.surface.technique,
        ending.surface.finish,
    )
    most = max(ending.tolerance, float(delta_e_2000(ending.lab, ending.target)))
    return float(delta_e_2000(after[0], ending.target)) <= most
