"""Backup and restore: in one step, nothing written over, and what was there stays to be had."""

import shutil
import sqlite3
from contextlib import closing
from pathlib import Path

import pytest

from tests.cli.commands import Run, refused
from tests.logbook.whole_logbook import pictures, rows
from tonematch.logbook.core import Piece
from tonematch.logbook.database import copies
from tonematch.logbook.store import open_logbook


@pytest.fixture
def book(tmp_path: Path) -> Path:
    """A logbook with a piece and a photograph, and no copies yet."""
    path = tmp_path / "book.sqlite"
    with open_logbook(path) as opened:
        opened.add_piece(Piece("frame"))
        opened.keep_photo(b"picture", "a.jpg", "frame")
    shutil.rmtree(copies.usual_copies(path))
    return path


def daily(book: Path) -> list[Path]:
    return copies.copies_in(copies.usual_copies(book))


def test_a_backup_on_another_disk_makes_the_logbook_anew(
    run: Run, book: Path, tmp_path: Path
) -> None:
    stick, held = tmp_path / "stick", rows(book)
    ran = run("logbook", "backup", stick, "--logbook", book)
    assert "photographs 1, pieces 1; files of photographs copied: 1." in ran.out
    again = run("logbook", "backup", stick, "--logbook", book)
    assert "copied" not in again.out  # they are there already
    assert len(copies.copies_in(stick)) == 2
    lost = pictures(book)
    shutil.rmtree(tmp_path / "book photographs")
    book.unlink()
    ran = run("logbook", "restore", stick, "--logbook", book)
    assert ran.out.startswith(f"Put back from {stick}")
    assert (rows(book), pictures(book)) == (held, lost)
    elsewhere = tmp_path / "new machine" / "logbook.sqlite"
    run("logbook", "restore", stick, "--logbook", elsewhere)
    assert (rows(elsewhere), pictures(elsewhere)) == (held, lost)


def test_a_copy_is_kept_before_the_first_change_of_a_day(
    run: Run, book: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    held = rows(book)
    run("pieces", "list", "--logbook", book)
    assert daily(book) == []  # nothing was changed
    for name in ("mirror", "console"):
        run("pieces", "add", name, "--logbook", book)
    (copy,) = daily(book)
    assert rows(copy) == held
    monkeypatch.setattr(copies, "stamp", lambda: "29990101T000000000000")
    run("pieces", "add", "bracket", "--logbook", book)
    assert [len(rows(copy)["pieces"]) for copy in daily(book)] == [1, 3]


@pytest.mark.proof
def test_old_copies_go_but_none_that_holds_more(
    run: Run, book: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def on_day(day: int) -> None:
        monkeypatch.setattr(copies, "stamp", lambda: f"299901{day:02}T000000000000")
        run("pieces", "gilding", "frame", "--bole", str(day), "--logbook", book)

    for day in range(1, 17):
        on_day(day)
    assert len(daily(book)) == copies.KEPT
    with open_logbook(book) as opened:
        opened.add_piece(Piece("only here"))
    on_day(17)
    with closing(sqlite3.connect(book)) as other:
        other.execute("DELETE FROM pieces WHERE name = 'only here'")
        other.commit()
    for day in range(18, 32):
        on_day(day)
    assert [len(rows(copy)["pieces"]) for copy in daily(book)].count(2) == 1
    assert len(daily(book)) == copies.KEPT + 1


def test_less_is_not_put_over_more_unless_it_is_meant(run: Run, book: Path, tmp_path: Path) -> None:
    stick = tmp_path / "stick"
    run("logbook", "backup", stick, "--logbook", book)
    run("pieces", "add", "mirror", "--logbook", book)
    held = rows(book)
    words = "say that it may hold less (--may-shrink)"
    refused(run("logbook", "restore", stick, "--logbook", book), words)
    assert rows(book) == held
    ran = run("logbook", "restore", stick, "--may-shrink", "--logbook", book)
    assert len(rows(book)["pieces"]) == 1
    aside = Path(ran.out.partition("it is kept in ")[2].strip().removesuffix("."))
    assert rows(aside) == held
    run("logbook", "restore", aside, "--logbook", book)
    assert rows(book) == held
    run("logbook", "backup", stick, "--logbook", book)
    with closing(sqlite3.connect(book)) as other:
        other.execute("DELETE FROM pieces WHERE name = 'mirror'")
        other.commit()
    refused(run("logbook", "backup", stick, "--logbook", book), "less than its newest backup")
    assert len(copies.copies_in(stick)) == 2
    assert run("logbook", "backup", stick, "--may-shrink", "--logbook", book).status == 0


def test_a_damaged_logbook_is_put_back_and_kept_as_it_is(run: Run, book: Path) -> None:
    run("logbook", "backup", "--logbook", book)
    held, data = rows(book), bytearray(book.read_bytes())
    data[4096:] = b"\xaa" * (len(data) - 4096)
    book.write_bytes(data)
    refused(run("logbook", "backup", "--logbook", book), "is damaged: put back the newest copy")
    ran = run("logbook", "restore", "--logbook", book)
    assert rows(book) == held
    (aside,) = book.parent.glob("book.sqlite.damaged-*")
    assert aside.read_bytes() == data
    assert str(aside) in ran.out


def test_what_is_no_sound_copy_is_not_put_back(run: Run, book: Path, tmp_path: Path) -> None:
    held, letter, copy = rows(book), tmp_path / "letter.txt", tmp_path / "copy.sqlite"
    refused(run("logbook", "restore", "--logbook", book), "No copy of a logbook lies in")
    refused(run("logbook", "restore", copy, "--logbook", book), "No copy of a logbook lies in")
    letter.write_text("Dear owner")
    refused(run("logbook", "restore", letter, "--logbook", book), "is not a logbook")
    shutil.copy(book, copy)
    refused(run("logbook", "restore", copy, "--logbook", letter), "is not a logbook")
    assert letter.read_text() == "Dear owner"
    for change, words in (
        ("UPDATE pieces SET technique = 'fire'", f"The copy {copy} is damaged in table pieces"),
        ("UPDATE alembic_version SET version_num = '9999'", "was made by a newer tonematch"),
    ):
        with closing(sqlite3.connect(copy)) as other:
            other.execute(change)
            other.commit()
        refused(run("logbook", "restore", copy, "--logbook", book), words)
    assert rows(book) == held
    with closing(sqlite3.connect(book)) as other:
        other.execute("UPDATE pieces SET technique = 'fire'")
        other.commit()
    refused(run("logbook", "backup", "--logbook", book), "is damaged in table pieces, row 1")


@pytest.mark.proof
def test_a_file_is_no_place_for_a_backup(run: Run, book: Path, tmp_path: Path) -> None:
    file = tmp_path / "notes.txt"
    file.write_text("mine", encoding="utf-8")
    refused(run("logbook", "backup", file, "--logbook", book), "is a file: name a folder")
    assert file.read_text(encoding="utf-8") == "mine"


def test_a_logbook_in_use_is_not_replaced(run: Run, book: Path) -> None:
    run("logbook", "backup", "--logbook", book)
    held = rows(book)
    with closing(sqlite3.connect(book, isolation_level=None)) as other:
        other.execute("BEGIN IMMEDIATE")
        other.execute("UPDATE pieces SET name = 'hall frame'")
        refused(run("logbook", "restore", "--logbook", book), "is in use by another program")
        other.execute("ROLLBACK")
    assert rows(book) == held
