"""The whole job in a loop in a simulated workshop: read, plan, lay one layer, read, learn.

A case is an old surface, new gold laid beside it, and a logbook of 60 trials of the workshop's
layers. What the planner never sees, the simulator's truth decides: whether a target can be reached
with the shelf at all, and where the toned gold ends.
"""

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cache
from typing import Any

import numpy as np
from numpy.typing import NDArray

from tests.toning.simulated import READING_NOISE, Simulated, make_with_truth, read
from tests.toning.simulator import FIRST
from tonematch.measure.colour.difference import delta_e_2000
from tonematch.toning import core
from tonematch.toning.core import (
    Application,
    Coat,
    Finish,
    Layer,
    Proposal,
    Step,
    Technique,
    Trial,
)
from tonematch.toning.layers import rules
from tonematch.toning.layers.shelf import find_layer
from tonematch.toning.layers.taking_back import surface_after, with_beneath
from tonematch.toning.model.layer_model import fit_trials
from tonematch.toning.optics.film import Laid
from tonematch.toning.planning.gap import Gap, Workshop, WorkshopModel
from tonematch.toning.planning.plan import best_plan, plan_for
from tonematch.toning.planning.plan_words import STRIPS_INSTEAD
from tonematch.toning.planning.recipes import options_of

Array = NDArray[np.float64]

TOLERANCE = 2.0
MOST_LAYERS = 4
TRIALS = 60
READING = READING_NOISE**2 * np.eye(3)
PARTS = 8
"""A gilder who tones to within 2.0 mixes eighths: quarters of a strong wash are steps too coarse.
The logbook's trials are in quarters all the same."""
EXHAUSTIVE, OF_EACH, KEPT = 2, 20, 500
"""Layers after which the truth's search follows the nearest alone: of each stack, and of all."""


@dataclass(frozen=True, eq=False)
class Case:
    """An old surface's true CIELAB, the gold beside it, and what the gilder has tried.

    The gold is new unless its gilding tells what lies on it.
    """

    workshop: Simulated[Any]
    seed: int
    target: Array
    leaf: Any
    gilding: core.Surface
    shelf: tuple[Layer, ...]
    trials: tuple[Trial, ...]


@dataclass(frozen=True, eq=False)
class Bench:
    """What there is to plan from.

    `seen` is every reading of the repair so far, the last one now, with the true surface that
    gave it: for perfect knowledge alone.
    """

    case: Case
    trials: Sequence[Trial]
    seen: Sequence[tuple[Array, Any]]


Learn = Callable[[Bench], WorkshopModel]


@dataclass(frozen=True, eq=False)
class Round:
    """One layer laid: on what, what was proposed, and the true CIELAB that came of it."""

    surface: Any
    proposal: Proposal
    step: Step
    truth: Array


@dataclass(frozen=True, eq=False)
class Ended:
    """How a case ended.

    Attributes
    ----------
    rounds : tuple of Round
    truth : ndarray, shape (3,)
        True CIELAB at the end.
    target : ndarray, shape (3,)
    """

    rounds: tuple[Round, ...]
    truth: Array
    target: Array

    @property
    def far(self) -> float:
        """CIEDE2000 of the true end from the true target."""
        return float(delta_e_2000(self.truth, self.target))

    @property
    def overshoot(self) -> float:
        """How far in L* the end lies below the target; 0 where it does not."""
        return max(float(self.target[0] - self.truth[0]), 0.0)


def make_case(
    seed: int,
    layers: int | None = None,
    parts: int = PARTS,
    workshop: Simulated[Any] = FIRST,
    trials: int = TRIALS,
) -> Case:
    """A case by its seed; with `layers` a shelf of so many, drawn at random, instead of all.

    Parameters
    ----------
    parts : int
        Into how many parts the gilder divides full strength.
    """
    rng = np.random.default_rng([seed, 1])
    technique: Technique = "oil" if rng.random() < 0.4 else "water"
    finish: Finish = "matte" if technique == "oil" or rng.random() < 0.3 else "burnished"
    leaf = workshop.new_surface(rng)
    strengths = tuple(n / parts for n in range(1, parts + 1))
    shelf = tuple(replace(layer, strengths=strengths) for layer in workshop.layers.values())
    if layers is not None:
        shelf = tuple(shelf[i] for i in sorted(rng.choice(len(shelf), layers, replace=False)))
    made = tuple(each.trial for each in make_with_truth(workshop, trials, 70_000 + seed))
    target = workshop.lab_of(workshop.random_old_surface(seed))
    return Case(workshop, seed, target, leaf, core.Surface(technique, finish), shelf, made)


