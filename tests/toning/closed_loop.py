"""The whole job in a loop on the simulated workshop: read, plan, lay one layer, read, learn.

A case is an old surface of the simulator, new gold laid beside it, and a logbook of 60 trials of
the ten layers. What the planner never sees, the truth of the simulator decides: whether a target
can be reached with the shelf at all, and where the toned gold ends.
"""

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cache

import numpy as np
from numpy.typing import NDArray

from tests.demonstration.films import Surface, lay
from tests.toning.simulator import (
    EFFECTS,
    HAND,
    READING_NOISE,
    lab_of,
    make_trials,
    new_surface,
    random_old_surface,
    true_after,
    workshop,
)
from tonematch.measure.colour.difference import delta_e_2000
from tonematch.toning import core
from tonematch.toning.core import (
    Application,
    Finish,
    Layer,
    Proposal,
    Step,
    Technique,
    Trial,
)
from tonematch.toning.layers import rules
from tonematch.toning.model.layer_model import fit_trials
from tonematch.toning.optics.film import Laid
from tonematch.toning.planning.gap import Gap, Workshop, WorkshopModel
from tonematch.toning.planning.plan import plan_for
from tonematch.toning.planning.recipes import options_of

Array = NDArray[np.float64]
Learn = Callable[[Sequence[Trial]], WorkshopModel]

TOLERANCE = 2.0
MOST_LAYERS = 4
TRIALS = 60
READING = READING_NOISE**2 * np.eye(3)
PARTS = 8
"""A gilder who tones to within 2.0 mixes eighths: quarters of a strong wash are steps too coarse.
The logbook's trials are in quarters all the same."""
KEPT = 500
"""Surfaces of the truth's search that are followed to a fourth layer."""


@dataclass(frozen=True, eq=False)
class Case:
    """An old surface's true CIELAB, the new gold beside it, and what the gilder has tried."""

    seed: int
    target: Array
    leaf: Surface
    technique: Technique
    finish: Finish
    shelf: tuple[Layer, ...]
    trials: tuple[Trial, ...]


@dataclass(frozen=True, eq=False)
class Round:
    """One layer laid: what was proposed, and the true CIELAB that came of it."""

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


def full_shelf(parts: int = PARTS) -> tuple[Layer, ...]:
    """The ten simulated layers: of each the kind is known, and that rubbing cannot be undone.

    Parameters
    ----------
    parts : int
        Into how many parts the gilder divides full strength.
    """
    strengths = tuple(n / parts for n in range(1, parts + 1))
    return tuple(
        Layer(
            name, known.kind, strengths=strengths,
            reversible="not reversible" if known.kind == "rub" else "unknown",
        )
        for name, known in workshop().items()
    )  # fmt: skip


def make_case(seed: int, layers: int | None = None, parts: int = PARTS) -> Case:
    """A case by its seed; with `layers` a shelf of so many, drawn at random, instead of all."""
    rng = np.random.default_rng([seed, 1])
    technique: Technique = "oil" if rng.random() < 0.4 else "water"
    finish: Finish = "matte" if technique == "oil" or rng.random() < 0.3 else "burnished"
    leaf = new_surface(rng)
    shelf = full_shelf(parts)
    if layers is not None:
        shelf = tuple(shelf[i] for i in sorted(rng.choice(len(shelf), layers, replace=False)))
    trials = tuple(make_trials(TRIALS, 70_000 + seed))
    return Case(seed, lab_of(random_old_surface(seed)), leaf, technique, finish, shelf, trials)


def learn(trials: Sequence[Trial]) -> WorkshopModel:
    """The layer model."""
    return fit_trials(trials, {})


class NearestTrial:
    """Predicts with the shift of the most similar trial of the same layer, as sure as a reading.

    The same distance as `tonematch.toning.validation.baselines.Nearest`.
    """

    def __init__(self, trials: Sequence[Trial], amount_unit: float = 0.05) -> None:
        self.amount_unit = amount_unit
        self.places: dict[str, Array] = {}
        self.shifts: dict[str, Array] = {}
        for name in {t.application.layer for t in trials}:
            mine = [t for t in trials if t.application.layer == name]
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


def close_gap(case: Case, learn: Learn = learn) -> Ended:
    """Tone new gold until the plan says stop or four layers lie on it.

    Parameters
    ----------
    case : Case
    learn : function
        From trials to what predicts; called again after every layer.

    Returns
    -------
    Ended
    """
    rng = np.random.default_rng([case.seed, 2])
    known = {layer.name: layer for layer in case.shelf}
    old, before = _read(rng, case.target), _read(rng, lab_of(case.leaf))
    surface, trials = case.leaf, list(case.trials)
    beneath: list[Layer] = []
    rounds: list[Round] = []
    while len(rounds) < MOST_LAYERS:
        proposal = _propose(case, learn(trials), before, old, beneath)
        if not proposal.plans[0].steps:
            break
        step = proposal.plans[0].steps[0]
        surface = true_after(
            surface, step.layer, step.strength, step.coats,
            technique=case.technique, finish=case.finish, hand=HAND * rng.standard_normal(),
        )  # fmt: skip
        rounds.append(Round(proposal, step, lab_of(surface)))
        after = _read(rng, lab_of(surface))
        trials.append(_trial(case, before, step, after, len(rounds)))
        beneath.append(known[step.layer])
        before = after
    return Ended(tuple(rounds), lab_of(surface), case.target)


