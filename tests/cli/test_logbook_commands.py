"""trials, record and demo."""

from pathlib import Path

from tests.cli.commands import Run, refused
from tonematch.logbook.trial_csv import read_trials
from tonematch.toning.layers.shelf import load_shelf


def test_trials_in_out_and_listed(run: Run, trial_file: Path, tmp_path: Path) -> None:
    book, out = tmp_path / "book.sqlite", tmp_path / "out.csv"
    assert (
        run("trials", "import", trial_file, "--logbook", book)
        .out.splitlines()[1]
        .startswith("60 of 60")
    )
    assert run("trials", "import", trial_file, "--logbook", book).out.startswith("0 of 60")
    assert run("trials", "export", out, "--logbook", book).status == 0
    shelf = load_shelf()
    assert len(read_trials(out, shelf)) == len(read_trials(trial_file, shelf)) == 60
    listed = run("trials", "list", "--logbook", book, "--layer", "dark wax").out.splitlines()
    assert len(listed) == 8
    assert all("invented" in line for line in listed[:-1])


def test_a_refused_file_imports_nothing(run: Run, trial_file: Path, tmp_path: Path) -> None:
    book, bad = tmp_path / "book.sqlite", tmp_path / "bad.csv"
    bad.write_text(
        trial_file.read_text(encoding="utf-8") + "p,,,,,raw umber wash,,-1,1,1,1,1,1,1,1,\n"
    )
    ran = run("trials", "import", bad, "--logbook", book)
    assert ran.status == 2
    assert "line 62" in ran.err
    assert run("trials", "list", "--logbook", book).out.startswith("0 trials")


def test_a_logbook_that_cannot_be_written(run: Run, tmp_path: Path) -> None:
    text = tmp_path / "notes.txt"
    text.write_text("my notes")
    for path in (tmp_path, text, text / "book.sqlite"):
        ran = run("trials", "list", "--logbook", path)
        assert ran.status == 2
        assert len(ran.err.strip().splitlines()) == 1
    assert text.read_text() == "my notes"


def test_trials_are_never_written_over_another_file(run: Run, tmp_path: Path) -> None:
    book, mine = tmp_path / "book.sqlite", tmp_path / "mine.csv"
    mine.write_text("my trials")
    refused(run("trials", "export", mine, "--logbook", book), "exists already")
    refused(run("trials", "export", tmp_path, "--logbook", book), "exists already")
    assert mine.read_text() == "my trials"


def test_a_record_of_no_piece(run: Run, tmp_path: Path) -> None:
    book = tmp_path / "b.sqlite"
    run("pieces", "add", "frame", "--logbook", book)
    ran = run("record", "mirror", "--out", tmp_path / "r.html", "--logbook", book)
    assert ran.status == 2
    assert "mirror" in ran.err


def test_demo_runs_the_whole_job(run: Run, tmp_path: Path) -> None:
    ran = run("demo", "--into", tmp_path / "demo")
    assert ran.status == 0
    for words in ("invented", "CIEDE2000", "Plan 1", "predicted", "made anew"):
        assert words in ran.out
    before, after = ran.out.split("\n4. ")
    assert before.split("\n2. ")[1].split("\n3. ")[0] != after
    made = {path.name for path in (tmp_path / "demo").iterdir()}
    assert {"logbook.sqlite", "record.html", "scene-1.jpg", "trials.csv"} <= made
    again = run("demo", "--into", tmp_path / "demo")
    assert again.status == 2
    assert "holds something already" in again.err
    listed = run("trials", "list", "--logbook", tmp_path / "demo" / "logbook.sqlite")
    assert "61 trials" in listed.out
