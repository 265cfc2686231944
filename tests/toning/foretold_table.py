"""Print how well layers are foretold, by kind and place, on both simulators.

Run ``python -m tests.toning.foretold_table [--workshops N] [--first SEED] [--jobs J]`` from the
root. Slow: some minutes.

After so many trials of one workshop other trials of it are foretold, on other pieces: mean
CIEDE2000 to the truth of the layer model and of the plain Gaussian process, for every kind of
layer, seals on gold apart from seals over other layers, and for what was laid in two coats; and
how many held-out readings lie in the 50 % and in the 90 % regions. On the second simulator every
seed is a workshop of its own.
"""

import argparse
from collections.abc import Iterable, Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from functools import partial
from typing import Any

import numpy as np
from numpy.typing import NDArray

from tests.toning.closed_loop import Array
from tests.toning.learning import HELD_OUT, within_regions
from tests.toning.second_workshop import second_workshop
from tests.toning.simulated import Simulated, SimulatedTrial, make_with_truth
from tests.toning.simulator import FIRST
from tonematch.measure.colour.difference import delta_e_2000
from tonematch.toning.core import SHELF_KINDS
from tonematch.toning.layers.taking_back import with_beneath
from tonematch.toning.model.layer_model import fit_trials
from tonematch.toning.validation.baselines import PlainGaussianProcess

SIZES = (20, 50, 100, 300)
PLACES = ("seal over layers", "seal on gold", *(kind for kind in SHELF_KINDS if kind != "seal"))
WAYS = ("layer model", "plain Gaussian process")


@dataclass(frozen=True, eq=False)
class Foretold:
    """Held-out trials of one workshop.

    Attributes
    ----------
    places : tuple of str, length n
    twice : ndarray of bool, shape (n,)
        Whether it was laid in two coats.
    far : ndarray, shape (2, n)
        CIEDE2000 to the truth, of each of WAYS.
    inside : ndarray of bool, shape (n, 2)
        Whether each reading lies in the 50 % and in the 90 % region.
    """

    places: tuple[str, ...]
    twice: NDArray[np.bool_]
    far: Array
    inside: NDArray[np.bool_]


def place_of(made: SimulatedTrial) -> str:
    """The kind of a layer; of a seal also what it lies on."""
    kind = made.trial.application.kind
    if kind != "seal":
        return kind
    return "seal over layers" if {*made.beneath} - {"seal", "rub"} else "seal on gold"


def foretell(size: int, seed: int, *, first: bool) -> Foretold:
    """Learn from so many trials of a workshop and foretell others, of other pieces."""
    workshop: Simulated[Any] = FIRST if first else second_workshop(seed)
    trials = [made.trial for made in make_with_truth(workshop, size, seed)]
    held = make_with_truth(workshop, HELD_OUT, 10_000 + seed)
    truth = np.array([made.true_after for made in held])
    told = with_beneath([made.trial for made in held])
    asked = [trial.application for trial in told]
    model = fit_trials(trials, workshop.layers)
    plain = PlainGaussianProcess()
    plain.fit([trial.application for trial in trials], np.array([trial.after for trial in trials]))
    far = np.array([delta_e_2000(each.predict(asked), truth) for each in (model, plain)])
    twice = np.array([application.coats == 2 for application in asked])
    return Foretold(tuple(map(place_of, held)), twice, far, within_regions(model, told))


def show(size: int, parts: Iterable[Foretold]) -> None:
    """One line for each way, with the mean of each kind of layer."""
    every = list(parts)
    places = np.concatenate([each.places for each in every])
    twice = np.concatenate([each.twice for each in every])
    far = np.concatenate([each.far for each in every], axis=1)
    half, ninety = np.mean(np.concatenate([each.inside for each in every]), axis=0)
    for way, mine in zip(WAYS, far, strict=True):
        errors = [mine.mean(), mine[twice].mean(), *(mine[places == p].mean() for p in PLACES)]
        held = f"{half:8.0%}{ninety:8.0%}" if way == WAYS[0] else ""
        print(f"{size:4d} {way:<24}" + "".join(f"{error:8.2f}" for error in errors) + held)


def main(arguments: Sequence[str] | None = None) -> None:
    """Print a table for each simulator."""
    parser = argparse.ArgumentParser(description="How well layers are foretold.")
    parser.add_argument("--workshops", type=int, default=12)
    parser.add_argument("--first", type=int, default=1000, help="the first workshop's seed")
    parser.add_argument("--jobs", type=int, default=2)
    parser.add_argument("--sizes", type=int, nargs="+", default=list(SIZES))
    chosen = parser.parse_args(arguments)
    seeds = range(chosen.first, chosen.first + chosen.workshops)
    with ProcessPoolExecutor(chosen.jobs) as pool:
        for title, first in (("first simulator", True), ("second simulator", False)):
            columns = "".join(f"{name:>8}" for name in ("all", "2 coats", *_SHORT, "50 %", "90 %"))
            print(f"\n{title}, {chosen.workshops} logbooks\n{'':<29}{columns}", flush=True)
            for size in chosen.sizes:
                show(size, pool.map(partial(foretell, size, first=first), seeds))


_SHORT = ("s.over", "s.gold", *PLACES[2:])

if __name__ == "__main__":
    main()
