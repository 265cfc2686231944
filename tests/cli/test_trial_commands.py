"""trials: numbered, put right, put back, left out and learned from again."""

import re
from pathlib import Path

import numpy as np
import pytest

from tests.cli.commands import Ran, Run, refused
from tonematch.logbook.core import KeptTrial
from tonematch.logbook.store import open_logbook

HEADER = (
    "piece,technique,finish,layer,kind,strength,coats,before_L,before_a,before_b,"
    "after_L,after_a,after_b\n"
)
FIRST = "frame,water,burnished,raw umber wash,wash,5,1,88,6,35,80,6,33\n"
SECOND = "frame,water,burnished,dark wax,wax,1,1,80,6,33,77,6,31\n"


@pytest.fixture
def book(run: Run, tmp_path: Path) -> Path:
    """Two trials; the strength of the first was meant to be 0.5."""
    path, table = tmp_path / "book.sqlite", tmp_path / "two.csv"
    table.write_text(HEADER + FIRST + SECOND)
    assert "2 of 2" in run("trials", "import", table, "--logbook", path).out
    return path


def kept(book: Path, number: int = 1) -> KeptTrial:
    with open_logbook(book) as opened:
        return {trial.id: trial for trial in opened.kept_trials()}[number]


def listed(run: Run, book: Path) -> list[str]:
    return run("trials", "list", "--logbook", book).out.splitlines()


def test_the_list_prints_the_numbers(run: Run, book: Path) -> None:
    lines = listed(run, book)
    assert lines[0].startswith("Trial 1, frame: raw umber wash (wash), strength 5")
    assert lines[1].startswith("Trial 2, frame: dark wax")
    assert lines[2].startswith("2 trials; CIELAB for illuminant D50")


def test_a_trial_is_put_right_and_back(run: Run, book: Path) -> None:
    ran = run("trials", "put-right", 1, "--strength", "0.5", "--reason", "slip", "--logbook", book)
    assert ran.status == 0
    assert "Trial 1 (put right), frame: raw umber wash (wash), strength 0.5" in ran.out
    assert "trials put-back 1" in ran.out
    assert kept(book).trial.application.strength == 0.5
    assert listed(run, book)[0].startswith("Trial 1 (put right)")
    with open_logbook(book) as opened:
        assert "slip" in {change.reason for change in opened.history("frame").changes}
    ran = run("trials", "put-back", 1, "--logbook", book)
    assert ran.out.startswith("Trial 1, frame: raw umber wash (wash), strength 5")
    refused(run("trials", "put-back", 1, "--logbook", book), "nothing to put back")


def test_every_value_can_be_put_right(run: Run, book: Path) -> None:
    ran = run("trials", "put-right", 2, "--layer", "Clear Shellac seal", "--coats", 2,
              "--before", "81,5,34", "--after", "80.5,5,34.25", "--logbook", book)  # fmt: skip
    assert ran.status == 0
    trial = kept(book, 2).trial
    laid = trial.application
    assert (laid.layer, laid.kind, laid.strength, laid.coats) == (
        "clear shellac seal",
        "seal",
        1,
        2,
    )
    np.testing.assert_array_equal(laid.before, (81, 5, 34))
    np.testing.assert_array_equal(trial.after, (80.5, 5, 34.25))


def test_a_lustre_can_be_put_right_and_back(run: Run, book: Path, tmp_path: Path) -> None:
    head = "layer,strength,before_L,before_a,before_b,after_L,after_a,after_b,before_lustre"
    head += ",temperature,humidity,bench"
    table = tmp_path / "measured.csv"
    table.write_text(f"{head}\nclear wax,1,70,5,40,69,5,40,0.24,12.5,60,left\n", encoding="utf-8")
    run("trials", "import", table, "--logbook", book)
    listed = run("trials", "list", "--logbook", book).out
    (number,) = re.findall(r"Trial (\d+), .*lustre before 0\.24 stops, after not measured", listed)
    assert "laid at 12.5 °C, 60 % relative humidity" in listed
    table.write_text(table.read_text(encoding="utf-8").replace(",60", ",160"), encoding="utf-8")
    refused(run("trials", "import", table, "--logbook", book), "column humidity: 160 is outside 0")
    out = tmp_path / "out.csv"
    run("trials", "export", out, "--layer", "clear wax", "--logbook", book)
    assert "0.24,12.5,60.0,left" in out.read_text(encoding="utf-8")
    put = run("trials", "put-right", number, "--lustre-before", 2.4, "--logbook", book)
    assert "lustre before 2.40 stops" in put.out
    assert "lustre before 0.24 stops" in run("trials", "put-back", number, "--logbook", book).out


