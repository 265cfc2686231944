"""How well each way of predicting does on trials that it has not seen."""

from collections.abc import Iterator, Mapping, Sequence
from typing import Protocol

import numpy as np
from numpy.typing import NDArray
from sklearn.model_selection import GroupKFold

from tonematch.errors import TrialError
from tonematch.measure.difference import delta_e_2000
from tonematch.toning.baselines import MeanShift, Nearest, NoChange, PlainGaussianProcess
from tonematch.toning.core import Application, Layer, ModelCheck, Prediction, Trial
from tonematch.toning.model import fit_trials

Array = NDArray[np.float64]

MODEL = "layer model"
FEWEST_TRIALS = 4
MOST_FOLDS = 8
# 90 % of a three-variate normal lies within this squared Mahalanobis distance (chi-squared, 3).
WITHIN_90 = 6.2514


class Baseline(Protocol):
    """What a baseline must do."""

    def fit(self, X: Sequence[Application], y: Array) -> "Baseline":
        """Learn."""

    def predict(self, X: Sequence[Application]) -> Array:
        """Predict CIELAB after."""


def baselines() -> dict[str, Baseline]:
    """The named baselines, unfitted."""
    return {
        "gaussian process": PlainGaussianProcess(),
        "mean shift": MeanShift(),
        "nearest": Nearest(),
        "no change": NoChange(),
    }


def check_model(trials: Sequence[Trial], shelf: Mapping[str, Layer]) -> ModelCheck:
    """Compare the layer model with the baselines by cross-validation grouped by piece.

    Parameters
    ----------
    trials : sequence of Trial
        At least 4.
    shelf : mapping from name to Layer

    Returns
    -------
    ModelCheck

    Raises
    ------
    TrialError
        Fewer than 4 trials.
    """
    if len(trials) < FEWEST_TRIALS:
        raise TrialError(
            f"{len(trials)} trials are too few to check the model: "
            f"lay and log at least {FEWEST_TRIALS}."
        )
    errors: dict[str, list[Array]] = {}
    inside: list[bool] = []
    for learn, test in folds(trials):
        X, y = [t.application for t in test], _afters(test)
        predictions = predict_trials(learn, test, shelf)
        labs = np.array([p.lab for p in predictions])
        errors.setdefault(MODEL, []).append(delta_e_2000(labs, y))
        inside += [mahalanobis(p, t) <= WITHIN_90 for p, t in zip(predictions, test, strict=True)]
        for name, baseline in baselines().items():
            baseline.fit([t.application for t in learn], _afters(learn))
            errors.setdefault(name, []).append(delta_e_2000(baseline.predict(X), y))
    means = {name: float(np.concatenate(parts).mean()) for name, parts in errors.items()}
    return ModelCheck(len(trials), means, float(np.mean(inside)))


def predict_trials(
    learn: Sequence[Trial], test: Sequence[Trial], shelf: Mapping[str, Layer]
) -> list[Prediction]:
    """What a layer model of some trials expects of others."""
    model = fit_trials(learn, shelf)
    return [model.predict_distribution(t.application) for t in test]


def mahalanobis(prediction: Prediction, trial: Trial) -> float:
    """Squared Mahalanobis distance of a trial's reading from its prediction."""
    gap = trial.after - prediction.lab
    return float(gap @ np.linalg.solve(prediction.covariance, gap))


def folds(trials: Sequence[Trial]) -> Iterator[tuple[list[Trial], list[Trial]]]:
    """Splits that keep each piece on one side; single trials where all are of one piece."""
    pieces = [t.piece for t in trials]
    groups = pieces if len(set(pieces)) > 1 else [str(i) for i in range(len(trials))]
    splitter = GroupKFold(n_splits=min(MOST_FOLDS, len(set(groups))))
    for learn, test in splitter.split(np.zeros(len(trials)), groups=groups):
        yield [trials[i] for i in learn], [trials[i] for i in test]


def _afters(trials: Sequence[Trial]) -> Array:
    return np.array([t.after for t in trials], dtype=np.float64).reshape(-1, 3)
