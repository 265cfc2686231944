"""A mistyped trial is put right in its place; what it said before is kept and can come back."""

from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from sqlalchemy import text

from tonematch.errors import LogbookError, TrialError
from tonematch.logbook.core import KeptTrial
from tonematch.logbook.store import Logbook
from tonematch.logbook.stores.corrections import typed_values, with_values
from tonematch.measure.core import Comparison
from tonematch.toning.core import Application, Prediction, Trial

Mistype = Callable[[Trial], Trial]


def laid(trial: Trial, **values: object) -> Trial:
    return replace(trial, application=replace(trial.application, **values))  # type: ignore[arg-type]


def swapped(trial: Trial) -> Trial:
    return replace(laid(trial, before=trial.after), after=trial.application.before)


def says(trial: Trial) -> dict[str, object]:
    return typed_values(trial) | {"piece": trial.piece, "date": trial.date, "note": trial.note}


def only(logbook: Logbook) -> KeptTrial:
    (kept,) = logbook.kept_trials()
    return kept


@pytest.mark.parametrize(
    ("mistype", "told"),
    [
        (lambda t: laid(t, strength=10.0), "strength 10 to 0.5"),
        (lambda t: laid(t, layer="soot", kind="dust"), "layer soot to raw umber wash"),
        (lambda t: laid(t, coats=20), "coats 20 to 2"),
        (swapped, "L*a*b* before 62.0, 6.0, 36.1 to 70.2, 5.5, 40.1"),
    ],
)
def test_a_correction_stands_and_its_trace_says_what_was_there(
    logbook: Logbook, trial: Trial, mistype: Mistype, told: str
) -> None:
    wrong = mistype(trial)
    number = logbook.add_trial(wrong)
    logbook.correct_trial(number, trial, reason="read the pot again")
    assert says(logbook.trials()[0]) == says(trial)
    assert says(logbook.corrected_trials()[number]) == says(wrong)
    (change,) = logbook.history("frame").changes
    assert change.words.startswith("put right: ")
    assert told in change.words
    assert change.reason == "read the pot again"


def test_corrections_are_taken_back_one_after_the_other(logbook: Logbook, trial: Trial) -> None:
    first, second = laid(trial, strength=10.0), laid(trial, strength=1.0)
    number = logbook.add_trial(first)
    logbook.correct_trial(number, second)
    logbook.correct_trial(number, trial)
    logbook.put_back_trial(number)
    assert says(only(logbook).trial) == says(second)
    assert says(logbook.corrected_trials()[number]) == says(first)
    logbook.correct_trial(number, laid(trial, coats=3))
    logbook.put_back_trial(number)
    logbook.put_back_trial(number)
    assert says(only(logbook).trial) == says(first)
    assert logbook.corrected_trials() == {}
    with pytest.raises(LogbookError, match="nothing to put back"):
        logbook.put_back_trial(number)
    assert len(logbook.history("frame").changes) == 6


def test_a_prediction_and_a_reading_are_those_of_what_stands(
    logbook: Logbook, trial: Trial, comparison: Comparison
) -> None:
    before = replace(comparison.original, lab=trial.application.before)
    after = replace(comparison.repair, lab=trial.after)
    prediction = Prediction(np.array([61.0, 6.5, 35.0]), np.eye(3))
    # Typed the wrong way round: each colour is that of the other reading.
    number = logbook.add_trial(
        swapped(trial), before=after, after=before, prediction=prediction, cautions=["Mind."]
    )
    logbook.correct_trial(number, trial, cautions=["Mind the seal."])
    kept = only(logbook)
    assert kept.before is not None
    assert kept.after is not None
    assert kept.before.reading.lab.tolist() == trial.application.before.tolist()
    assert kept.after.reading.lab.tolist() == trial.after.tolist()
    assert kept.prediction is None
    assert kept.cautions == ("Mind the seal.",)

    typed = replace(trial, after=trial.after - 1.0)
    logbook.correct_trial(number, typed)
    assert only(logbook).after is None
    assert only(logbook).before is not None

    logbook.put_back_trial(number)
    logbook.put_back_trial(number)
    kept = only(logbook)
    assert kept.prediction is not None
    assert kept.prediction.lab.tolist() == prediction.lab.tolist()
    assert kept.cautions == ("Mind.",)
    assert kept.after is not None
    assert kept.after.reading.lab.tolist() == trial.application.before.tolist()


def test_a_colour_put_right_leaves_what_was_foretold_where_only_the_result_was_wrong(
    logbook: Logbook, trial: Trial
) -> None:
    prediction = Prediction(np.array([61.0, 6.5, 35.0]), np.eye(3))
    number = logbook.add_trial(replace(trial, after=trial.after[[0, 2, 1]]), prediction=prediction)
    logbook.correct_trial(number, trial)
    assert only(logbook).prediction is not None


