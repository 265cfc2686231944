"""Print how many mistyped trials are pointed out, by the slip, and what they do to the model.

Run ``python -m tests.toning.doubts_table [--slips N] [--seed S]`` from the root. Slow: minutes.

In a logbook of 60 trials one row at a time is mistyped. It is found when its row is pointed out,
and named when the mended trial is the one that was meant. Nobody can find a slip that says nothing
wrong (before and after of a clear seal in each other's columns): those that do are counted apart,
a row whose reading after lies more than 2 CIEDE2000 from what the honest trials foretell for what
it says was laid. Then how far, in CIEDE2000, the slip moves what the model says of every other
trial, on average and in the worst tenth of the slips. Last, how many honest rows are pointed out.
"""

import argparse
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from functools import partial

import numpy as np

from tests.toning.learning import demo_trials
from tests.toning.simulator import make_trials
from tonematch.measure.colour.difference import delta_e_2000
from tonematch.toning.core import Trial
from tonematch.toning.layers.shelf import load_shelf
from tonematch.toning.model.layer_model import fit_trials
from tonematch.toning.validation.outliers import find_outliers

WRONG = 2.0
"""From how far off, in CIEDE2000, a mistyped row says something wrong: the default tolerance."""

Slip = Callable[[Trial, np.random.Generator, Sequence[Trial]], Trial]


def swapped(trial: Trial, *_: object) -> Trial:
    """Before and after in each other's columns."""
    a = trial.application
    return replace(trial, application=replace(a, before=trial.after), after=a.before)


def hues_swapped(trial: Trial, *_: object) -> Trial:
    """a* and b* after in each other's columns."""
    return replace(trial, after=trial.after[[0, 2, 1]])


def ten_times(trial: Trial, *_: object) -> Trial:
    """The point of the strength slipped to the right."""
    a = trial.application
    return replace(trial, application=replace(a, strength=10.0 * a.strength))


def a_tenth(trial: Trial, *_: object) -> Trial:
    """The point of the strength slipped to the left."""
    a = trial.application
    return replace(trial, application=replace(a, strength=0.1 * a.strength))


def tens_of_lightness(trial: Trial, *_: object) -> Trial:
    """A wrong ten in L* after."""
    return replace(trial, after=trial.after - np.array([10.0, 0.0, 0.0]))


def other_layer(trial: Trial, rng: np.random.Generator, trials: Sequence[Trial]) -> Trial:
    """Another layer's name."""
    a = trial.application
    others = [t.application for t in trials if t.application.layer != a.layer]
    other = others[int(rng.integers(len(others)))]
    return replace(trial, application=replace(a, layer=other.layer, kind=other.kind))


SLIPS: tuple[Slip, ...] = (
    swapped, hues_swapped, ten_times, a_tenth, tens_of_lightness, other_layer
)  # fmt: skip


def same(one: Trial, other: Trial) -> bool:
    """Whether two trials say the same."""
    a, b = one.application, other.application
    return (
        a.layer == b.layer
        and bool(np.isclose(a.strength, b.strength))
        and bool(np.allclose(a.before, b.before))
        and bool(np.allclose(one.after, other.after))
    )


@dataclass(frozen=True)
class Tried:
    """What became of one slip; `wrong` and `moved` in CIEDE2000."""

    found: bool
    named: bool
    wrong: float
    moved: float


def try_slip(clean: Sequence[Trial], row: int, slip: Slip, seed: int) -> Tried:
    """Mistype one row, and see whether it is pointed out and what it does to the model."""
    shelf = load_shelf()
    trials = list(clean)
    trials[row] = slip(clean[row], np.random.default_rng(seed), clean)
    model = fit_trials(trials, shelf)
    doubt = next((d for d in find_outliers(model, trials) if d.index == row), None)
    others = [t.application for n, t in enumerate(clean) if n != row]
    honest = fit_trials(clean, shelf)
    moved = delta_e_2000(model.predict(others), honest.predict(others))
    wrong = delta_e_2000(honest.predict([trials[row].application])[0], trials[row].after)
    mended = doubt is not None and doubt.mended is not None and same(doubt.mended, clean[row])
    return Tried(doubt is not None, mended, float(wrong), float(moved.mean()))


def show(slip: Slip, tried: Sequence[Tried]) -> None:
    """Print one line."""
    found = np.mean([one.found for one in tried])
    named = np.mean([one.named for one in tried])
    wrong = [one.found for one in tried if one.wrong > WRONG]
    moved = np.array([one.moved for one in tried])
    print(
        f"{slip.__name__.replace('_', ' '):>20}{found:8.0%}{named:8.0%}"
        f"{f'{sum(wrong)} of {len(wrong)}':>16}{moved.mean():8.2f}{np.quantile(moved, 0.9):13.2f}",
        flush=True,
    )


def in_vain(logbook: Sequence[Trial]) -> int:
    """How many rows of an honest logbook are pointed out."""
    return len(find_outliers(fit_trials(logbook, load_shelf()), logbook))


def _demo(_: int) -> list[Trial]:
    return demo_trials()


def main() -> None:
    """Print both tables."""
    parser = argparse.ArgumentParser(description="Mistyped trials.")
    parser.add_argument("--slips", type=int, default=30)
    parser.add_argument("--seed", type=int, default=0)
    arguments = parser.parse_args()
    logbooks: dict[str, Callable[[int], list[Trial]]] = {
        "demonstration": _demo,
        "simulated workshop": partial(make_trials, 60),
    }
    for title, logbook in logbooks.items():
        print(f"\n{title}\n{'slip':>20}{'found':>8}{'named':>8}{'of wrong ones':>16}", end="")
        print(f"{'moved':>8}{'worst tenth':>13}")
        for slip in SLIPS:
            tried = []
            for n in range(arguments.slips):
                seed = arguments.seed + n
                clean = logbook(seed)
                row = int(np.random.default_rng(seed).integers(len(clean)))
                tried.append(try_slip(clean, row, slip, seed))
            show(slip, tried)
        honest = [
            logbook(arguments.seed + n) for n in range(1 if logbook is _demo else arguments.slips)
        ]
        rows = sum(map(len, honest))
        print(f"{'no slip':>20}  {sum(map(in_vain, honest))} of {rows} rows pointed out in vain")


if __name__ == "__main__":
    main()
