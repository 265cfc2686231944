"""trials, record and demo."""

import re
from pathlib import Path

from tests.cli.commands import Run, refused
from tests.cli.test_record_command import text_of, told_in
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
    assert "holds no trials yet" in run("trials", "list", "--logbook", book).out


def test_a_logbook_that_cannot_be_written(run: Run, tmp_path: Path) -> None:
    text = tmp_path / "notes.txt"
    text.write_text("my notes")
    for path in (tmp_path, text, text / "book.sqlite"):
        ran = run("trials", "list", "--logbook", path)
        assert ran.status == 2
        assert len(ran.err.strip().splitlines()) == 1
    assert text.read_text() == "my notes"


def test_trials_are_never_written_over_another_file(
    run: Run, empty_logbook: Path, tmp_path: Path
) -> None:
    book, mine = empty_logbook, tmp_path / "mine.csv"
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


def test_the_record_says_of_all_that_lies_there_how_it_comes_off(run: Run, tmp_path: Path) -> None:
    """The seal from before the first trial, a layer since, and one that no shelf describes.

    Compensation is reversible, and its materials are named: AIC Commentaries to the Guidelines
    for Practice, 23.
    """
    book, table, out = tmp_path / "book.sqlite", tmp_path / "laid.csv", tmp_path / "record.html"
    run("pieces", "add", "frame", "--technique", "water", "--laid", "low-polarity resin seal",
        "--logbook", book)  # fmt: skip
    head = "piece,technique,layer,kind,strength,before_L,before_a,before_b,after_L,after_a,after_b"
    rows = ["frame,water,Raw Umber wash,wash,0.5,88,6,35,80,6,33",
            "frame,water,old brew,glaze,1,80,6,33,77,6,31"]  # fmt: skip
    table.write_text("\n".join([head, *rows]))
    assert run("trials", "import", table, "--logbook", book).out.startswith("2 of 2")
    assert run("record", "frame", "--out", out, "--logbook", book).status == 0
    page = " ".join(re.sub("<[^>]*>", " ", out.read_text(encoding="utf-8")).split())
    summary = page.partition("What lies on it, and how it comes off ")[2]
    assert summary.startswith(
        "With white spirit free of aromatics low-polarity resin seal With water raw umber wash "
        "How is not known old brew Aftercare"
    )
    assert "On the repair before the first trial low-polarity resin seal" in page
    assert "old brew Not on the shelf. not known" in page


def test_demo_runs_the_whole_job(run: Run, tmp_path: Path) -> None:
    ran = run("demo", "--into", tmp_path / "demo")
    assert ran.status == 0
    assert ran.out.startswith("All of this is invented")
    beginning, *rounds = ran.out.split("\nPlans from where the surface is, ")
    assert "no match" in beginning
    assert len(rounds) == 2
    for told in rounds:
        # What is laid is the first step of a plan that was printed.
        plans, laid = told.split("\nThe first layer of plan ")
        plan = plans.split(f"Plan {laid[0]}, ")[1]
        layer = laid.splitlines()[1].split(", strength")[0]
        assert re.search(f"  1[.] {layer.capitalize()}[:,] ", plan)
    _, last_step = rounds[-1].split("near enough.\nCIEDE2000 0.")
    assert "\nThe old gold breaks up in patches" in last_step
    made = {path.name for path in (tmp_path / "demo").iterdir()}
    assert {"logbook.sqlite", "record.html", "scene-1.jpg", "trials.csv"} <= made
    again = run("demo", "--into", tmp_path / "demo")
    assert again.status == 2
    assert "holds something already" in again.err
    logbook, pdf = tmp_path / "demo" / "logbook.sqlite", tmp_path / "record.pdf"
    run("record", "demonstration frame (invented)", "--out", pdf, "--logbook", logbook)
    words, read = told_in(tmp_path / "demo" / "record.html"), "".join(text_of(pdf).split())
    assert not [word for word in words.split() if word not in read]
    assert re.search(r"ΔL\* \+[0-9.]+ ± [0-9.]+ Δa\* ", words)
    assert "original: 2.8 %, repair: 2.8 % of the picture." in words
    listed = run("trials", "list", "--logbook", logbook)
    assert "62 trials" in listed.out
