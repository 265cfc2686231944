"""Where a piece stands, from what the logbook holds of it alone."""

from dataclasses import replace
from datetime import UTC, datetime, timedelta

import pytest

from tests.logbook.laying import FORETOLD
from tonematch.logbook.core import Draft, Piece
from tonematch.logbook.standing import STEPS, Standing
from tonematch.logbook.store import Logbook
from tonematch.measure.core import Comparison, Verdict
from tonematch.toning.core import Proposal, Trial

PICTURE = b"invented picture"


@pytest.fixture(autouse=True)
def frame(logbook: Logbook) -> None:
    logbook.add_piece(Piece("frame"))


def _stands(logbook: Logbook) -> tuple[str, str]:
    standing = logbook.standing("frame")
    assert standing is not None
    return standing.words, standing.step


def test_a_piece_stands_at_each_step_of_the_job(
    logbook: Logbook, comparison: Comparison, proposal: Proposal, trial: Trial
) -> None:
    assert _stands(logbook) == ("not yet photographed", "Photograph")
    logbook.keep_draft("frame", Draft(photographs={"photograph both": (PICTURE, "both.jpg")}))
    assert _stands(logbook) == ("photographed, not compared yet", "Photograph")
    number = logbook.keep_comparison("frame", comparison)
    logbook.end_draft("frame")
    assert _stands(logbook) == ("ready to plan", "Plan")
    logbook.keep_proposal("frame", proposal, number)
    assert _stands(logbook) == ("ready to lay", "Lay a layer")
    laid = logbook.begin_layer(number, trial.application, FORETOLD, dries_hours=0.0)
    words = "ready to photograph, raw umber wash is dry"
    assert _stands(logbook) == (words, "Lay a layer")
    logbook.log_layer(laid, replace(comparison, verdict="match"), [])
    assert _stands(logbook) == ("near enough", "Record")


def test_a_wet_layer_tells_until_when(
    logbook: Logbook, comparison: Comparison, trial: Trial
) -> None:
    number = logbook.keep_comparison("frame", comparison)
    logbook.begin_layer(number, trial.application, FORETOLD, dries_hours=24 * 30.0)
    dry = datetime.now().astimezone() + timedelta(days=30)
    words, _ = _stands(logbook)
    assert words.startswith(f"raw umber wash drying until {dry.day} {dry:%b} ")
    assert logbook.standing("mirror") is None
    soon = datetime.now(UTC) + timedelta(seconds=90)
    near = Standing(Piece("frame"), laid="wax", dry_at=soon.isoformat(timespec="seconds"))
    assert f"{soon.astimezone():%H:%M}" in near.words


@pytest.mark.parametrize(
    ("verdict", "words", "step"),
    [
        ("match", "near enough", "Record"),
        ("too close to call", "too close to call", "Compare"),
        ("no match", "ready to plan", "Plan"),
    ],
)
def test_the_latest_comparison_counts(
    logbook: Logbook, comparison: Comparison, verdict: Verdict, words: str, step: str
) -> None:
    for latest in ("no match", verdict):
        logbook.keep_comparison("frame", replace(comparison, verdict=latest))
    assert _stands(logbook) == (words, step)


def test_each_gold_of_a_piece_stands_for_itself(logbook: Logbook, comparison: Comparison) -> None:
    logbook.change_piece("frame", Piece("frame", zone="edge"))
    logbook.add_piece(Piece("frame", zone="flat"))
    sha256 = logbook.keep_photo(PICTURE, "both.jpg", "frame", "flat")
    sides = (replace(r, photo_sha256=sha256) for r in (comparison.original, comparison.repair))
    original, repair = sides
    read = replace(comparison, original=original, repair=repair)
    logbook.keep_comparison("frame", read, zone="flat")
    edge, flat = logbook.standings()
    assert (edge.piece.zone, edge.words, edge.photo_sha256) == ("edge", "not yet photographed", "")
    assert (flat.piece.zone, flat.words, flat.photo_sha256) == ("flat", "ready to plan", sha256)
    assert flat.file_name == "both.jpg"
    assert flat.areas == (original.area, repair.area)


def test_steps_before_the_next_are_done_and_those_after_it_not_yet() -> None:
    found = Standing(Piece("frame"), verdict="no match").steps()
    assert list(found) == list(STEPS)
    assert list(found.values()) == ["done", "done", "now", "not yet", "not yet"]
