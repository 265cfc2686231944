"""How well each way of predicting does on trials that it has not seen."""

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from tonematch.arrays import Array
from tonematch.errors import TrialError
from tonematch.measure.colour.difference import delta_e_2000
from tonematch.toning.core import Layer, ModelCheck, Prediction, Trial
from tonematch.toning.layers.taking_back import with_beneath
from tonematch.toning.model.fitted_layer import Memory, folds_by_piece
from tonematch.toning.model.layer_model import fit_trials
from tonematch.toning.model.mahalanobis import chance_as_far
from tonematch.toning.model.recalibration import Recalibration
from tonematch.toning.validation.baselines import MeanShift, Nearest, NoChange, PlainGaussianProcess

Shelf = Mapping[str, Layer]

MODEL = "layer model"
FEWEST_TRIALS = 4
MOST_FOLDS = 8


def baselines() -> dict[str, Any]:
    """The named baselines, unfitted; each keeps scikit-learn's contract."""
    return {
        "gaussian process": PlainGaussianProcess(),
        "mean shift": MeanShift(),
        "nearest": Nearest(),
        "no change": NoChange(),
    }


def check_model(trials: Sequence[Trial], shelf: Shelf) -> ModelCheck:
    """Compare the layer model with the baselines on trials of pieces that were left out.

    Raises TrialError for fewer than 4 trials.

    Notes
    -----
    The validation is nested: whatever a model chooses (its residual process, its recalibration), it
    chooses by leaving out pieces of its own side of the split.
    """
    if len(trials) < FEWEST_TRIALS:
        raise TrialError(
            f"{len(trials)} trials are too few to check the model: "
            f"lay and log at least {FEWEST_TRIALS}."
        )
    trials = with_beneath(trials)
    memory = Memory()  # two pieces are left out together twice: each first once
    by_piece = hold_out(folds(trials), shelf, memory=memory)
    # Of orders only the errors are told, which do not hang on how wide the regions are.
    by_order = hold_out(order_folds(trials), shelf, memory=memory, recalibration=Recalibration())
    return ModelCheck(
        len(trials),
        by_piece.means(),
        *by_piece.covered(),
        len(by_order.chances),
        by_order.means(),
    )


@dataclass(frozen=True, eq=False)
class HeldOut:
    """CIEDE2000 of each held-out trial by method, and its chance of lying as far off."""

    errors: Mapping[str, Array]
    chances: Array

    def means(self) -> dict[str, float]:
        """Mean of each method; of none where nothing was held out."""
        return {name: float(far.mean()) for name, far in self.errors.items() if len(far)}

    def covered(self) -> tuple[float, float]:
        """Share of the readings in the 50 % and in the 90 % region."""
        half, ninety = np.mean(self.chances[:, None] >= [0.5, 0.1], axis=0)
        return float(half), float(ninety)


def hold_out(
    splits: Iterable[tuple[list[Trial], list[Trial]]], shelf: Shelf, **parameters: Any
) -> HeldOut:
    """Every method fitted to one side of each split, the layer model with these parameters."""
    errors: dict[str, list[Array]] = {name: [] for name in (MODEL, *baselines())}
    chances: list[float] = []
    for learn, test in splits:
        X, y = [t.application for t in test], _afters(test)
        predictions = predict_trials(learn, test, shelf, **parameters)
        labs = np.array([p.lab for p in predictions])
        errors[MODEL].append(delta_e_2000(labs, y))
        chances += [chance_as_far(p, t.after) for p, t in zip(predictions, test, strict=True)]
        for name, baseline in baselines().items():
            baseline.fit([t.application for t in learn], _afters(learn))
            errors[name].append(delta_e_2000(baseline.predict(X), y))
    joined = {name: np.concatenate([*parts, np.empty(0)]) for name, parts in errors.items()}
    return HeldOut(joined, np.array(chances))


def predict_trials(
    learn: Sequence[Trial], test: Sequence[Trial], shelf: Shelf, **parameters: Any
) -> list[Prediction]:
    """What a layer model of some trials, with these parameters, expects of others."""
    model = fit_trials(learn, shelf, **parameters)
    return [
        model.predict_distribution(t.application, t.before_covariance, t.after_covariance)
        for t in test
    ]


def folds(trials: Sequence[Trial]) -> Iterator[tuple[list[Trial], list[Trial]]]:
    """Splits that keep each piece on one side; single trials where all are of one piece."""
    for learn, test in folds_by_piece([t.piece for t in trials], MOST_FOLDS):
        yield [trials[i] for i in learn], [trials[i] for i in test]


def order_folds(trials: Sequence[Trial]) -> Iterator[tuple[list[Trial], list[Trial]]]:
    """Splits by piece in which no order of layers is on both sides.

    An order is a layer with the one that lies directly beneath it. Only layers on layers are
    tested; every trial on bare gold may teach. A split that leaves fewer than 4 trials to learn
    from is passed over.
    """
    beneath = {id(t): under for t, under in zip(trials, layers_beneath(trials), strict=True)}

    def order(trial: Trial) -> tuple[str, str]:
        return beneath[id(trial)], trial.application.layer

    for learn, test in folds(trials):
        on_layers = [t for t in test if beneath[id(t)]]
        asked = {order(t) for t in on_layers}
        others = [t for t in learn if order(t) not in asked]
        if on_layers and len(others) >= FEWEST_TRIALS:
            yield others, on_layers


def layers_beneath(trials: Sequence[Trial]) -> list[str]:
    """The layer on which each trial was laid; empty where it lies on gold or nobody knows.

    A trial lies on the last one of its piece and zone where its step is the next.
    """
    names, last = [], dict[str, Trial]()
    for trial in trials:
        under = last.get(trial.where, trial)
        names.append(under.application.layer if trial.follows(under) else "")
        last[trial.where] = trial
    return names


def _afters(trials: Sequence[Trial]) -> Array:
    return np.array([t.after for t in trials], dtype=np.float64).reshape(-1, 3)
