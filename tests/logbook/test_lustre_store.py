"""Lustre that was measured: kept with readings and trials, written to files and read back."""

import io
from collections.abc import Mapping
from dataclasses import replace

import numpy as np
import pytest

from tests.logbook.laying import lay
from tonematch.errors import LogbookError, TrialError
from tonematch.logbook.core import Piece
from tonematch.logbook.store import Logbook
from tonematch.logbook.trial_csv import COLUMNS, read_trials, trials_table
from tonematch.measure.core import Comparison
from tonematch.toning.core import Layer, Trial


def lustres(trial: Trial) -> tuple[float | None, float | None]:
    return trial.before_lustre, trial.after_lustre


def shining(comparison: Comparison, original: float | None, repair: float | None) -> Comparison:
    return replace(
        comparison,
        original=replace(comparison.original, lustre=original),
        repair=replace(comparison.repair, lustre=repair),
    )


def darker(comparison: Comparison) -> Comparison:
    """The comparison after a layer, in a photograph of its own."""
    repair = replace(comparison.repair, lab=comparison.repair.lab - 5.0, photo_sha256="c" * 64)
    return replace(comparison, repair=repair)


def test_lustre_comes_back_with_its_comparison(logbook: Logbook, comparison: Comparison) -> None:
    logbook.add_piece(Piece("frame"))
    logbook.keep_comparison("frame", shining(comparison, 1.5, None))
    (kept,) = logbook.history("frame").comparisons
    assert kept.original.reading.lustre == 1.5
    assert kept.comparison.repair.lustre is None


def test_lustre_measured_later_reaches_readings_and_trials(
    logbook: Logbook, trial: Trial, comparison: Comparison
) -> None:
    logbook.add_piece(Piece("frame"))
    after = darker(comparison)
    laid = lay(logbook, trial.application, comparison)
    _, second = logbook.log_layer(laid, after, [])
    first = logbook.history("frame").comparisons[0].id
    logbook.keep_lustre(second, shining(after, 1.5, 1.0))
    assert lustres(logbook.trials()[0]) == (None, 1.0)
    logbook.keep_lustre(first, shining(comparison, 1.5, 2.5))
    (kept,) = logbook.kept_trials()
    assert lustres(kept.trial) == (2.5, 1.0)
    assert kept.before is not None
    assert kept.before.reading.lustre == 2.5
    assert [c.comparison.repair.lustre for c in logbook.history("frame").comparisons] == [2.5, 1.0]
    assert not logbook.history("frame").changes
    # Measured anew it is another number, and the earlier one is not lost; unknown it stays.
    logbook.keep_lustre(second, shining(after, None, 1.25))
    assert lustres(logbook.trials()[0]) == (2.5, 1.25)
    (change,) = logbook.history("frame").changes
    assert change.words == "lustre after measured anew: 1.00 stops to 1.25 stops"
    assert logbook.history("frame").comparisons[1].original.reading.lustre == 1.5
    with pytest.raises(LogbookError, match="keep the comparison first"):
        logbook.keep_lustre(99, comparison)


def test_a_trial_carries_the_lustre_of_its_readings(
    logbook: Logbook, trial: Trial, comparison: Comparison
) -> None:
    logbook.add_piece(Piece("frame"))
    before = shining(comparison, 1.5, 2.5)
    laid = lay(logbook, trial.application, before)
    logbook.log_layer(laid, shining(darker(comparison), 1.5, None), [])
    assert lustres(logbook.trials()[0]) == (2.5, None)
    logbook.add_trial(replace(trial, before_lustre=2.0), before=before.repair)
    assert lustres(logbook.trials()[1]) == (2.0, None)


def test_a_table_is_taken_once_and_brings_lustre_that_was_missing(
    logbook: Logbook, trial: Trial
) -> None:
    measured = replace(trial, before_lustre=2.5, after_lustre=1.25)
    assert logbook.add_trials([trial]) == 1
    assert logbook.add_trials([measured]) == 0
    assert lustres(logbook.trials()[0]) == (2.5, 1.25)
    assert logbook.add_trials([trial]) == 0  # an older table does not take it away
    assert logbook.add_trials([trial, measured]) == 1  # but two of a table are two
    assert logbook.add_trials([measured, trial]) == 0
    other = replace(trial, before_lustre=2.5, after_lustre=0.5)
    assert logbook.add_trials([other]) == 0  # the one that had none
    assert logbook.add_trials([replace(other, after_lustre=0.6)]) == 1
    assert [lustres(t) for t in logbook.trials()] == [(2.5, 1.25), (2.5, 0.5), (2.5, 0.6)]


def test_columns_of_lustre_are_written_where_there_is_any(
    small_shelf: Mapping[str, Layer], trial: Trial
) -> None:
    assert trials_table([trial]).splitlines()[0] == ",".join(COLUMNS)
    known = [trial, replace(trial, before_lustre=1.0 / 3.0, after_lustre=np.float64(0.7))]
    rich = trials_table(known)
    assert rich.splitlines()[0] == ",".join((*COLUMNS, "before_lustre", "after_lustre"))
    back = read_trials(io.StringIO(rich, newline=""), small_shelf)
    assert [lustres(one) for one in back] == [(None, None), (1.0 / 3.0, 0.7)]


@pytest.mark.parametrize(
    ("value", "says"),
    [
        ("shiny", "'shiny' is not a number"),
        ("1,5", "has a decimal comma; write 1.5"),
        ("-0.2", "-0.2 is outside 0 to 10; write how many photographic stops"),
        ("25", "25 is outside 0 to 10"),
        ("1e999", "inf is not a number that can be used"),
    ],
)
def test_a_lustre_that_cannot_be_is_refused(
    small_shelf: Mapping[str, Layer], logbook: Logbook, trial: Trial, value: str, says: str
) -> None:
    head = "layer,strength,before_L,before_a,before_b,after_L,after_a,after_b,after_lustre"
    field = f'"{value}"' if "," in value else value
    with pytest.raises(TrialError) as refused:
        read_trials(io.StringIO(f"{head}\nrottenstone,1,70,5,40,62,6,36,{field}\n"), small_shelf)
    assert "line 2, column after_lustre: " in str(refused.value)
    assert says in str(refused.value)
    with pytest.raises(TrialError, match="after_lustre"):
        logbook.add_trial(replace(trial, after_lustre=float("nan")))