def first_proposal(case: Case, learn: Learn = learn) -> Proposal:
    """What is proposed for the untoned gold."""
    rng = np.random.default_rng([case.seed, 2])
    old, before = _read(rng, case.target), _read(rng, lab_of(case.leaf))
    return _propose(case, learn(case.trials), before, old, ())


def nearest_in_truth(case: Case, near_enough: float = 1.0) -> float:
    """Smallest CIEDE2000 from the target that the shelf reaches, by the simulator's own truth.

    With an even hand and perfect readings: every recipe of up to three layers that the rules
    allow, and a fourth layer on the most promising of them.

    Parameters
    ----------
    case : Case
    near_enough : float
        Below this nothing nearer is looked for.

    Returns
    -------
    float
    """
    front: dict[tuple[Layer, ...], Array] = {(): case.leaf.inside[None]}
    nearest = float(delta_e_2000(lab_of(case.leaf), case.target))
    for depth in range(1, MOST_LAYERS + 1):
        front = dict(_follow(case, front))
        far = {
            stack: delta_e_2000(lab_of(_surface(case, stack, inside)), case.target)
            for stack, inside in front.items()
        }
        nearest = min([nearest, *(float(each.min()) for each in far.values())])
        if nearest <= near_enough:
            break
        if depth == MOST_LAYERS - 1:
            front = _promising(front, far)
    return nearest


def _follow(
    case: Case, front: Mapping[tuple[Layer, ...], Array]
) -> Iterator[tuple[tuple[Layer, ...], Array]]:
    """Every layer in every amount on every surface where the rules allow it."""
    amounts = _amounts(case)
    for stack, inside in front.items():
        for layer in case.shelf:
            if (stack and stack[-1] == layer) or not _allowed(case, (*stack, layer)):
                continue
            laid = _lay(case, stack, inside[:, None], layer, amounts[layer.name][:, None])
            yield (*stack, layer), laid.reshape(-1, inside.shape[-1])


def _lay(
    case: Case, stack: tuple[Layer, ...], inside: Array, layer: Layer, thickness: Array
) -> Array:
    film = workshop()[layer.name].film
    return np.asarray(lay(_surface(case, stack, inside), film, thickness).inside)


def _surface(case: Case, stack: tuple[Layer, ...], inside: Array) -> Surface:
    """Surfaces that have the same layers on them, whatever their amounts."""
    own = [workshop()[layer.name].film.outer for layer in stack]
    outer = next((each for each in reversed(own) if each is not None), case.leaf.outer)
    return replace(case.leaf, inside=inside, outer=outer)


def _amounts(case: Case) -> dict[str, Array]:
    """Thickness of each layer at each of its strengths and coats, as `true_after` has it."""
    takes = EFFECTS.get(case.technique, 1.0) * EFFECTS.get(case.finish, 1.0)
    amounts: dict[str, list[float]] = {layer.name: [] for layer in case.shelf}
    for option in options_of(case.shelf):
        known = workshop()[case.shelf[option.layer].name]
        thickness = option.coats * option.strength**known.curve
        amounts[known.film.name].append(thickness * (1.0 if known.kind == "rub" else takes))
    return {name: np.array(each) for name, each in amounts.items()}


def _allowed(case: Case, stack: tuple[Layer, ...]) -> bool:
    return _rules_allow(case.technique, case.finish, stack)


@cache
def _rules_allow(technique: Technique, finish: Finish, stack: tuple[Layer, ...]) -> bool:
    findings = rules.check_layering(core.Surface(technique, finish), stack)
    return not any(finding.severity == "blocked" for finding in findings)


def _promising(
    front: Mapping[tuple[Layer, ...], Array], far: Mapping[tuple[Layer, ...], Array]
) -> dict[tuple[Layer, ...], Array]:
    """The surfaces that lie nearest already."""
    limit = np.sort(np.concatenate(list(far.values())))[:KEPT][-1]
    return {
        stack: front[stack][far[stack] <= limit] for stack in front if far[stack].min() <= limit
    }


def _propose(
    case: Case, model: WorkshopModel, before: Array, old: Array, beneath: Sequence[Layer]
) -> Proposal:
    surface = core.Surface(case.technique, case.finish, tuple(beneath))
    workshop = Workshop(model, case.shelf, surface, most_layers=MOST_LAYERS - len(beneath))
    return plan_for(Gap(before, old, READING, READING, TOLERANCE), workshop)


def _trial(case: Case, before: Array, step: Step, after: Array, number: int) -> Trial:
    application = Application(
        before, step.layer, step.kind, step.strength, step.coats, case.technique, case.finish
    )
    return Trial(application, after, f"case {case.seed}", "2026-02-01", number)


def _read(rng: np.random.Generator, lab: Array) -> Array:
    return lab + READING_NOISE * rng.standard_normal(3)