def test_a_misspelt_layer_is_told_and_lists_nothing(run: Run, book: Path, tmp_path: Path) -> None:
    refused(run("trials", "list", "--layer", "dark wx", "--logbook", book), "did you mean")
    out = tmp_path / "some.csv"
    refused(run("trials", "export", out, "--layer", "dark wx", "--logbook", book), "did you mean")
    assert not out.exists()
    ran = run("trials", "list", "--layer", "Dark Wax", "--logbook", book)
    assert ran.status == 0


def test_another_layer_is_held_against_the_rules(run: Run, book: Path) -> None:
    """Nothing water-borne sticks over wax: common practice, no source."""
    assert kept(book, 1).cautions == ()
    third = book.with_name("third.csv")
    third.write_text(HEADER + SECOND.replace("77,6,31", "76,6,30"))
    run("trials", "import", third, "--logbook", book)
    run("trials", "put-right", 3, "--layer", "burnt umber wash", "--logbook", book)
    assert any("wax" in caution.lower() for caution in kept(book, 3).cautions)


def test_a_trial_is_left_out_and_learned_from_again(run: Run, book: Path) -> None:
    ran = run("trials", "leave-out", 1, "--reason", "wrong pot", "--logbook", book)
    assert "learn-again 1" in ran.out
    lines = listed(run, book)
    assert lines[0].startswith("Trial 1 (left out), frame")
    assert lines[2].startswith("2 trials, 1 of them left out;")
    out = book.with_name("out.csv")
    assert run("trials", "export", out, "--logbook", book).out.startswith("1 trials written")
    assert run("trials", "learn-again", 1, "--logbook", book).status == 0
    assert not kept(book).excluded


@pytest.mark.parametrize(
    ("options", "words"),
    [
        ((), "Nothing was said to put right"),
        (("--strength", "5"), "reads so already"),
        (("--strength", "0"), "0 is not above 0"),
        (("--strength", "nan"), "nan is not a number"),
        (("--strength", "50"), "50 is more than 10"),
        (("--coats", "0"), "coats"),
        (("--coats", "1.5"), "--coats 1.5: give a whole number"),
        (("--before", "88,6"), "--before 88,6: give three numbers"),
        (("--after", "188,6,35"), "--after"),
        (("--layer", "raw umbre wash"), "did you mean 'raw umber wash'"),
        (("--layer", "gold paint"), "choose one that is"),
    ],
)
def test_what_cannot_be_put_right(
    run: Run, book: Path, options: tuple[str, ...], words: str
) -> None:
    refused(run("trials", "put-right", 1, *options, "--logbook", book), words)
    trial = kept(book).trial
    assert (trial.application.layer, trial.application.strength) == ("raw umber wash", 5)


def each(run: Run, book: Path, number: object) -> list[Ran]:
    commands = (
        ("put-right", number, "--strength", "1"), ("put-back", number), ("leave-out", number),
        ("learn-again", number),
    )  # fmt: skip
    return [run("trials", *command, "--logbook", book) for command in commands]


def test_numbers_that_no_trial_has(run: Run, book: Path, tmp_path: Path) -> None:
    for ran in each(run, book, 7):
        refused(ran, "No trial 7 is in the logbook: 'tonematch trials list'")
    for ran in each(run, book, "first"):
        refused(ran, "NUMBER first: give a whole number")
    empty = tmp_path / "empty.sqlite"
    assert run("pieces", "add", "frame", "--logbook", empty).status == 0
    for ran in each(run, empty, 1):
        refused(ran, "No trial 1 is in the logbook")
