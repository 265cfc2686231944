"""trials list by colour, words and day: the nearest first, and a sentence where there is none."""

import re
from pathlib import Path

import numpy as np
import pytest

from tests.cli.commands import Run, refused
from tonematch.logbook.trial_csv import read_trials
from tonematch.measure.colour.colour_science import colour
from tonematch.swatchbook import swatch_path
from tonematch.toning.layers.shelf import load_shelf

DEMO = swatch_path("demo", "trials.csv")
GOLD = (74.0, 6.0, 31.0)


@pytest.fixture
def book(run: Run, tmp_path: Path) -> Path:
    """The trials of the demonstration, which are invented."""
    path = tmp_path / "book.sqlite"
    assert run("trials", "import", DEMO, "--logbook", path).status == 0
    return path


@pytest.mark.parametrize("side", ["before", "after"])
def test_the_nearest_in_colour_are_listed_first(run: Run, book: Path, side: str) -> None:
    trials = read_trials(DEMO, load_shelf())
    labs = {"before": [t.application.before for t in trials], "after": [t.after for t in trials]}
    expected = np.asarray(colour.delta_E(np.array(GOLD), np.array(labs[side]), method="CIE 2000"))
    near = np.argsort(expected)[:4]
    assert expected[near].max() < 5
    out = run("trials", "list", f"--{side}", "74,6,31", "--count", 4, "--logbook", book).out
    found = re.findall(r"^CIEDE2000 (\S+): Trial (\d+), ", out, re.MULTILINE)
    assert [int(number) - 1 for _, number in found] == near.tolist()
    np.testing.assert_allclose([float(away) for away, _ in found], expected[near], atol=0.051)
    last = out.splitlines()[-1]
    assert f"{np.sum(expected <= 5)} trials within CIEDE2000 5, 4 shown, the nearest first" in last


def test_like_is_before_or_after_and_all_that_is_asked_holds(run: Run, book: Path) -> None:
    def numbers(*asked: object) -> set[str]:
        out = run("trials", "list", *asked, "--count", 60, "--logbook", book).out
        return set(re.findall(r"Trial (\d+)", out))

    before, after = numbers("--before", "80,8,32"), numbers("--after", "80,8,32")
    assert numbers("--like", "80,8,32") == before | after
    assert numbers("--before", "80,8,32", "--after", "80,8,32") == before & after
    assert before - after
    assert after - before
    umber = numbers("--like", "80,8,32", "--words", "UMBER")
    assert umber < before | after
    assert umber == numbers("--words", "umber") & (before | after)


def test_without_a_colour_the_newest_are_listed_by_day_and_count(run: Run, book: Path) -> None:
    out = run("trials", "list", "--count", 3, "--logbook", book).out
    assert re.findall(r"^Trial (\d+)", out, re.MULTILINE) == ["58", "59", "60"]
    assert "60 trials, the newest 3 shown; CIELAB" in out
    days = [trial.date for trial in read_trials(DEMO, load_shelf())]
    since = sorted(days)[40]
    out = run("trials", "list", "--since", since, "--logbook", book).out
    assert len(out.splitlines()) - 1 == sum(day >= since for day in days) < 60


def test_what_is_not_there_is_said(run: Run, book: Path, tmp_path: Path) -> None:
    out = run("trials", "list", "--after", "30,20,-60", "--logbook", book).out.splitlines()
    assert len(out) == 2
    assert "Nothing that you laid looked like this: the nearest is CIEDE2000" in out[1]
    ran = run("trials", "list", "--like", "74,6,31", "--words", "no such", "--logbook", book)
    assert ran.out == "No trial of 60 is like that: ask for fewer things at once.\n"
    empty = tmp_path / "empty.sqlite"
    table = tmp_path / "none.csv"
    table.write_text(DEMO.read_text(encoding="utf-8").splitlines()[0] + "\n", encoding="utf-8")
    run("trials", "import", table, "--logbook", empty)
    ran = run("trials", "list", "--like", "74,6,31", "--logbook", empty)
    assert ran.out == ("The logbook holds no trials yet: lay a layer and photograph it first.\n")


@pytest.mark.parametrize(
    ("typed", "words"),
    [
        (("--like", "74,6"), "--like 74,6: give three numbers"),
        (("--after", "174,6,31"), "--after 174,6,31: give three numbers, L* from 0 to 100"),
        (("--before", "gold"), "--before gold: give three numbers"),
        (("--since", "31.5.2026"), "--since 31.5.2026: give a date, year first"),
        (("--count", "0"), "--count"),
        (("--technique", "watr"), "--technique"),
        (("--layer", "raw umbre wash"), "did you mean 'raw umber wash'"),
        (("--zone", "edge"), "'edge' is a zone of a piece: say of which"),
    ],
)
def test_what_is_mistyped_is_told(run: Run, book: Path, typed: tuple[str, ...], words: str) -> None:
    refused(run("trials", "list", *typed, "--logbook", book), words)
