"""leaf: which gold to lay."""

from pathlib import Path

import pytest

from tests.cli.commands import Run, refused
from tonematch.toning.planning.leaf import load_leaves


def colour(name: str) -> str:
    (lab,) = (leaf.lab for leaf in load_leaves() if leaf.name == name)
    return ",".join(map(str, lab))


@pytest.mark.parametrize("name", ["23.75 carat", "18 carat lemon"])
def test_untoned_gilding_asks_for_its_own_leaf(run: Run, trial_file: Path, name: str) -> None:
    """Colours of leaf by optical constants: Johnson and Christy 1972; Rioux et al. 2014."""
    ran = run("leaf", "--to", colour(name), "--trials", trial_file, "--technique", "water",
              "--json")  # fmt: skip
    first = ran.json["ways"][0]
    assert first["leaf"] == name
    assert first["worn_through"] == 0
    assert first["plan"]["steps"] == []


def test_only_what_one_has_and_what_may_be_laid(run: Run, trial_file: Path) -> None:
    asked = ("leaf", "--to", "79.3,9.6,33.4", "--trials", trial_file, "--leaf", "22 carat",
             "--bole", "red bole", "--bole", "black bole", "--shelf", "dark wax")  # fmt: skip
    ways = run(*asked, "--json").json["ways"]
    assert {way["leaf"] for way in ways} == {"22 carat"}
    assert {way["bole"] for way in ways} <= {"red bole", "black bole"}
    assert {step["layer"] for way in ways for step in way["plan"]["steps"]} <= {"dark wax"}
    told = run(*asked).out
    assert told.startswith("Way 1. Lay 22 carat leaf")
    assert "gild a strip and compare it first" in told


def test_an_empty_logbook_knows_the_first_guesses(run: Run, tmp_path: Path) -> None:
    ran = run("leaf", "--to", "79.3,9.6,33.4", "--logbook", tmp_path / "b.sqlite", "--leaf",
              "23.75 carat", "--bole", "red bole", "--json")  # fmt: skip
    assert ran.json["ways"]


@pytest.mark.parametrize(
    ("options", "words"),
    [
        (("--leaf", "24 carrot"), "23.75 carat"),
        (("--bole", "blue bole"), "red bole"),
        (("--shelf", "dark wx"), "did you mean 'dark wax'"),
        (("--technique", "fire"), "--technique fire"),
        (("--tolerance", "-1"), "tolerance of -1"),
        (("--to", "188,6,35"), "--to"),
        (("--to", "nan,6,35"), "--to"),
        (("--trials", "none.csv"), "leave out one"),
    ],
)
def test_bad_wishes(run: Run, tmp_path: Path, options: tuple[str, ...], words: str) -> None:
    book = tmp_path / "b.sqlite"
    refused(run("leaf", "--to", "79.3,9.6,33.4", "--logbook", book, *options), words)


def test_no_file_of_trials(run: Run, tmp_path: Path) -> None:
    refused(run("leaf", "--to", "79.3,9.6,33.4", "--trials", tmp_path / "none.csv"), "none.csv")
