"""How fast the layer model and its baselines learn: on the simulator and on tables of trials."""

import csv
import io
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from tests.demonstration.make_trials import COLUMNS, PIECES, make_rows
from tests.toning.simulator import make_trials, make_with_truth
from tonematch.logbook.trial_csv import read_trials
from tonematch.measure.colour.difference import delta_e_2000
from tonematch.swatchbook import swatch_path
from tonematch.toning.core import Trial
from tonematch.toning.layers.shelf import load_shelf
from tonematch.toning.layers.taking_back import with_beneath
from tonematch.toning.model.fitted_layer import Memory
from tonematch.toning.model.layer_model import LayerModel, fit_trials
from tonematch.toning.model.mahalanobis import chance_as_far
from tonematch.toning.validation.held_out import MODEL, HeldOut, baselines, folds, hold_out

Array = NDArray[np.float64]

OVERPRINTS = Path(__file__).parents[3] / "shared" / "trials" / "overprints.csv"
NO_OVERPRINTS = "needs ../shared/trials/overprints.csv, which is not part of the project"
DEMO = swatch_path("demo", "trials.csv")
HELD_OUT = 200


@dataclass(frozen=True, eq=False)
class Learned:
    """Mean CIEDE2000 of each method on held-out trials, and the layer model's coverage.

    Attributes
    ----------
    errors : mapping from method to float
    inside : ndarray, shape (m, 2)
        Whether each held-out reading lies in the 50 % and in the 90 % region.
    """

    errors: dict[str, float]
    inside: NDArray[np.bool_]


def within_regions(model: LayerModel, trials: Sequence[Trial]) -> NDArray[np.bool_]:
    """Whether each reading lies in the 50 % and 90 % region of its prediction, shape (n, 2)."""
    chances = [chance_as_far(model.predict_distribution(t.application), t.after) for t in trials]
    return np.asarray(np.array(chances)[:, None] >= [0.5, 0.1])


def learn(trials: Sequence[Trial], test: Sequence[Trial], truth: Array) -> Learned:
    """Fit every method to some trials and hold it against the truth of others."""
    model, test = fit_trials(trials, load_shelf()), with_beneath(test)
    X = [t.application for t in test]
    errors = {MODEL: float(delta_e_2000(model.predict(X), truth).mean())}
    after = np.array([t.after for t in trials])
    for name, baseline in baselines().items():
        baseline.fit([t.application for t in trials], after)
        errors[name] = float(delta_e_2000(baseline.predict(X), truth).mean())
    return Learned(errors, within_regions(model, test))


def learn_simulated(n: int, seed: int) -> Learned:
    """Learn from n simulated trials; held out are other pieces of the same workshop."""
    held = make_with_truth(HELD_OUT, 10_000 + seed)
    truth = np.array([made.true_after for made in held])
    return learn(make_trials(n, seed), [made.trial for made in held], truth)


def learn_table(trials: Sequence[Trial], n: int, seed: int) -> Learned:
    """Learn from n random rows of a table; the others are held out."""
    order = np.random.default_rng(seed).permutation(len(trials))
    test = [trials[i] for i in order[n:]]
    return learn([trials[i] for i in order[:n]], test, np.array([t.after for t in test]))


def check_part(trials: Sequence[Trial], n: int, seed: int) -> HeldOut:
    """Pieces left out in turn, as `check_model` does, of n random rows of a table."""
    order = np.random.default_rng(seed).permutation(len(trials))[:n]
    part = with_beneath([trials[i] for i in sorted(order)])
    return hold_out(folds(part), load_shelf(), memory=Memory())


def together(parts: Iterable[Learned]) -> Learned:
    """Mean of several runs."""
    runs = list(parts)
    errors = {name: float(np.mean([run.errors[name] for run in runs])) for name in runs[0].errors}
    return Learned(errors, np.concatenate([run.inside for run in runs]))


def ratio_to_best(errors: dict[str, float]) -> float:
    """The layer model's error over that of the best baseline."""
    return errors[MODEL] / min(value for name, value in errors.items() if name != MODEL)


def overprints() -> list[Trial]:
    """The measured overprints, which nobody here invented."""
    return read_trials(OVERPRINTS, load_shelf())


def demo_trials() -> list[Trial]:
    """The invented trials that ship with tonematch."""
    return read_trials(DEMO, load_shelf())


def invented_trials(seed: int) -> list[Trial]:
    """Trials that the script of the demonstration's makes with another seed: other hands."""
    text = io.StringIO(newline="")
    writer = csv.writer(text)
    writer.writerow(COLUMNS)
    writer.writerows(make_rows(PIECES, seed))
    text.seek(0)
    return read_trials(text, load_shelf())
