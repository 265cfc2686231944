"""Trials that look mistyped: which row, and which slip of the pen would explain it.

Each trial is held against a model of the others. Where that is strange, each slip that people make
is undone in turn; the trial is an outlier when the mended ones together are likelier than the trial
as it stands, counting how rare slips are. Honest odd trials happen too: distances are weighed by
Student's t, not by the normal distribution.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
import scipy

from tonematch.measure.words import plain_lab
from tonematch.toning.core import Application, Trial
from tonematch.toning.layers.taking_back import with_beneath
from tonematch.toning.model.layer_model import LayerModel
from tonematch.toning.model.mahalanobis import squared_distance
from tonematch.toning.validation.neighbours import Neighbours, Surfaces, tail
from tonematch.toning.validation.slips import reading_slips, slips

# All choices of this project, found on simulated logbooks, no source.
# Squared distance from which a trial is looked at closely.
LOOKED_AT = float(scipy.special.chdtri(3.0, 0.02))
LEAST_LOOKED_AT, MOST_LOOKED_AT = 0.1, 0.3  # shares of the trials
UNEXPLAINED = 100.0  # squared distance from which a trial is an outlier though no slip explains it
# Deviation of the logarithm of a strength beyond those that the shelf says are mixed.
BEYOND_SHELF = 0.25


@dataclass(frozen=True, eq=False)
class Outlier:
    """A trial that the others speak against: `index` counts from 0, the sentence from 1.

    `slip` says what looks wrong; `strangeness` is the squared Mahalanobis distance from what a
    model of the other trials expects, 3 on average; `mended` has the likeliest slip undone, and is
    None where no slip explains it.
    """

    index: int
    trial: Trial
    slip: str
    strangeness: float
    mended: Trial | None = None

    @property
    def words(self) -> str:
        """The layer, what looks wrong, and what to do."""
        place = f" on {self.trial.where}" if self.trial.piece else ""
        return (
            f"{self.trial.application.layer}{place}: {self.slip}; put it right, or leave it out of "
            "what the model learns from."
        )

    @property
    def sentence(self) -> str:
        """The same with the row."""
        return f"Row {self.index + 1}: {self.words}"


def find_outliers(model: LayerModel, trials: Sequence[Trial]) -> list[Outlier]:
    """Trials that look mistyped, the strangest first, by a model of just these, in this order."""
    if not trials:
        return []
    trials = with_beneath(trials)
    surfaces, noise = Surfaces.of(trials), float(np.sqrt(model.reading_covariance_[0, 0]))
    # Two golds that are toned in turn stand between each other's rows.
    order = sorted(range(len(trials)), key=lambda i: trials[i].where)
    in_line = [trials[i] for i in order]
    beside = {i: Neighbours.of(at, in_line, surfaces, noise) for at, i in enumerate(order)}
    around = [beside[i] for i in range(len(trials))]
    suspects = _suspects(model, trials, around)
    others = [trial for i, trial in enumerate(trials) if i not in suspects]
    judge = replace(model, recalibration=model.recalibration_, memory=model.memory_).fit(
        [t.application for t in others],
        np.array([t.after for t in others]),
        [t.piece for t in others],
        readings=[(t.before_covariance, t.after_covariance) for t in others],
    )
    found = [_outlier(i, trials[i], judge, around[i]) for i in suspects]
    return sorted(filter(None, found), key=lambda outlier: -outlier.strangeness)


def _suspects(
    model: LayerModel, trials: Sequence[Trial], around: Sequence[Neighbours]
) -> list[int]:
    """Indices of the trials that are looked at closely."""
    together = list(zip(trials, around, strict=True))
    strange = np.zeros(len(trials))
    for name, known in model.layers_.items():
        strange[model.trials_[name].places] = known.strangeness
    unusual = [float(here.surfaces.distance(t.application.before)) for t, here in together]
    loose = [_hangs_loose(t, here) for t, here in together]
    odd = [_odd_strength(t.application, model) for t in trials]
    score = np.maximum(strange, np.max([unusual, loose, odd], axis=0))
    least, most = (int(np.ceil(s * len(trials))) for s in (LEAST_LOOKED_AT, MOST_LOOKED_AT))
    looked_at = int(np.clip(np.sum(score > LOOKED_AT), least, most))
    return [int(i) for i in np.argsort(-score, kind="stable")[:looked_at]]


def _outlier(index: int, trial: Trial, judge: LayerModel, around: Neighbours) -> Outlier | None:
    strangeness, as_it_stands = _unlikely(trial, judge, around)
    undone = list(slips(trial, judge))
    slipped = np.array(
        [_unlikely(s.mended, judge, around)[1] - 2.0 * np.log(s.odds) for s in undone]
    )
    if -2.0 * scipy.special.logsumexp(-slipped / 2.0) < as_it_stands:
        likeliest = undone[int(slipped.argmin())]
        said, mended = likeliest.words, likeliest.mended
    elif strangeness > UNEXPLAINED:
        expected = judge.predict_distribution(trial.application).lab
        speak_for = f"where the other trials speak for {plain_lab(expected)}"
        said = f"reads {plain_lab(trial.after)} after, {speak_for}"
        mended = None
    else:
        return None
    return Outlier(index, trial, said, strangeness, mended)


def _unlikely(trial: Trial, judge: LayerModel, around: Neighbours) -> tuple[float, float]:
    """Squared distance from the prediction, and twice the negative log density, to a constant."""
    expected = judge.predict_distribution(trial.application)
    away = float(squared_distance(trial.after - expected.lab, expected.covariance))
    odd = _odd_strength(trial.application, judge)
    wide = float(np.linalg.slogdet(expected.covariance)[1])
    beside = around.unlikely(trial.application.before, trial.after)
    return away, wide + tail(away) + beside + tail(odd)


def _hangs_loose(trial: Trial, around: Neighbours) -> float:
    """By how much better the readings would go with the rows around, were one slip undone."""
    mended = [slip.mended for slip in reading_slips(trial)]
    least = min(around.unlikely(t.application.before, t.after) for t in mended)
    return around.unlikely(trial.application.before, trial.after) - least


def _odd_strength(a: Application, model: LayerModel) -> float:
    """Squared distance of a strength from those that are mixed of its layer."""
    mixed = model.entry(a.layer, a.kind).strengths
    beyond = max(a.strength / mixed[-1], mixed[0] / a.strength, 1.0)
    return float((np.log(beyond) / BEYOND_SHELF) ** 2)
