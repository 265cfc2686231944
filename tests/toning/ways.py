"""Ways of toning, held against each other on the same old surfaces of the second simulator.

A case is an old surface that the workshop's shelf can truly reach, by the simulator's own truth.
Every way starts from the same leaf with the same hand, and lays six layers at most.
"""

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field, replace
from typing import Any

import numpy as np

from tests.toning.closed_loop import (
    MOST_LAYERS,
    READING,
    TOLERANCE,
    Array,
    Bench,
    Case,
    Ended,
    Learn,
    NearestTrial,
    Round,
    close_gap,
    first_gap,
    lay_by_hand,
    layer_of,
    make_case,
    nearest_in_truth,
    trial_of,
)
from tests.toning.second_workshop import SecondWorkshop, Surface, second_workshop
from tests.toning.simulated import Simulated, read
from tonematch.measure.colour.difference import delta_e_2000
from tonematch.toning.core import Application, Coat, Layer, Plan, Strip, Trial
from tonematch.toning.layers.taking_back import TAKEN_BACK
from tonematch.toning.model.fitted_layer import Memory
from tonematch.toning.model.layer_model import fit_trials
from tonematch.toning.optics.film import Laid
from tonematch.toning.planning.gap import Gap, Workshop, WorkshopModel
from tonematch.toning.planning.ground import Ground
from tonematch.toning.planning.strips import choose_stacks, choose_strips
from tonematch.toning.validation.baselines import PlainGaussianProcess

SIX = 6
TRIALS = 60
SIDE_BY_SIDE = 12
"""Workshops among 60 seeds in a row."""


class PlainProcess:
    """The plain Gaussian process as a model to plan with; as sure as it says."""

    def __init__(self, bench: Bench) -> None:
        after = np.array([trial.after for trial in bench.trials])
        applications = [trial.application for trial in bench.trials]
        self.process = PlainGaussianProcess().fit(applications, after)
        self.tried = frozenset(application.layer for application in applications)

    reading_covariance_ = READING
    freedom_of = NearestTrial.freedom_of

    def predict_layer(self, layer: Layer, laid: Laid, covariance: Array) -> tuple[Array, Array]:
        """Same contract as the LayerModel's."""
        X = [
            Application(before, layer.name, layer.kind, strength, coats)
            for before, strength, coats in zip(laid.before, laid.strength, laid.coats, strict=True)
        ]
        lab = self.process.predict(X)
        own = [float(one.kernel_.k2.noise_level) for one in self.process.processes_]
        return lab, np.broadcast_to(covariance, (len(lab), 3, 3)) + np.diag(own)


class PerfectKnowledge:
    """The simulator's own truth as a model: all but the hand's next slip is known.

    Every colour that it predicts it knows again, with the surface that has it.
    """

    reading_covariance_ = READING
    freedom_of = NearestTrial.freedom_of

    def __init__(self, bench: Bench) -> None:
        self.case = bench.case
        self.workshop: SecondWorkshop = bench.case.workshop  # type: ignore[assignment]
        self.tried = frozenset(self.workshop.layers)
        one = np.zeros(1, dtype=int)
        seen = [*bench.seen]
        while (surface := seen[-1][1].beneath) is not None:
            seen.append((self.workshop.lab_of(surface), surface))
        self.known = {lab.tobytes(): (self.workshop.rows(each, one), 0) for lab, each in seen}

    def predict_layer(self, layer: Layer, laid: Laid, covariance: Array) -> tuple[Array, Array]:
        """Same contract as the LayerModel's."""
        ground, hand = self._ground(laid), self.workshop.hand
        amount = laid.strength[:, None], laid.coats[:, None]
        surfaces = [self._lay(ground, layer, *amount, more) for more in (0.0, hand, -hand)]
        lab, more, less = (self.workshop.lab_of(surface) for surface in surfaces)
        self.known |= {row.tobytes(): (surfaces[0], at) for at, row in enumerate(lab)}
        slip = (more - less)[:, :, None] / 2.0
        return lab, np.broadcast_to(covariance, (len(lab), 3, 3)) + slip * slip.swapaxes(1, 2)

    def _ground(self, laid: Laid) -> Surface:
        """What a layer lies on; for one that is taken back what it bares."""
        labs = laid.before if laid.under is None else laid.under
        known = [self.known[row.tobytes()] for row in labs]
        inside = np.array([surface.inside[at] for surface, at in known])
        skin = np.array([surface.skin[at] for surface, at in known])
        return Surface(inside, known[0][0].bole, skin)

    def _lay(
        self, ground: Surface, layer: Layer, strength: Array, coats: Array, hand: float
    ) -> Surface:
        case, name = self.case, layer.name
        if layer.kind == "lift":
            name, strength = name.removesuffix(TAKEN_BACK), self.workshop.residue * strength
        laid = self.workshop.true_after(
            ground, name, strength, coats,
            technique=case.gilding.technique, finish=case.gilding.finish, hand=hand,
        )  # fmt: skip
        return Surface(laid.inside, laid.bole, laid.skin)


def remembering(memory: Memory) -> Learn:
    """The layer model, with what it reckoned before."""

    def learn(bench: Bench) -> WorkshopModel:
        return fit_trials(bench.trials, bench.case.workshop.layers, memory=memory)

    return learn


Strips = Callable[[Gap, Workshop], Sequence[Strip]]


