"""The logbook as a whole, on the page: copied, put back, out, in, looked through."""

import sys
from pathlib import Path

import numpy as np
import pytest
from streamlit.testing.v1 import AppTest

from tests.cli.commands import Run
from tests.logbook.whole_logbook import pictures, rows
from tests.screens.app_pages import open_app, press, said, visit
from tonematch.logbook.core import Piece
from tonematch.logbook.database.copies import copies_in, usual_copies
from tonematch.logbook.store import open_logbook
from tonematch.toning.core import Application, Trial


@pytest.fixture
def book(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    path = tmp_path / "book.sqlite"
    with open_logbook(path) as opened:
        opened.add_piece(Piece("frame"))
        opened.keep_photo(b"picture", "a.jpg", "frame")
    monkeypatch.setattr(sys, "argv", ["app.py", "--logbook", str(path)])
    return path


def may_shrink(app: AppTest) -> None:
    (box,) = (box for box in app.checkbox if box.label == "It may hold less than it did")
    box.check().run()


@pytest.mark.proof
def test_a_copy_is_made_and_put_back(book: Path) -> None:
    app = press(visit(open_app(), "Logbook"), "Copy it now")
    assert "Backed up to" in said(app)
    held = rows(book)
    with open_logbook(book) as opened:
        opened.add_piece(Piece("mirror"))
    app = press(app.run(), "Put this copy back")
    assert "holds less than the logbook" in app.error[0].value
    assert len(rows(book)["pieces"]) == 2
    may_shrink(app.run())
    assert "As it was until now it is kept in" in said(press(app, "Put this copy back"))
    assert rows(book) == held
    assert any(len(rows(c)["pieces"]) == 2 for c in copies_in(usual_copies(book)))


@pytest.mark.proof
def test_out_and_in_as_one_file(book: Path, tmp_path: Path, run: Run) -> None:
    app = press(visit(open_app(), "Logbook"), "Write it into one file, with its photographs")
    assert "Written to book.zip: pieces 1, photographs 1." in said(app)
    archive = tmp_path / "book.zip"
    run("logbook", "export", archive, "--logbook", book)
    other = tmp_path / "other.sqlite"
    sys.argv[2] = str(other)
    app = visit(open_app(), "Logbook")
    (uploader,) = (one for one in app.file_uploader if "one file" in one.label)
    uploader.upload("book.zip", archive.read_bytes(), "application/zip").run()
    assert "Brought in from book.zip: pieces 1" in said(press(app, "Bring in what is not here yet"))
    assert (rows(other), pictures(other)) == (rows(book), pictures(book))
    app = visit(open_app(), "Logbook")
    (uploader,) = (one for one in app.file_uploader if "one file" in one.label)
    uploader.upload("book.zip", b"Dear owner", "application/zip").run()
    app = press(app, "Bring in what is not here yet")
    assert app.error[0].value.startswith("book\\.zip cannot be brought in")


@pytest.mark.proof
def test_the_logbook_is_looked_through(book: Path) -> None:
    assert "Nothing is wrong" in said(
        press(visit(open_app(), "Logbook"), "Look through the logbook")
    )
    next((book.parent / "book photographs").glob("*/*")).unlink()
    app = press(visit(open_app(), "Logbook"), "Look through the logbook")
    assert "put it back from a copy" in app.error[0].value
    assert "Removed: 0" in said(press(app, "Sweep what a stopped program left over"))


def test_a_piece_is_removed_and_the_line_beside_it_brings_it_back(book: Path) -> None:
    with open_logbook(book) as opened:
        opened.exclude_trial(opened.add_trial(a_trial("frame")))
    app = visit(open_app(), "Logbook")
    assert not [button for button in app.button if button.label == "Undo"]  # done before this page
    (choice,) = (box for box in app.selectbox if box.label == "Remove a piece")
    app = press(choice.set_value("frame").run(), "Remove it")
    assert "frame is removed" in said(app)
    assert "Removed, and still in the logbook: pieces 1" in said(app)
    app = press(app, "Undo")
    assert "Undone: frame removed" in said(app)
    assert not [button for button in app.button if button.label == "Undo"]
    with open_logbook(book) as opened:
        assert [piece.name for piece in opened.pieces()] == ["frame"]
        opened.remove_piece("frame")
    app.run()
    next(box for box in app.checkbox if box.label == "It may go for good").check().run()
    assert "Gone from the logbook: pieces 1" in said(press(app, "Empty it for good"))
    assert rows(book)["pieces"] == []


def a_trial(piece: str) -> Trial:
    laid = Application(np.array([80.0, 6.0, 34.0]), "raw umber wash", "wash", 0.5)
    return Trial(laid, np.array([70.0, 6.0, 30.0]), piece)
