"""Slips of the pen that may have made a row of trials, each undone."""

from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np

from tonematch.arrays import Vector3
from tonematch.toning.core import Trial
from tonematch.toning.model.layer_model import LayerModel

# All choices of this project, found on simulated logbooks, no source.
# How many slips of each sort are expected for each honest row. More than anybody makes: to look at
# an honest row in vain costs a glance, a slip that nobody sees is learned from.
SLIP_ODDS, WRONG_LAYER_ODDS = 1.0 / 20.0, 1.0 / 10.0
POINT_SLIPS = (10.0, 0.1, 100.0, 0.01)  # by which the point of a strength slips
LIKELY_STRENGTHS = (0.02, 3.0)
TENS = (10.0, -10.0, 20.0, -20.0, 30.0, -30.0)


@dataclass(frozen=True, eq=False)
class Slip:
    """A trial with one slip undone: what looks wrong, and how many of just this slip are expected.

    `odds` are for each honest row.
    """

    words: str
    mended: Trial
    odds: float


def slips(trial: Trial, judge: LayerModel) -> Iterator[Slip]:
    """Every slip that may have made this row, undone; any layer of the judge may be meant."""
    a = trial.application
    yield from reading_slips(trial)
    yield from _strength_slips(trial)
    others = [(n, known) for n, known in judge.layers_.items() if n != a.layer]
    for name, known in others:
        # A layer that the shelf does not know has trials: the model goes by them, not by its kind.
        acted = replace(a, layer=name, kind=judge.entry(name, a.kind).kind)
        if known.trials:
            yield Slip(
                f"it acted like {name}: was that the layer",
                replace(trial, application=acted),
                WRONG_LAYER_ODDS / len(others),
            )


def _strength_slips(trial: Trial) -> Iterator[Slip]:
    a = trial.application
    low, high = LIKELY_STRENGTHS
    for factor in POINT_SLIPS:
        strength = float(f"{a.strength * factor:.6g}")
        if low <= strength <= high:
            yield Slip(
                f"strength {a.strength:g} looks like a slip for {strength:g}",
                replace(trial, application=replace(a, strength=strength)),
                SLIP_ODDS / len(POINT_SLIPS),
            )


def reading_slips(trial: Trial) -> Iterator[Slip]:
    """Slips in the readings: swapped columns, and L* wrong by tens."""
    before, after = trial.application.before, trial.after
    yield Slip("before and after look swapped", _reread(trial, after, before), SLIP_ODDS)
    swap = [0, 2, 1]
    for words, new_before, new_after in (
        ("of the reading before", before[swap], after),
        ("of the reading after", before, after[swap]),
        ("of both readings", before[swap], after[swap]),
    ):
        mended = _reread(trial, new_before, new_after)
        yield Slip(f"a* and b* {words} look swapped", mended, SLIP_ODDS / 3.0)
    odds = SLIP_ODDS / (2 * len(TENS))
    for ten in TENS:
        shift = np.array([ten, 0.0, 0.0])
        for when, lab in (("before", before), ("after", after)):
            if 0.0 <= lab[0] + ten <= 100.0:
                words = f"L* {when} of {lab[0]:.4g} looks like a slip for {lab[0] + ten:.4g}"
                one, other = (shift, 0.0) if when == "before" else (0.0, shift)
                yield Slip(words, _reread(trial, before + one, after + other), odds)


def _reread(trial: Trial, before: Vector3, after: Vector3) -> Trial:
    return replace(trial, application=replace(trial.application, before=before), after=after)