def learn(bench: Bench) -> WorkshopModel:
    """The layer model."""
    return fit_trials(bench.trials, bench.case.workshop.layers)


class NearestTrial:
    """Predicts with the shift of the most similar trial of the same layer, as sure as a reading.

    The same distance as `tonematch.toning.validation.baselines.Nearest`.
    """

    def __init__(self, bench: Bench, amount_unit: float = 0.05) -> None:
        self.amount_unit = amount_unit
        self.places: dict[str, Array] = {}
        self.shifts: dict[str, Array] = {}
        for name in {t.application.layer for t in bench.trials}:
            mine = [t for t in bench.trials if t.application.layer == name]
            before = np.array([t.application.before for t in mine])
            amount = np.array([t.application.strength * t.application.coats for t in mine])
            self.places[name] = np.column_stack([before, amount / amount_unit])
            self.shifts[name] = np.array([t.after for t in mine]) - before

    tried = property(lambda self: frozenset(self.places))
    reading_covariance_ = READING

    def freedom_of(self, layer: Layer) -> float:  # noqa: ARG002
        """Normal, however little is known."""
        return float("inf")

    def predict_layer(self, layer: Layer, laid: Laid, covariance: Array) -> tuple[Array, Array]:
        """Same contract as the LayerModel's."""
        spread = np.broadcast_to(covariance, (len(laid), 3, 3))
        if layer.name not in self.places:
            return laid.before, spread
        amount = laid.strength * laid.coats / self.amount_unit
        places = np.column_stack([laid.before, amount])
        away = np.linalg.norm(places[:, None] - self.places[layer.name], axis=2)
        return laid.before + self.shifts[layer.name][away.argmin(axis=1)], spread


def close_gap(
    case: Case, learn: Learn = learn, most: int = MOST_LAYERS, ahead: int = MOST_LAYERS
) -> Ended:
    """Tone gold until the plan says stop or `most` layers were laid or taken back.

    Parameters
    ----------
    case : Case
    learn : function
        From what is known to what predicts; called again after every layer.
    most, ahead : int
        Layers in all, and of one plan.

    Returns
    -------
    Ended
    """
    rng = np.random.default_rng([case.seed, 2])
    lab_of = case.workshop.lab_of
    old, before = read(rng, case.target), read(rng, lab_of(case.leaf))
    seen, trials = [(before, case.leaf)], list(case.trials)
    gilding = case.gilding
    rounds: list[Round] = []
    while len(rounds) < most:
        before, surface = seen[-1]
        model = learn(Bench(case, with_beneath(trials), seen))
        workshop = Workshop(model, case.shelf, gilding, most_layers=min(ahead, most - len(rounds)))
        proposal = propose(_gap(before, old), workshop)
        if not proposal.plans[0].steps:
            break
        step = proposal.plans[0].steps[0]
        coat = Coat(layer_of(case, step.layer), step.strength, step.coats)
        laid = lay_by_hand(case, rng, surface, coat)
        rounds.append(Round(surface, proposal, step, lab_of(laid)))
        seen.append((read(rng, lab_of(laid)), laid))
        trials.append(trial_of(case, before, coat, seen[-1][0], f"case {case.seed}", len(rounds)))
        gilding = surface_after(gilding, coat.layer, coat.coats, before)
    return Ended(tuple(rounds), lab_of(seen[-1][1]), case.target)


def propose(gap: Gap, workshop: Workshop) -> Proposal:
    """What is proposed; where strips should come first, the best that can be laid without them."""
    proposal = plan_for(gap, workshop)
    if proposal.plans[0].words == STRIPS_INSTEAD:
        return replace(proposal, plans=(best_plan(gap, workshop),))
    return proposal


def layer_of(case: Case, name: str) -> Layer:
    """A layer of the shelf, or what takes it back."""
    return find_layer({layer.name: layer for layer in case.shelf}, name)


def lay_by_hand(case: Case, rng: np.random.Generator, surface: Any, coat: Coat) -> Any:
    """The surface once a coat is laid on it, by a hand that scatters."""
    return case.workshop.true_after(
        surface, coat.layer.name, coat.strength, coat.coats,
        technique=case.gilding.technique, finish=case.gilding.finish,
        hand=case.workshop.hand * rng.standard_normal(),
    )  # fmt: skip