def test_what_cannot_be_kept_changes_nothing(logbook: Logbook, trial: Trial) -> None:
    number = logbook.add_trial(trial)
    logbook.add_trial(laid(trial, layer="soot", kind="dust"))
    for wrong in (
        laid(trial, strength=0.0),
        laid(trial, layer=""),
        laid(trial, before=np.array([120.0, 0.0, 0.0])),
        laid(trial, layer="Soot", kind="wash"),
    ):
        with pytest.raises(TrialError, match="cannot be kept"):
            logbook.correct_trial(number, wrong)
    with pytest.raises(LogbookError, match="reads so already"):
        logbook.correct_trial(number, trial)
    with pytest.raises(LogbookError, match="No trial 99"):
        logbook.correct_trial(99, trial)
    with pytest.raises(LogbookError, match="No trial 99"):
        logbook.put_back_trial(99)
    assert says(logbook.trials()[0]) == says(trial)
    assert logbook.history("frame").changes == ()


def test_a_lone_trial_may_change_the_kind_of_its_layer(logbook: Logbook, trial: Trial) -> None:
    number = logbook.add_trial(trial)
    logbook.correct_trial(number, laid(trial, kind="glaze"))
    assert logbook.trials()[0].application.kind == "glaze"


def test_what_cannot_stand_any_more_is_not_put_back(logbook: Logbook, trial: Trial) -> None:
    number = logbook.add_trial(laid(trial, layer="soot", kind="dust"))
    logbook.correct_trial(number, trial)
    logbook.add_trial(laid(trial, layer="soot", kind="wash"))
    with pytest.raises(TrialError, match="a dust here and a wash in other trials"):
        logbook.put_back_trial(number)
    assert says(logbook.trials()[0]) == says(trial)


def test_a_file_with_the_old_slip_is_known_and_adds_nothing(logbook: Logbook, trial: Trial) -> None:
    wrong, other = laid(trial, strength=10.0), replace(trial, note="another")
    logbook.add_trials([wrong, other])
    logbook.correct_trial(1, trial)
    assert logbook.add_trials([wrong, other]) == 0
    assert logbook.add_trials([trial, other]) == 0
    # One trial is one row of a file, whichever of its states that row has.
    assert logbook.add_trials([trial, wrong, other]) == 1


def test_a_trial_left_out_stays_left_out_when_it_is_put_right(
    logbook: Logbook, trial: Trial
) -> None:
    number = logbook.add_trial(laid(trial, strength=10.0))
    logbook.exclude_trial(number)
    logbook.correct_trial(number, trial)
    assert logbook.trials() == []
    logbook.include_trial(number)
    assert says(logbook.trials()[0]) == says(trial)


def test_only_what_changed_is_traced_so_that_a_renaming_outlives_a_putting_back(
    logbook: Logbook, trial: Trial
) -> None:
    number = logbook.add_trial(laid(trial, strength=10.0))
    logbook.correct_trial(number, trial)
    with logbook.writing() as session:
        session.execute(text("UPDATE trials SET layer = 'my umber'"))
    logbook.put_back_trial(number)
    (kept,) = logbook.trials()
    assert (kept.application.layer, kept.application.strength) == ("my umber", 10.0)


lab = st.tuples(st.floats(0, 100), st.floats(-60, 60), st.floats(-60, 60)).map(np.array)


@given(before=lab, after=lab, strength=st.floats(0.01, 3), coats=st.integers(1, 9))
def test_values_out_of_a_trial_make_it_again(
    before: np.ndarray, after: np.ndarray, strength: float, coats: int
) -> None:
    one = Trial(Application(before, "a", "wash", strength, coats), after, "p")
    blank = Trial(Application(np.zeros(3), "b", "glaze", 1.0), np.ones(3), "p")
    assert typed_values(with_values(blank, typed_values(one))) == typed_values(one)


def test_a_correction_loses_no_lustre(logbook: Logbook, trial: Trial) -> None:
    measured = replace(laid(trial, strength=10.0), before_lustre=2.5, after_lustre=1.25)
    number = logbook.add_trial(measured)
    logbook.correct_trial(number, trial)  # which knows nothing of lustre
    assert lustres(only(logbook).trial) == (2.5, 1.25)
    logbook.put_back_trial(number)
    assert lustres(only(logbook).trial) == (2.5, 1.25)


def test_swapped_lustres_go_with_their_colours(logbook: Logbook, trial: Trial) -> None:
    right = replace(trial, before_lustre=2.5, after_lustre=1.25)
    wrong = replace(swapped(trial), before_lustre=1.25, after_lustre=2.5)
    number = logbook.add_trial(wrong)
    # As a doubt proposes it: the colours swapped, all else as it stands.
    logbook.correct_trial(number, swapped(wrong))
    assert lustres(only(logbook).trial) == lustres(right)
    assert lustres(logbook.corrected_trials()[number]) == lustres(wrong)
    assert logbook.add_trials([wrong, right]) == 1  # as it was and as it is are one trial
    logbook.put_back_trial(number)
    assert lustres(logbook.kept_trials()[0].trial) == lustres(wrong)


def test_another_lustre_is_a_correction_too(logbook: Logbook, trial: Trial) -> None:
    number = logbook.add_trial(replace(trial, before_lustre=2.5))
    logbook.correct_trial(number, replace(trial, before_lustre=1.5))
    assert lustres(only(logbook).trial) == (1.5, None)
    (change,) = logbook.history("frame").changes
    assert "lustre before 2.50 stops to 1.50 stops" in change.words


def lustres(trial: Trial) -> tuple[float | None, float | None]:
    return trial.before_lustre, trial.after_lustre
