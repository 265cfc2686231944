"""Undo and empty: what is typed, and what a person is told."""

from pathlib import Path

from tests.cli.commands import Run, refused
from tests.logbook.whole_logbook import pictures, rows


def test_what_was_done_last_is_undone(run: Run, book: Path) -> None:
    run("trials", "leave-out", 1, "--reason", "wrong pot", "--logbook", book)
    run("pieces", "gilding", "frame", "--bole", "red", "--logbook", book)
    ran = run("logbook", "undo", "--list", "--count", 2, "--logbook", book)
    newest, older, told = ran.out.splitlines()
    assert "frame described anew, " in newest
    assert "trial 2 (raw umber wash) left out (wrong pot), " in older or "trial 1" in older
    assert older.endswith(" at bench of the tests")
    assert told == "'tonematch logbook undo' undoes the first of these."
    number = older.split(":")[0]
    ran = run("logbook", "undo", number, "--logbook", book)
    assert ran.out.startswith("Undone: trial 1 (raw umber wash) left out (wrong pot), ")
    assert "left out" not in run("trials", "list", "--piece", "frame", "--logbook", book).out
    refused(run("logbook", "undo", number, "--logbook", book), "is left to undo")


def test_only_what_was_removed_is_emptied_and_only_when_asked(
    run: Run, book: Path, tmp_path: Path
) -> None:
    before, photographs = rows(book), pictures(book)
    assert run("logbook", "empty", "--logbook", book).out == "Nothing was removed.\n"
    ran = run("pieces", "remove", "frame", "--logbook", book)
    assert "'tonematch logbook undo' brings it back" in ran.out
    told = run("logbook", "empty", "--logbook", book).out
    assert told.startswith("To be emptied (--yes): pieces 1, photographs 3")
    assert len(rows(book)["trials"]) == len(before["trials"])
    ran = run("logbook", "empty", "--yes", "--logbook", book)
    assert ran.out.startswith("Gone from the logbook: pieces 1, photographs 3")
    after = rows(book)
    assert [len(after[t]) for t in ("pieces", "comparisons", "plans", "plan_steps")] == [2, 0, 0, 0]
    # What another piece needs, too, is where it was; the rest was put aside.
    assert len(pictures(book)) == 3
    aside = tmp_path / "book left over"
    assert {*pictures(book).values(), *(p.read_bytes() for p in aside.iterdir())} == {
        *photographs.values()
    }
    checked = run("logbook", "check", "--logbook", book)
    assert "Nothing is wrong" in checked.out
    *_, before_it, _ = sorted((tmp_path / "book copies").iterdir())
    run("logbook", "restore", before_it, "--logbook", book)
    assert [len(rows(book)[t]) for t in ("pieces", "trials")] == [3, len(before["trials"])]
