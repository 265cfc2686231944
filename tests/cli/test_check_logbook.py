"""The check of a logbook: what is wrong is told, and only what is left over is swept."""

import os
import sqlite3
from contextlib import closing
from pathlib import Path

import pytest

from tests.cases import few_of
from tests.cli.commands import Run
from tests.logbook.whole_logbook import pictures, rows


@pytest.fixture
def book(book: Path, run: Run) -> Path:
    """With a copy of it beside it."""
    assert run("logbook", "backup", "--logbook", book).status == 0
    return book


def change(book: Path, statement: str) -> None:
    with closing(sqlite3.connect(book)) as other:
        other.execute(statement)
        other.commit()


def test_nothing_is_wrong_with_a_logbook_that_was_worked_in(run: Run, book: Path) -> None:
    """Whatever a face changes leaves a trace, so that it reads as it should."""
    for command in (
        ("pieces", "gilding", "frame", "--bole", "red"),
        ("trials", "leave-out", "1"),
        ("shelf", "rename", "rub", "rub to pink"),
        ("pieces", "add", "bracket"),
    ):
        assert run(*command, "--logbook", book).status == 0
    ran = run("logbook", "check", "--logbook", book)
    assert ran.out.endswith("Nothing is wrong; to be mended: nothing.\n")
    (stored,) = [line for line in ran.out.splitlines() if line.startswith("On the disk: ")]
    assert f"rows {book.stat().st_size / 1e6:.1f} MB" in stored
    assert "photographs " in stored
    assert "copies " in stored
    assert ran.status == 0


@pytest.mark.parametrize(
    ("statement", "words"),
    few_of(
        [
            (
                "UPDATE trials SET strength = 0.75 WHERE id = 2",
                "trials, row 2, cannot be what was written",
            ),
            (
                "UPDATE pieces SET tolerance = 2.5 WHERE id = 2",
                "pieces, row 2, cannot be what was written",
            ),
            (
                "UPDATE readings SET a = a + 0.001 WHERE id = 1",
                "readings, row 1, cannot be what was",
            ),
            (
                "DELETE FROM plan_steps WHERE id = 1",
                "plan_steps, row 1, is gone or reads otherwise",
            ),
            (
                "UPDATE trials SET kind = 'wbsh' WHERE id = 1",
                "trials, row 1, column kind, cannot be",
            ),
            (
                "UPDATE trials SET piece_id = 99 WHERE id = 1",
                "points to a row of pieces that is not",
            ),
        ],
    ),
)
def test_a_changed_value_is_told(run: Run, book: Path, statement: str, words: str) -> None:
    change(book, statement)
    ran = run("logbook", "check", "--logbook", book)
    assert words in ran.out
    assert (ran.status, ran.err) == (2, "")
    assert "\nWrong: " in ran.out


def test_lost_and_changed_photographs_are_told(run: Run, book: Path, tmp_path: Path) -> None:
    first, second = sorted((tmp_path / "book photographs").glob("*/*"))[:2]
    first.unlink()
    second.write_bytes(b"another")
    ran = run("logbook", "check", "--mend", "--logbook", book)
    assert f"The photograph {first} is kept in the logbook but cannot be read" in ran.out
    assert f"The photograph {second} has changed since it was kept" in ran.out
    assert ran.status == 2
    # Such a logbook goes out all the same, without them, and comes in again.
    out, other = tmp_path / "out.zip", tmp_path / "other.sqlite"
    assert "Lost or changed since they were kept, and not in it: " in run(
        "logbook", "export", out, "--logbook", book).out  # fmt: skip
    assert "that the archive had lost" in run("logbook", "import", out, "--logbook", other).out
    assert rows(other) == rows(book)


def test_only_what_is_left_over_is_swept(run: Run, book: Path, tmp_path: Path) -> None:
    held, kept = rows(book), pictures(book)
    folder = tmp_path / "book photographs" / "ab"
    folder.mkdir(exist_ok=True)
    old, young = [folder / f".tonematch-draft-{n}" for n in "12"]
    orphan, begun = [folder / f"{n}.jpg" for n in ("abandoned", "begun")]
    for left in (old, young, orphan, begun):
        left.write_bytes(b"half")
    for left in (old, orphan):
        os.utime(left, (0, 0))
    ran = run("logbook", "check", "--logbook", book)
    assert "Nothing is wrong; to be mended: 2." in ran.out
    assert old.exists()
    assert orphan.exists()
    ran = run("logbook", "check", "--mend", "--logbook", book)
    aside = tmp_path / "book left over" / orphan.name
    assert f"lie in {aside.parent} now" in ran.out
    assert [p.exists() for p in (old, young, orphan, begun)] == [False, True, False, True]
    assert aside.read_bytes() == b"half"
    assert (rows(book), kept.items() <= pictures(book).items()) == (held, True)
    assert "to be mended: nothing" in run("logbook", "check", "--logbook", book).out
