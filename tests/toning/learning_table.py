"""Print how well the layer model learns, beside its baselines.

Run ``python -m tests.toning.learning_table [--seeds N] [--first SEED]`` from the root. Slow: some
minutes.
"""

import argparse
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from tests.toning.learning import (
    NO_OVERPRINTS,
    OVERPRINTS,
    Learned,
    check_part,
    demo_trials,
    invented_trials,
    learn_simulated,
    learn_table,
    overprints,
    ratio_to_best,
    together,
)
from tests.toning.simulator import make_trials
from tonematch.toning.core import Trial
from tonematch.toning.layers.shelf import load_shelf
from tonematch.toning.validation.held_out import MODEL, HeldOut, check_model

RESAMPLED = 4000
METHODS = ("layer model", "gaussian process", "mean shift", "nearest", "no change")


@dataclass(frozen=True)
class Row:
    """One line of a table.

    `goal` is the greatest error of the layer model, where one is set; `interval` the 95 % interval
    of the ratio to the best baseline, see `checked`.
    """

    n: int
    errors: Mapping[str, float]
    covered: str
    goal: float | None = None
    interval: tuple[float, float] | None = None


def main() -> None:
    """Print the tables."""
    parser = argparse.ArgumentParser(description="How well layers are learned.")
    parser.add_argument("--seeds", type=int, default=5)
    parser.add_argument("--first", type=int, default=0, help="the first seed")
    arguments = parser.parse_args()
    seeds = range(arguments.first, arguments.first + arguments.seeds)
    show("Simulator: CIEDE2000 to the truth, other pieces", simulated(seeds))
    if OVERPRINTS.exists():
        trials = overprints()
        show("Overprints: CIEDE2000 of the rows left out", split(trials, seeds))
        show("Overprints: check_model", checked(trials, (12, 24, 48, 96, 140, len(trials)), seeds))
    else:
        print(f"\nOverprints: {NO_OVERPRINTS}.")
    trials = demo_trials()
    show("Demonstration: check_model", checked(trials, (12, 24, 36, 48, len(trials)), seeds))
    show("Logbooks invented like it, with other hands: check_model", [invented(seeds)])
    show("Demonstration: orders of layers never seen", [in_new_orders(trials)])
    simulated_orders = (in_new_orders(make_trials(100, seed)) for seed in seeds)
    show("Simulator: orders of layers never seen", simulated_orders)


def simulated(seeds: Sequence[int]) -> Iterable[Row]:
    """Rows for 20, 50, 100 and 300 trials of ten layers."""
    for n, goal in ((20, 3.5), (50, 1.7), (100, 1.3), (300, 1.15)):
        yield _row(n, together(learn_simulated(n, seed) for seed in seeds), goal)


def split(trials: Sequence[Trial], seeds: Sequence[int]) -> Iterable[Row]:
    """Rows for 24 and 96 random trials of a table."""
    for n, goal in ((24, 4.0), (96, 1.3)):
        yield _row(n, together(learn_table(trials, n, seed) for seed in seeds), goal)


def checked(trials: Sequence[Trial], sizes: Sequence[int], seeds: Sequence[int]) -> Iterable[Row]:
    """Rows of cross-validation on parts of a table, one for each size: means over seeds.

    The interval of the ratio is by bootstrap over the parts, which share rows: of another table it
    would be wider. Of the whole table, which is one part, it is over its trials.
    """
    for n in sizes:
        parts = [check_part(trials, n, seed) for seed in (seeds if n < len(trials) else seeds[:1])]
        half, ninety = np.mean([part.covered() for part in parts], axis=0)
        errors = {name: float(np.mean([part.means()[name] for part in parts])) for name in METHODS}
        yield Row(n, errors, f"{half:5.0%} {ninety:6.0%}", interval=_interval(parts, errors))


def invented(seeds: Sequence[int]) -> Row:
    """A row for all logbooks together that the demonstration's script makes of these seeds."""
    checks = [check_model(invented_trials(seed), load_shelf()) for seed in seeds]
    half, ninety = np.mean([[c.coverage_50, c.coverage_90] for c in checks], axis=0)
    errors = {name: float(np.mean([c.mean_delta_e_2000[name] for c in checks])) for name in METHODS}
    return Row(sum(c.trials for c in checks), errors, f"{half:5.0%} {ninety:6.0%}")


def in_new_orders(trials: Sequence[Trial]) -> Row:
    """A row for the trials whose layer lies on a layer as no trial did that was learned from."""
    check = check_model(trials, load_shelf())
    return Row(check.in_new_orders, check.in_new_orders_delta_e_2000, "   -       -")


def show(title: str, rows: Iterable[Row]) -> None:
    """Print one table."""
    print(f"\n{title}\n{'n':>4}" + "".join(f"{name:>18}" for name in METHODS), end="")
    print(f"{'ratio to best':>15}  in 50 % in 90 %")
    for row in rows:
        errors = "".join(f"{row.errors[name]:18.2f}" for name in METHODS)
        goal = f"  (at most {row.goal})" if row.goal is not None else ""
        ratio = ratio_to_best(dict(row.errors))
        low_to_high = (
            f"  ratio {row.interval[0]:.2f} to {row.interval[1]:.2f}" if row.interval else ""
        )
        print(f"{row.n:4d}{errors}{ratio:15.2f}  {row.covered}{goal}{low_to_high}", flush=True)


def _interval(parts: Sequence[HeldOut], errors: Mapping[str, float]) -> tuple[float, float]:
    best = min(errors.keys() - {MODEL}, key=errors.__getitem__)
    far = np.array([[part.errors[name] for name in (MODEL, best)] for part in parts])
    each = far[0].T if len(parts) == 1 else far.mean(axis=2)
    drawn = np.random.default_rng(0).integers(len(each), size=(RESAMPLED, len(each)))
    mine, its = each[drawn].mean(axis=1).T
    low, high = np.quantile(mine / its, [0.025, 0.975])
    return float(low), float(high)


def _row(n: int, learned: Learned, goal: float) -> Row:
    half, ninety = np.mean(learned.inside, axis=0)
    return Row(n, learned.errors, f"{half:5.0%} {ninety:6.0%}", goal)


if __name__ == "__main__":
    main()
