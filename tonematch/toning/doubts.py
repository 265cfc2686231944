"""Trials that look mistyped: which row, and which slip of the pen would explain it.

Each trial is held against a model of the others. Where that is strange, each slip that people make
is undone in turn; the slip is named when the trial so mended is likelier than the trial as it
stands, counting how rare slips are. Honest odd trials happen too: distances are weighed by
Student's t, not by the normal distribution.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray
from scipy.stats import chi2
from sklearn.base import clone

from tonematch.toning.core import Application, Trial, Vector3
from tonematch.toning.model import LayerModel

Array = NDArray[np.float64]

# All choices of this project, found on simulated logbooks, no source.
FREEDOM = 4.0  # degrees of freedom of Student's t
SLIP_ODDS = 1.0 / 200.0  # how often each kind of slip is made
LOOKED_AT = float(chi2.ppf(0.98, 3))  # squared distance from which a trial is looked at closely
MOST_LOOKED_AT = 0.3  # share of the trials
UNEXPLAINED = 100.0  # squared distance from which a trial is doubted though no slip explains it
FACTORS = (10.0, 0.1, 100.0, 0.01)  # by which the point of a strength slips
LIKELY_STRENGTHS = (0.02, 3.0)
TENS = (10.0, -10.0, 20.0, -20.0, 30.0, -30.0)
# Least deviation of L*, a*, b* of the surfaces that a logbook holds.
SURFACES = np.array([12.0, 4.0, 12.0])
# Deviation of the logarithm of a strength beyond those that the shelf says are mixed.
BEYOND_SHELF = 0.25


@dataclass(frozen=True, eq=False)
class Doubt:
    """A trial that the others speak against.

    Attributes
    ----------
    index : int
        Place in the sequence of trials, from 0; the sentence counts rows from 1.
    trial : Trial
        As it stands.
    words : str
        The layer, what looks wrong, and what to do.
    strangeness : float
        Squared Mahalanobis distance from what a model of the other trials expects; 3 on average.
    mended : Trial or None
        With the likeliest slip undone; None where no slip explains it.
    """

    index: int
    trial: Trial
    words: str
    strangeness: float
    mended: Trial | None = None

    @property
    def sentence(self) -> str:
        """The same with the row."""
        return f"Row {self.index + 1}: {self.words}"


@dataclass(frozen=True, eq=False)
class _Slip:
    """A trial with one slip undone; `share` is how often just this slip is made."""

    words: str
    mended: Trial
    share: float


def find_doubts(model: LayerModel, trials: Sequence[Trial]) -> list[Doubt]:
    """Point out the trials that look mistyped.

    Parameters
    ----------
    model : LayerModel
        Fitted to just these trials, in this order.
    trials : sequence of Trial

    Returns
    -------
    list of Doubt
        The strangest first.
    """
    if not trials:
        return []
    surfaces = _Surfaces.of(trials)
    suspects = _suspects(model, trials, surfaces)
    others = [trial for i, trial in enumerate(trials) if i not in suspects]
    judge = clone(model).fit(
        [t.application for t in others],
        np.array([t.after for t in others]),
        [t.piece for t in others],
    )
    found = [_doubt(i, trials[i], judge, surfaces) for i in suspects]
    return sorted(filter(None, found), key=lambda doubt: -doubt.strangeness)


@dataclass(frozen=True, eq=False)
class _Surfaces:
    """Where in CIELAB the surfaces of this logbook lie, the odd ones hardly counted."""

    centre: Vector3
    width: Vector3

    @classmethod
    def of(cls, trials: Sequence[Trial]) -> "_Surfaces":
        before = np.array([t.application.before for t in trials])
        centre = np.median(before, axis=0)
        # 1.4826 times the median distance is the standard deviation of a normal distribution.
        width = 1.4826 * np.median(np.abs(before - centre), axis=0)
        return cls(centre, np.maximum(width, SURFACES))

    def distance(self, lab: Array) -> Array:
        """Squared distance from the middle, shape (...)."""
        return np.asarray((((lab - self.centre) / self.width) ** 2).sum(axis=-1))


def _suspects(model: LayerModel, trials: Sequence[Trial], surfaces: _Surfaces) -> list[int]:
    """Indices of the trials that are looked at closely."""
    strange = np.zeros(len(trials))
    for name, known in model.layers_.items():
        at = np.array([i for i, t in enumerate(trials) if t.application.layer == name])
        rows = np.arange(len(at)) if known.remainder is None else known.remainder.rows
        # A process on top of the law may have learned the slips: the law is asked as well.
        strange[at[rows]] = np.maximum(known.strangeness, known.fit.strangeness[rows])
    unusual = surfaces.distance(np.array([t.application.before for t in trials]))
    odd = np.array([_odd_strength(trial.application, model) for trial in trials])
    score = np.maximum.reduce([strange / model.widening_, unusual, odd])
    order = np.argsort(-score, kind="stable")[: int(np.ceil(MOST_LOOKED_AT * len(trials)))]
    return [int(i) for i in order if score[i] > LOOKED_AT]


def _doubt(index: int, trial: Trial, judge: LayerModel, surfaces: _Surfaces) -> Doubt | None:
    strangeness, as_it_stands = _unlikely(trial, judge, surfaces)
    slips = list(_slips(trial, judge))
    costs = [_unlikely(s.mended, judge, surfaces)[1] - 2.0 * np.log(s.share) for s in slips]
    best = int(np.argmin(costs))
    if costs[best] < as_it_stands:
        said, mended = slips[best].words, slips[best].mended
    elif strangeness > UNEXPLAINED:
        expected = judge.predict_distribution(trial.application).lab
        said = f"reads {_lab(trial.after)} after, where the other trials speak for {_lab(expected)}"
        mended = None
    else:
        return None
    a = trial.application
    place = f" on {trial.piece}" if trial.piece else ""
    words = (
        f"{a.layer}{place}: {said}; put it right, or leave it out of what the model learns from."
    )
    return Doubt(index, trial, words, strangeness, mended)


def _unlikely(trial: Trial, judge: LayerModel, surfaces: _Surfaces) -> tuple[float, float]:
    """Squared distance from the prediction, and twice the negative log density, to a constant."""
    expected = judge.predict_distribution(trial.application)
    gap = trial.after - expected.lab
    away = float(gap @ np.linalg.solve(expected.covariance, gap))
    unusual = float(surfaces.distance(trial.application.before))
    odd = _odd_strength(trial.application, judge)
    wide = float(np.linalg.slogdet(expected.covariance)[1])
    return away, wide + _tail(away) + _tail(unusual) + _tail(odd)


def _odd_strength(a: Application, model: LayerModel) -> float:
    """Squared distance of a strength from those that are mixed of its layer."""
    mixed = model.entry(a.layer, a.kind).strengths
    beyond = max(a.strength / mixed[-1], mixed[0] / a.strength, 1.0)
    return float((np.log(beyond) / BEYOND_SHELF) ** 2)


def _tail(squared: float) -> float:
    return float((FREEDOM + 3.0) * np.log1p(squared / FREEDOM))


def _slips(trial: Trial, judge: LayerModel) -> Iterator[_Slip]:
    """Every slip that may have made this row, undone."""
    a = trial.application
    yield _Slip(
        "before and after look swapped",
        replace(trial, application=replace(a, before=trial.after), after=a.before),
        SLIP_ODDS,
    )
    yield from _strength_slips(trial)
    yield from _reading_slips(trial)
    others = [(n, known) for n, known in judge.layers_.items() if n != a.layer]
    for name, known in others:
        # A layer that the shelf does not know has trials: the model goes by them, not by its kind.
        acted = replace(a, layer=name, kind=judge.entry(name, a.kind).kind)
        if known.trials:
            yield _Slip(
                f"it acted like {name}: was that the layer",
                replace(trial, application=acted),
                SLIP_ODDS / len(others),
            )


def _strength_slips(trial: Trial) -> Iterator[_Slip]:
    a = trial.application
    low, high = LIKELY_STRENGTHS
    for factor in FACTORS:
        strength = float(f"{a.strength * factor:.6g}")
        if low <= strength <= high:
            yield _Slip(
                f"strength {a.strength:g} looks like a slip for {strength:g}",
                replace(trial, application=replace(a, strength=strength)),
                SLIP_ODDS / len(FACTORS),
            )


def _reading_slips(trial: Trial) -> Iterator[_Slip]:
    """a* and b* swapped, and L* wrong by tens, in the reading before, after, or in both."""
    before, after = trial.application.before, trial.after
    swap = [0, 2, 1]
    for words, new_before, new_after in (
        ("of the reading before", before[swap], after),
        ("of the reading after", before, after[swap]),
        ("of both readings", before[swap], after[swap]),
    ):
        mended = _reread(trial, new_before, new_after)
        yield _Slip(f"a* and b* {words} look swapped", mended, SLIP_ODDS / 3.0)
    share = SLIP_ODDS / (2 * len(TENS))
    for ten in TENS:
        shift = np.array([ten, 0.0, 0.0])
        for when, lab in (("before", before), ("after", after)):
            if 0.0 <= lab[0] + ten <= 100.0:
                words = f"L* {when} of {lab[0]:.4g} looks like a slip for {lab[0] + ten:.4g}"
                one, other = (shift, 0.0) if when == "before" else (0.0, shift)
                yield _Slip(words, _reread(trial, before + one, after + other), share)


def _reread(trial: Trial, before: Vector3, after: Vector3) -> Trial:
    return replace(trial, application=replace(trial.application, before=before), after=after)


def _lab(lab: Vector3) -> str:
    return ", ".join(f"{value:.1f}" for value in lab)