def first_sheet(gap: Gap, workshop: Workshop) -> Sequence[Strip]:
    """Stacks, and a strip of each layer that nobody has tried."""
    return choose_strips(gap, workshop, Ground(workshop.surface))


@dataclass(frozen=True)
class Way:
    """How many trials the logbook holds, what is laid on offcuts before the work, what predicts.

    `learn` is the layer model's where it is not given; `ahead` the layers of one plan.
    """

    trials: int = TRIALS
    strips: Strips | None = None
    learn: Learn | None = None
    ahead: int = MOST_LAYERS


WAYS = {
    "empty logbook": Way(0),
    "stacks alone": Way(0, choose_stacks),
    "a first sheet": Way(0, first_sheet),
    "60 trials": Way(),
    "60 trials and stacks": Way(strips=choose_stacks),
    "nearest trial": Way(learn=NearestTrial),
    "greedy Gaussian process": Way(learn=PlainProcess, ahead=1),
    "perfect knowledge": Way(learn=PerfectKnowledge),
}


@dataclass(frozen=True)
class Ran:
    """How one way ended on one case.

    Attributes
    ----------
    far : float
        CIEDE2000 of the true end from the true target.
    darker : float
        L* of the target less L* of the end.
    days : float
        That the layers dry, in all.
    blind : list of (int, float, bool)
        Of every plan that was proposed on the way, laid blind on a copy: its rank, from 0, the
        chance that it stated, and whether it came within the tolerance.
    read : list of (float, bool)
        Of the best plan of every round the chance that it stated to get there with a reading and
        a new plan after each layer, and whether the end was within the tolerance.
    """

    seed: int
    workshop: int
    way: str
    far: float
    darker: float
    layers: int
    days: float
    blind: list[tuple[int, float, bool]] = field(default_factory=list)
    read: list[tuple[float, bool]] = field(default_factory=list)


def workshop_of(seed: int) -> int:
    """Which workshop a case is in: twelve among 60 seeds in a row, and others for the next 60."""
    return seed // 60 * SIDE_BY_SIDE + seed % SIDE_BY_SIDE


def reachable_case(seed: int, trials: int = TRIALS, workshop: Simulated[Any] | None = None) -> Case:
    """An old surface that the workshop's shelf reaches in truth, the first that is drawn so.

    The workshop is that of the seed on the second simulator, unless it is given.
    """
    workshop = workshop or second_workshop(workshop_of(seed))
    case = make_case(seed, workshop=workshop, trials=trials)
    while nearest_in_truth(case, TOLERANCE) > TOLERANCE:
        seed += 100_000
        case = replace(case, target=workshop.lab_of(workshop.random_old_surface(seed)))
    return case


def run_case(
    seed: int, names: Sequence[str] = tuple(WAYS), workshop: Simulated[Any] | None = None
) -> list[Ran]:
    """Every way on one case."""
    whole, memory = reachable_case(seed, workshop=workshop), Memory()
    ran = []
    for name in names:
        way = WAYS[name]
        case = replace(whole, trials=whole.trials[: way.trials])
        learn = way.learn or remembering(memory)
        if way.strips is not None:
            case = replace(case, trials=(*case.trials, *sheet(case, learn, way.strips)))
        ended = close_gap(case, learn, SIX, way.ahead)
        ran.append(_account(case, name, ended))
    return ran


def sheet(case: Case, learn: Learn, strips: Strips) -> Iterator[Trial]:
    """Strips on offcuts of the same leaf, each read after every layer."""
    rng = np.random.default_rng([case.seed, 3])
    lab_of = case.workshop.lab_of
    for number, strip in enumerate(strips(*first_gap(case, learn))):
        surface, before = case.leaf, read(rng, lab_of(case.leaf))
        first = (Coat(layer, layer.strengths[-1]) for layer in strip.first)
        for place, coat in enumerate((*first, *strip.steps), start=1):
            surface = lay_by_hand(case, rng, surface, coat)
            after = read(rng, lab_of(surface))
            yield trial_of(case, before, coat, after, f"offcut {number}", place)
            before = after


def _account(case: Case, way: str, ended: Ended) -> Ran:
    rng = np.random.default_rng([case.seed, 4])
    steps = [each.step for each in ended.rounds]
    hours = [layer_of(case, step.layer).drying_hours[1] * step.coats for step in steps]
    within = ended.far <= TOLERANCE
    return Ran(
        seed=case.seed,
        workshop=workshop_of(case.seed),
        way=way,
        far=ended.far,
        darker=float(case.target[0] - ended.truth[0]),
        layers=len(ended.rounds),
        days=sum(hours) / 24.0,
        blind=[
            (rank, plan.chance, _comes_blind(case, rng, each, plan))
            for each in ended.rounds
            for rank, plan in enumerate(each.proposal.plans)
            if plan.steps
        ],
        read=[(each.proposal.plans[0].chance_read, within) for each in ended.rounds],
    )


def _comes_blind(case: Case, rng: np.random.Generator, at: Round, plan: Plan) -> bool:
    surface = at.surface
    for step in plan.steps:
        coat = Coat(Layer(step.layer, step.kind), step.strength, step.coats)
        surface = lay_by_hand(case, rng, surface, coat)
    return bool(delta_e_2000(case.workshop.lab_of(surface), case.target) <= TOLERANCE)
