"""Time to plan: up to four layers from a shelf of 40, and five plans from the demonstration.

Run ``python -m tests.benchmarks.bench_plan`` from the root with nothing else running. References in
the same run: the same number of predictions made one by one, and every recipe of two layers tried
in order, beside the search held to two layers. All trials are invented.
"""

import argparse
import subprocess
import sys
import time
from collections.abc import Callable, Sequence
from typing import TypeVar

import numpy as np
from threadpoolctl import threadpool_limits

from tests.benchmarks.bench_toning import workshop_life
from tonematch.arrays import Array
from tonematch.logbook.trial_csv import read_trials
from tonematch.swatchbook import swatch_path
from tonematch.toning.core import Application, Layer, Proposal, Surface
from tonematch.toning.layers.shelf import layers_with_trials, load_shelf
from tonematch.toning.model.layer_model import LayerModel, fit_trials
from tonematch.toning.optics.film import Laid
from tonematch.toning.planning.gap import Gap, Workshop
from tonematch.toning.planning.plan import plan_for
from tonematch.toning.planning.recipes import options_of
from tonematch.toning.planning.search import Search

T = TypeVar("T")

MOST_SECONDS, MOST_SECONDS_DEMO = 2.0, 0.5
GILDING = Surface("water", "burnished")
READING = 0.16 * np.eye(3)
BRIGHT, AGED = np.array([88.0, 7.0, 36.0]), np.array([66.0, 11.0, 30.0])
GAP = Gap(BRIGHT, AGED, READING, READING)
ONE_BY_ONE = 500
ROUNDS = 3


class Counting:
    """A layer model that counts how many predictions are asked of it."""

    def __init__(self, model: LayerModel) -> None:
        self.model = model
        self.rows = 0

        self.tried, self.reading_covariance_ = model.tried, model.reading_covariance_
        self.freedom_of = model.freedom_of

    def predict_layer(self, layer: Layer, laid: Laid, covariance: Array) -> tuple[Array, Array]:
        """The model's."""
        self.rows += len(laid)
        return self.model.predict_layer(layer, laid, covariance)


def plan(model: LayerModel | Counting, layers: Sequence[Layer], most_layers: int) -> Proposal:
    """Plans for the gap of this benchmark."""
    return plan_for(GAP, Workshop(model, layers, GILDING, most_layers=most_layers))


def one_by_one(model: LayerModel, layers: Sequence[Layer], count: int) -> None:
    """So many predictions, each for itself."""
    for n in range(count):
        layer = layers[n % len(layers)]
        application = Application(BRIGHT, layer.name, layer.kind, 0.5, 1, "water", "burnished")
        model.predict_distribution(application, READING)


def every_pair(search: Search, layers: Sequence[Layer]) -> float:
    """Lowest cost of every recipe of one or two layers that the rules allow, in order."""
    best, objective = np.inf, search.objective
    by_layer = [options_of(layer) for layer in layers]

    def lay(n: int, lab: Array, covariance: Array) -> tuple[Array, Array, Array]:
        count, mine = len(lab), by_layer[n]
        coats = np.tile([float(o.coats) for o in mine], count)
        laid = Laid.on(lab.repeat(len(mine), 0), [o.strength for o in mine] * count, coats, GILDING)
        after = search.model.predict_layer(layers[n], laid, covariance.repeat(len(mine), 0))
        return *after, objective.prices.coat * (coats - 1.0)

    for first in range(len(layers)):
        price = search.price_of((first,))
        if not np.isfinite(price):
            continue
        lab, covariance, coats = lay(first, BRIGHT[None], READING[None])
        best = min(best, float((objective.costs(lab, covariance) + coats).min()) + price)
        for second in range(len(layers)):
            both = price + search.price_of((first, second))
            if np.isfinite(both):
                end, spread, more = lay(second, lab, covariance)
                cost = objective.costs(end, spread) + np.repeat(coats, len(by_layer[second])) + more
                best = min(best, float(cost.min()) + both)
    return best


def timed(work: Callable[[], T], rounds: int = ROUNDS) -> tuple[float, T]:
    """Median wall time, and what came of it."""
    seconds = []
    for _ in range(rounds):
        start = time.perf_counter()
        result = work()
        seconds.append(time.perf_counter() - start)
    return float(np.median(seconds)), result


def bench_shelf(trials: int) -> None:
    """Four layers from a shelf of 40, and both references."""
    known = workshop_life(trials)
    kinds = {t.application.layer: t.application.kind for t in known}
    layers = [Layer(name, kind) for name, kind in kinds.items()]
    model = fit_trials(known, {})
    seconds, proposal = timed(lambda: plan(model, layers, 4))
    best = proposal.plans[0]
    print(
        f"up to four layers, shelf of {len(layers)}, {trials} trials: {seconds:.2f} s "
        f"(at most {MOST_SECONDS:g}); {len(proposal.plans)} plans, the best of {len(best.steps)} "
        f"layers, expected CIEDE2000 {best.delta_e:.2f}"
    )
    counting = Counting(model)
    plan(counting, layers, 4)
    alone, _ = timed(lambda: one_by_one(model, layers, ONE_BY_ONE), 1)
    alone *= counting.rows / ONE_BY_ONE
    print(
        f"its {counting.rows} predictions one by one: {alone:.0f} s (from {ONE_BY_ONE}), "
        f"{alone / seconds:.0f} times as long"
    )

    def search() -> Search:
        return Search(GAP, Workshop(model, layers, GILDING))

    beam, found = timed(lambda: search().run(2)[0].cost)
    every, least = timed(lambda: every_pair(search(), layers), 1)
    print(
        f"two layers: search {beam:.2f} s, cost {found:.3f}; every pair {every:.1f} s, cost "
        f"{least:.3f}; {every / beam:.0f} times as long, {found - least:+.3f} (at most +0.05)"
    )


def bench_demo() -> None:
    """Five plans for the demonstration's gap, from its trials."""
    shelf = load_shelf()
    trials = read_trials(swatch_path("demo", "trials.csv"), shelf)
    layers = layers_with_trials(trials, shelf)
    model = fit_trials(trials, shelf)
    seconds, proposal = timed(lambda: plan(model, layers, 3))
    print(
        f"demonstration, {len(trials)} trials of {len(layers)} layers: {len(proposal.plans)} plans "
        f"of up to three layers in {seconds:.2f} s (at most {MOST_SECONDS_DEMO:g})"
    )


def bench_command() -> None:
    """The same by the command line, as a person waits for it: a process from its start to end."""
    gap = ("--from", "88,7,36", "--to", "66,11,30", "--technique", "water", "--finish", "burnished")
    words = ("suggest", *gap, "--trials", str(swatch_path("demo", "trials.csv")))
    seconds, _ = timed(
        lambda: subprocess.run(
            [sys.executable, "-m", "tonematch.cli", *words], check=True, capture_output=True
        )
    )
    print(f"tonematch suggest on those trials, whole process: {seconds:.2f} s (at most 2.5)")


def main() -> None:
    """Measure and print."""
    parser = argparse.ArgumentParser(description="Time to plan.")
    parser.add_argument("--trials", type=int, default=400)
    arguments = parser.parse_args()
    # As the layer model's own fit: many small matrices, no threads that wait for each other.
    with threadpool_limits(limits=1, user_api="blas"):
        bench_shelf(arguments.trials)
        bench_demo()
    bench_command()


if __name__ == "__main__":
    main()
