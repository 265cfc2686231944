"""A layer in progress: it lasts, ends once, and two pages on one logbook lay it once."""

import hashlib
import math
from dataclasses import replace
from datetime import datetime, timedelta

import numpy as np
import pytest
from sqlalchemy import text

from tests.logbook.laying import AIR, FORETOLD, lay
from tests.logbook.test_store import assert_same
from tonematch.errors import LogbookError, TonematchError, TrialError
from tonematch.logbook.core import Piece, bench_name
from tonematch.logbook.store import Logbook, open_logbook
from tonematch.measure.core import Comparison
from tonematch.toning.core import Trial


@pytest.fixture(autouse=True)
def frame(logbook: Logbook) -> None:
    logbook.add_piece(Piece("frame"))


def test_a_layer_in_progress_is_there_when_the_logbook_is_opened_again(
    logbook: Logbook, trial: Trial, comparison: Comparison
) -> None:
    number = lay(logbook, trial.application, comparison, dries_hours=26.5)
    with open_logbook(logbook.place) as again:
        laid = again.layer_in_progress("frame")
    assert laid is not None
    assert (laid.id, laid.piece, laid.cautions) == (number, "frame", ("Mind.",))
    # It lies on what was read, whatever the page had rounded it to.
    assert_same(laid.application, replace(trial.application, before=comparison.repair.lab))
    assert_same(laid.before, comparison)
    assert_same(laid.prediction, FORETOLD)
    dries = datetime.fromisoformat(laid.dry_at) - datetime.fromisoformat(laid.laid_at)
    assert dries == timedelta(hours=26.5)


def test_a_layer_is_logged_as_a_whole(
    logbook: Logbook, trial: Trial, comparison: Comparison
) -> None:
    picture = b"picture"
    sha256 = hashlib.sha256(picture).hexdigest()
    after = replace(
        comparison,
        original=replace(comparison.original, photo_sha256=sha256),
        repair=replace(comparison.repair, photo_sha256=sha256),
    )
    laid = lay(logbook, trial.application, comparison)
    made, number = logbook.log_layer(laid, after, [(picture, "a.jpg")], note="left edge")
    (kept,) = logbook.kept_trials("frame")
    assert_same(kept.trial, made)
    assert (made.step, made.note) == (1, "left edge")
    assert kept.before is not None
    assert kept.after is not None
    assert_same(kept.before.reading, comparison.repair)
    assert_same(kept.after.reading, after.repair)
    assert_same(kept.prediction, FORETOLD)
    assert kept.cautions == ("Mind.",)
    assert kept.trial.bench == bench_name()
    assert (made.temperature, made.humidity) == (AIR.temperature, AIR.humidity)
    assert logbook.history("frame").comparisons[-1].id == number
    assert logbook.photo_bytes(sha256) == picture
    with logbook.reading() as session:
        tied = session.scalars(text("SELECT photograph_id FROM readings ORDER BY id")).all()
    assert sorted(tied, key=str) == [1, 1, 1, None, None, None]
    assert logbook.layer_in_progress("frame") is None


@pytest.mark.parametrize("fault", ["colour", "comparison"])
def test_a_layer_that_cannot_be_logged_leaves_nothing_and_stays_in_progress(
    logbook: Logbook, trial: Trial, comparison: Comparison, fault: str
) -> None:
    laid = lay(logbook, trial.application, comparison)
    if fault == "colour":
        after = replace(
            comparison, repair=replace(comparison.repair, lab=np.array([math.nan, 0, 0]))
        )
    else:
        after = replace(comparison, delta_e=math.nan)
    with pytest.raises(TonematchError):
        logbook.log_layer(laid, after, [(b"picture", "a.jpg")])
    history = logbook.history("frame")
    assert (history.trials, len(history.comparisons), history.photographs) == ((), 1, ())
    assert logbook.layer_in_progress("frame") is not None


def test_two_pages_lay_and_end_one_layer_once(
    logbook: Logbook, trial: Trial, comparison: Comparison
) -> None:
    number = logbook.keep_comparison("frame", comparison)
    with open_logbook(logbook.place) as other:
        laid = other.begin_layer(number, trial.application, FORETOLD, 0.0)
        with pytest.raises(LogbookError, match="not photographed yet"):
            logbook.begin_layer(number, trial.application, FORETOLD, 0.0)
        other.log_layer(laid, comparison, [(b"picture", "a.jpg")])
    with pytest.raises(LogbookError, match="load the page anew"):
        logbook.log_layer(laid, comparison, [(b"another", "b.jpg")])
    with pytest.raises(LogbookError, match="load the page anew"):
        logbook.call_off_layer(laid)
    # The comparison that this page still shows is no longer the last one.
    with pytest.raises(LogbookError, match="compared anew"):
        logbook.begin_layer(number, trial.application, FORETOLD, 0.0)
    history = logbook.history("frame")
    assert (len(history.trials), len(history.comparisons), len(history.photographs)) == (1, 2, 1)


def test_a_layer_called_off_teaches_nothing_and_makes_room(
    logbook: Logbook, trial: Trial, comparison: Comparison
) -> None:
    logbook.call_off_layer(lay(logbook, trial.application, comparison))
    assert logbook.layer_in_progress("frame") is None
    assert logbook.trials() == []
    assert lay(logbook, trial.application, comparison)


def test_what_cannot_be_kept_is_refused_before_it_dries(
    logbook: Logbook, trial: Trial, comparison: Comparison
) -> None:
    with pytest.raises(TrialError, match="strength"):
        lay(logbook, replace(trial.application, strength=-1.0), comparison)
    assert logbook.layer_in_progress("frame") is None
