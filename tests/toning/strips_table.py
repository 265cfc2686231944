"""Print how much chosen strips teach, beside strips made at random.

Run ``python -m tests.toning.strips_table [--cases N]`` from the root. Slow: some minutes.

A case: a new leaf, a target that two toning layers of the simulated workshop have made, and a
logbook that is empty or thin. Twelve strips are made on the simulator and the model learns from
them. Two errors are told, in CIEDE2000: of predicting the recipes that truly come nearest to the
target, on average; and of the best plan's true result from the target, laid with an even hand. The
second is the gilder's, but chance has a large part in it.
"""

import argparse
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from itertools import permutations, product

import numpy as np
from numpy.typing import NDArray

from tests.demonstration.films import Surface
from tests.toning.simulated import READING_NOISE, STRENGTHS
from tests.toning.simulator import HAND, lab_of, make_trials, new_surface, true_after, workshop
from tonematch.measure.colour.difference import delta_e_2000
from tonematch.toning import core
from tonematch.toning.core import Application, Layer, Strip, Trial
from tonematch.toning.model.layer_model import LayerModel, fit_trials
from tonematch.toning.optics.film import Laid
from tonematch.toning.planning.gap import Gap, Workshop
from tonematch.toning.planning.ground import Ground
from tonematch.toning.planning.plan import plan_for
from tonematch.toning.planning.strips import choose_strips, possible_strips

Array = NDArray[np.float64]

COUNT = 12
NEAREST = 10
GILDING = core.Surface("water", "burnished")
EXACT = np.zeros((3, 3))


@dataclass(frozen=True, eq=False)
class Case:
    """A new leaf and what it should become, with the trials that there are."""

    leaf: Surface
    before: Array
    target: Array
    trials: list[Trial]

    @cached_property
    def nearest(self) -> list[tuple[list[tuple[Layer, float]], Array]]:
        """The recipes that truly come nearest, with their true CIELAB."""
        return nearest_recipes(self.leaf, self.target)


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


def chosen(case: Case) -> Sequence[Strip]:
    """The strips that tonematch chooses."""
    model = fit_trials(case.trials, {})
    return choose_strips(model, bench(), case.before, case.target, COUNT, Ground(GILDING))


def drawn(case: Case, seed: int) -> Sequence[Strip]:
    """Strips drawn from the same ones that could be made."""
    rng = np.random.default_rng(seed)
    model = fit_trials(case.trials, {})
    every = list(possible_strips(model, bench(), case.before, Ground(GILDING)))
    return [every[i] for i in rng.choice(len(every), COUNT)]


def learned(case: Case, strips: Sequence[Strip], seed: int) -> LayerModel:
    """The model once the strips are made."""
    rng = np.random.default_rng(900 + seed)
    made = [_make(rng, case.leaf, strip, f"strip {i}") for i, strip in enumerate(strips)]
    return fit_trials([*case.trials, *made], {})


def prediction_error(case: Case, model: LayerModel) -> float:
    """Mean error of predicting the recipes that truly come nearest."""
    errors = []
    for recipe, truth in case.nearest:
        lab = case.before[None]
        for layer, strength in recipe:
            lab, _ = model.predict_layer(layer, Laid.on(lab, strength, 1, GILDING), EXACT)
        errors.append(float(delta_e_2000(lab[0], truth)))
    return float(np.mean(errors))


def nearest_recipes(leaf: Surface, target: Array) -> list[tuple[list[tuple[Layer, float]], Array]]:
    """Of each two layers the best strengths; of these the ten nearest, with their true CIELAB."""
    firsts = {
        (layer.name, strength): true_after(leaf, layer.name, strength)
        for layer, strength in product(bench(), STRENGTHS)
    }
    best: dict[tuple[str, str], tuple[float, list[tuple[Layer, float]], Array]] = {}
    for first, second in permutations(bench(), 2):
        for one, two in product(STRENGTHS, STRENGTHS):
            truth = lab_of(true_after(firsts[first.name, one], second.name, two))
            far = float(np.linalg.norm(truth - target))
            key = (first.name, second.name)
            if key not in best or far < best[key][0]:
                best[key] = (far, [(first, one), (second, two)], truth)
    ranked = sorted(best.values(), key=lambda found: found[0])
    return [(recipe, truth) for _, recipe, truth in ranked[:NEAREST]]


def plan_error(case: Case, model: LayerModel) -> float:
    """How far the best plan's true result lies from the target."""
    gap = Gap(case.before, case.target, EXACT, EXACT)
    plan = plan_for(gap, Workshop(model, bench(), GILDING)).plans[0]
    toned = case.leaf
    for step in plan.steps:
        toned = true_after(toned, step.layer, step.strength, step.coats)
    return float(delta_e_2000(lab_of(toned), case.target))


def _make(rng: np.random.Generator, leaf: Surface, strip: Strip, piece: str) -> Trial:
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


def _read(rng: np.random.Generator, surface: Surface) -> Array:
    return lab_of(surface) + READING_NOISE * rng.standard_normal(3)


ERRORS = {"prediction": prediction_error, "plan": plan_error}


def main() -> None:
    """Print one line for each size of logbook and each error."""
    parser = argparse.ArgumentParser(description="Chosen strips beside random ones.")
    parser.add_argument("--cases", type=int, default=20)
    cases = parser.parse_args().cases
    print(f"{'trials':>7}  {'error of':<12}{'chosen':>8}{'random':>8}{'lower by':>10}", flush=True)
    for trials in (0, 12, 24):
        rows = []
        for seed in range(cases):
            case = make_case(seed, trials)
            models = [learned(case, some, seed) for some in (chosen(case), drawn(case, seed))]
            rows.append([[error(case, model) for model in models] for error in ERRORS.values()])
        for name, (ours, others) in zip(ERRORS, np.mean(rows, axis=0), strict=True):
            print(f"{trials:7d}  {name:<12}{ours:8.2f}{others:8.2f}{1 - ours / others:10.0%}")


if __name__ == "__main__":
    main()
