"""Print how well lustre is foretold on pieces held out.

Run ``python -m tests.toning.lustre_table [--seeds N] [--first SEED]`` from the root. Simulated
lustre trials of ten layers (`gleams.py`), beside two plain ways: nothing changes, and the layer's
mean change so far (that of all layers where it has no trial).
"""

import argparse
from collections.abc import Mapping
from dataclasses import dataclass
from itertools import groupby

import numpy as np

from tests.toning.gleams import gleaming_shelf, make_lustre_trials
from tonematch.toning.core import Coat, Layer, Trial
from tonematch.toning.model.lustre import learn_lustre
from tonematch.toning.model.lustre_law import LustrePrediction

HELD_OUT = 60


@dataclass(frozen=True)
class LustreErrors:
    """Mean absolute errors in stops, and the share of readings inside their 95 % interval.

    `end_coverage` is that of the last readings of pieces, foretold from the first through all
    layers between.
    """

    model: float
    no_change: float
    mean_change: float
    coverage: float
    end_coverage: float


def held_out_errors(size: int, seeds: range) -> LustreErrors:
    """Learn from `size` trials of each seed, and foretell sixty on other pieces."""
    shelf = gleaming_shelf()
    rows, ends = [], []
    for seed in seeds:
        known = make_lustre_trials(size, seed)
        model = learn_lustre(known, shelf)
        held_out = make_lustre_trials(HELD_OUT, 10_000 + seed)
        for _, strip in groupby(held_out, key=lambda trial: trial.piece):
            laid = list(strip)
            coats = [_coat(trial, shelf) for trial in laid]
            low, high = model.predict(LustrePrediction(_lustres(laid[0])[0], 0.0), coats)[
                -1
            ].interval
            ends.append(low <= _lustres(laid[-1])[1] <= high)
        for trial in held_out:
            before, after = _lustres(trial)
            (found,) = model.predict(LustrePrediction(before, 0.0), [_coat(trial, shelf)])
            low, high = found.interval
            plain = before + _mean_change(known, trial.application.layer)
            rows.append(
                [abs(found.stops - after), abs(before - after), abs(plain - after),
                 low <= after <= high]
            )  # fmt: skip
    ours, none, mean, inside = (float(value) for value in np.mean(rows, axis=0))
    return LustreErrors(ours, none, mean, inside, float(np.mean(ends)))


def _coat(trial: Trial, shelf: Mapping[str, Layer]) -> Coat:
    a = trial.application
    return Coat(shelf[a.layer], a.strength, a.coats)


def _mean_change(known: list[Trial], layer: str) -> float:
    changes = {t: _lustres(t)[1] - _lustres(t)[0] for t in known}
    own = [change for t, change in changes.items() if t.application.layer == layer]
    return float(np.mean(own or list(changes.values())))


def _lustres(trial: Trial) -> tuple[float, float]:
    assert trial.before_lustre is not None
    assert trial.after_lustre is not None
    return trial.before_lustre, trial.after_lustre


def main() -> None:
    """Print the table."""
    parser = argparse.ArgumentParser(description="How well lustre is foretold.")
    parser.add_argument("--seeds", type=int, default=20)
    parser.add_argument("--first", type=int, default=0, help="the first seed")
    arguments = parser.parse_args()
    seeds = range(arguments.first, arguments.first + arguments.seeds)
    print("trials  model  no change  mean change  inside 95 %  ends of pieces")
    for trials in (12, 30, 60):
        e = held_out_errors(trials, seeds)
        print(
            f"{trials:6d}{e.model:7.3f}{e.no_change:11.3f}{e.mean_change:13.3f}"
            f"{100 * e.coverage:11.1f} %{100 * e.end_coverage:14.1f} %"
        )


if __name__ == "__main__":
    main()