def first_gap(case: Case, learn: Learn = learn) -> tuple[Gap, Workshop]:
    """The gap between untoned gold and the old, and what there is to close it with."""
    rng = np.random.default_rng([case.seed, 2])
    old, before = read(rng, case.target), read(rng, case.workshop.lab_of(case.leaf))
    model = learn(Bench(case, case.trials, [(before, case.leaf)]))
    return _gap(before, old), Workshop(model, case.shelf, case.gilding, most_layers=MOST_LAYERS)


def nearest_in_truth(case: Case, near_enough: float = 1.0) -> float:
    """Smallest CIEDE2000 from the target that the shelf reaches, by the simulator's own truth.

    With an even hand and perfect readings: every recipe of up to three layers that the rules
    allow, and a fourth layer on the most promising of them.

    Parameters
    ----------
    case : Case
    near_enough : float
        Once this near, nothing nearer is looked for.

    Returns
    -------
    float
    """
    workshop = case.workshop
    nearest = float(delta_e_2000(workshop.lab_of(case.leaf), case.target))
    front: dict[tuple[Layer, ...], Any] = {(): workshop.rows(case.leaf, np.zeros(1, dtype=int))}
    for depth in range(1, MOST_LAYERS + 1):
        grown: dict[tuple[Layer, ...], Any] = {}
        far: dict[tuple[Layer, ...], Array] = {}
        for stack, surfaces in _follow(case, front):
            away = delta_e_2000(workshop.lab_of(surfaces), case.target)
            nearest = min(nearest, float(away.min()))
            if nearest <= near_enough:
                return nearest
            best = np.argsort(away)[: len(away) if depth <= EXHAUSTIVE else OF_EACH]
            grown[stack], far[stack] = workshop.rows(surfaces, best), away[best]
        if not grown:  # the rules allow nothing more
            break
        front = grown if depth <= EXHAUSTIVE else _promising(workshop, grown, far)
    return nearest


def _follow(
    case: Case, front: Mapping[tuple[Layer, ...], Any]
) -> Iterator[tuple[tuple[Layer, ...], Any]]:
    """Every layer in every amount on every surface where the rules allow it."""
    for stack, surfaces in front.items():
        count = len(case.workshop.lab_of(surfaces))
        for layer in case.shelf:
            if (stack and stack[-1] == layer) or not _allowed(case, (*stack, layer)):
                continue
            mine = [(o.strength, o.coats) for o in options_of(layer)]
            strengths, coats = np.tile(mine, (count, 1)).T[:, :, None]
            laid = case.workshop.true_after(
                case.workshop.rows(surfaces, np.repeat(np.arange(count), len(mine))),
                layer.name, strengths, coats,
                technique=case.gilding.technique, finish=case.gilding.finish,
            )  # fmt: skip
            yield (*stack, layer), laid


def _allowed(case: Case, stack: tuple[Layer, ...]) -> bool:
    return _rules_allow(case.gilding.technique, case.gilding.finish, stack)


@cache
def _rules_allow(technique: Technique, finish: Finish, stack: tuple[Layer, ...]) -> bool:
    findings = rules.check_layering(core.Surface(technique, finish), stack)
    return not any(finding.severity == "blocked" for finding in findings)


def _promising(
    workshop: Simulated[Any],
    front: Mapping[tuple[Layer, ...], Any],
    far: Mapping[tuple[Layer, ...], Array],
) -> dict[tuple[Layer, ...], Any]:
    """The surfaces that lie nearest already."""
    limit = np.sort(np.concatenate(list(far.values())))[:KEPT][-1]
    return {
        stack: workshop.rows(surfaces, np.flatnonzero(far[stack] <= limit))
        for stack, surfaces in front.items()
        if far[stack].min() <= limit
    }


def _gap(before: Array, old: Array) -> Gap:
    return Gap(before, old, READING, READING, TOLERANCE)


def trial_of(case: Case, before: Array, coat: Coat, after: Array, piece: str, number: int) -> Trial:
    """A layer that was laid, as the logbook holds it."""
    application = Application(
        before, coat.layer.name, coat.layer.kind, coat.strength, coat.coats,
        case.gilding.technique, case.gilding.finish,
    )  # fmt: skip
    return Trial(application, after, piece, "2026-02-01", number)
