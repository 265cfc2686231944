"""A draft lasts until it is kept or forgotten, and two pages that add to it keep both."""

from dataclasses import replace
from pathlib import Path

import pytest
from sqlalchemy import text

from tonematch.logbook.archive.checking import check_logbook
from tonematch.logbook.archive.writing import write_archive
from tonematch.logbook.core import Draft, Piece
from tonematch.logbook.store import Logbook, open_logbook

PICTURE = b"invented picture"
MARK = [716.0, 40.0, 120.0, 90.0]


@pytest.fixture(autouse=True)
def frame(logbook: Logbook) -> None:
    logbook.add_piece(Piece("frame"))
    logbook.add_piece(Piece("mirror"))


def _pictures(logbook: Logbook) -> list[bytes]:
    return [path.read_bytes() for path in sorted(logbook.photographs.rglob("*")) if path.is_file()]


def test_two_pages_add_to_one_draft_that_outlives_both(logbook: Logbook) -> None:
    photograph = {"photograph both": (PICTURE, "a/both.JPG")}
    logbook.keep_draft("frame", Draft({"mark card": MARK, "answer coats": 2}, photograph))
    with open_logbook(logbook.place) as other:
        other.keep_draft("frame", Draft({"mark original": MARK, "answer pot": 2.5}))
        found = other.draft("frame")
    assert found.values == {
        **{"mark card": MARK, "mark original": MARK},
        **{"answer coats": 2, "answer pot": 2.5},
    }
    assert found.photographs == {"photograph both": (PICTURE, "both.JPG")}
    assert not logbook.draft("mirror").values
    # It is of the piece, whatever that is called by now.
    logbook.change_piece("frame", Piece("console", zone="left"))
    assert logbook.draft("console", "left").values == found.values


def test_a_draft_that_ended_leaves_nothing_and_another_keeps_its_picture(logbook: Logbook) -> None:
    for piece in ("frame", "mirror"):
        logbook.keep_draft(piece, Draft(photographs={"photograph both": (PICTURE, "both.jpg")}))
    logbook.end_draft("frame")
    assert not logbook.draft("frame").photographs
    assert logbook.draft("mirror").photographs["photograph both"][0] == PICTURE
    logbook.end_draft("mirror")
    assert _pictures(logbook) == []


def test_a_forgotten_draft_is_swept_by_the_next_one(logbook: Logbook) -> None:
    draft = Draft({"mark card": MARK}, {"photograph both": (PICTURE, "both.jpg")})
    logbook.keep_draft("frame", draft)
    with logbook.writing() as session:
        session.execute(text("UPDATE drafts SET made_at = '2026-01-01T00:00:00+00:00'"))
    logbook.keep_draft("mirror", Draft({"mark card": MARK}))
    assert not logbook.draft("frame").values
    assert _pictures(logbook) == []
    assert logbook.draft("mirror").values == {"mark card": MARK}


def test_a_draft_passes_and_the_logbook_stays_sound(logbook: Logbook, tmp_path: Path) -> None:
    draft = Draft({"mark card": MARK}, {"photograph both": (PICTURE, "both.jpg")})
    logbook.keep_draft("frame", draft)
    assert "drafts" not in write_archive(logbook, tmp_path / "out.zip").rows
    # The day's copy holds the draft; that it is gone from the logbook is no fault.
    logbook.change_piece("mirror", replace(logbook.piece("mirror"), notes="gilded anew"))
    logbook.end_draft("frame")
    checked = check_logbook(logbook)
    assert (checked.wrong, checked.orphans) == ((), ())


def test_a_draft_without_its_picture_keeps_the_rest(logbook: Logbook) -> None:
    draft = Draft({"mark card": MARK}, {"photograph both": (PICTURE, "both.jpg")})
    logbook.keep_draft("frame", draft)
    (picture,) = (p for p in logbook.photographs.rglob("*") if p.is_file())
    picture.write_bytes(b"another")
    found = logbook.draft("frame")
    assert found.values == {"mark card": MARK}
    assert not found.photographs
