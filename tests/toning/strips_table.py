"""Print how much chosen strips teach, beside strips made at random.

Run ``python tests/toning/strips_table.py [--cases N]`` from the root. Slow: some minutes.

A case: a new leaf, a target that two toning layers of the simulated workshop have made, and a
logbook that is empty or thin. Twelve strips are made on the simulator, the model learns from them,
and the best plan is laid with an even hand. The error is the CIEDE2000 between what that gives and
the target.
"""

import argparse
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray
from simulator import (
    HAND,
    READING_NOISE,
    STRENGTHS,
    lab_of,
    make_trials,
    new_surface,
    true_after,
    workshop,
)

from tonematch.measure.difference import delta_e_2000
from tonematch.toning import rules
from tonematch.toning.core import Application, Layer, Trial
from tonematch.toning.model import fit_trials
from tonematch.toning.plan import propose
from tonematch.toning.strips import Strip, choose_strips, possible_strips

if TYPE_CHECKING:
    from films import Surface  # found only once simulator is imported

Array = NDArray[np.float64]

COUNT = 12
GILDING = rules.Surface("water", "burnished")


@dataclass(frozen=True, eq=False)
class Case:
    """A new leaf and what it should become, with the trials that there are."""

    leaf: "Surface"
    before: Array
    target: Array
    trials: list[Trial]


def bench() -> list[Layer]:
    """The simulated layers, of which nothing but the kind is known."""
    return [Layer(n, known.kind, strengths=STRENGTHS) for n, known in workshop().items()]


def make_case(seed: int, trials: int) -> Case:
    """A case whose logbook holds so many trials."""
    rng = np.random.default_rng(seed)
    leaf = new_surface(rng)
    toned = leaf
    tones = [name for name, known in workshop().items() if known.kind != "rub"]
    for name in rng.choice(tones, size=2, replace=False):
        toned = true_after(toned, str(name), float(rng.choice(STRENGTHS[:3])))
    return Case(leaf, _read(rng, leaf), lab_of(toned), make_trials(trials, 5000 + seed))


def chosen_error(case: Case, seed: int) -> float:
    """Error with the strips that are chosen."""
    model = fit_trials(case.trials, {})
    return _error(
        case, choose_strips(model, bench(), case.before, case.target, COUNT, GILDING), seed
    )


def random_error(case: Case, seed: int) -> float:
    """Error with strips drawn from the same ones that could be made."""
    rng = np.random.default_rng(seed)
    model = fit_trials(case.trials, {})
    every = list(possible_strips(model, bench(), case.before, GILDING))
    return _error(case, [every[i] for i in rng.choice(len(every), COUNT)], seed)


def _error(case: Case, strips: Sequence[Strip], seed: int) -> float:
    rng = np.random.default_rng(900 + seed)
    made = [_make(rng, case.leaf, strip, f"strip {i}") for i, strip in enumerate(strips)]
    model = fit_trials([*case.trials, *made], {})
    plan = propose(model, bench(), case.before, case.target, surface=GILDING).plans[0]
    toned = case.leaf
    for step in plan.steps:
        toned = true_after(toned, step.layer, step.strength, step.coats)
    return float(delta_e_2000(lab_of(toned), case.target))


def _make(rng: np.random.Generator, leaf: "Surface", strip: Strip, piece: str) -> Trial:
    ground = leaf
    for seal in strip.first:
        ground = true_after(ground, seal.name, seal.strengths[-1], hand=HAND * rng.normal())
    before = _read(rng, ground)
    hand = HAND * float(rng.normal())
    toned = true_after(ground, strip.layer.name, strip.strength, strip.coats, hand=hand)
    application = Application(
        before, strip.layer.name, strip.layer.kind, strip.strength, strip.coats,
        GILDING.technique, GILDING.finish,
    )  # fmt: skip
    return Trial(application, _read(rng, toned), piece)


def _read(rng: np.random.Generator, surface: "Surface") -> Array:
    return lab_of(surface) + READING_NOISE * rng.standard_normal(3)


def main() -> None:
    """Print one line for each size of logbook."""
    parser = argparse.ArgumentParser(description="Chosen strips beside random ones.")
    parser.add_argument("--cases", type=int, default=20)
    cases = parser.parse_args().cases
    print(
        f"{'trials':>7}{'chosen':>9}{'random':>9}{'lower by':>10}   mean CIEDE2000, {cases} cases"
    )
    for trials in (0, 12, 24):
        made = [make_case(seed, trials) for seed in range(cases)]
        chosen = np.mean([chosen_error(case, seed) for seed, case in enumerate(made)])
        drawn = np.mean([random_error(case, seed) for seed, case in enumerate(made)])
        print(f"{trials:7d}{chosen:9.2f}{drawn:9.2f}{1 - chosen / drawn:10.0%}", flush=True)


if __name__ == "__main__":
    main()
