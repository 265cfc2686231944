"""What is told of a gilding: kept with its piece, and held against the rules of layering."""

from datetime import datetime, timedelta, tzinfo
from pathlib import Path

import pytest

from tests.cli.commands import Run, refused
from tonematch.logbook import core
from tonematch.toning.layers.shelf import load_shelf

NEW_GOLD, OLD_GOLD = "88,6,35", "76,8,33"
FRESH = "Oil gilding under 48 hours old is still soft"
PERHAPS_FRESH = "Oil gilding takes nothing for its first 48 hours"


@pytest.fixture
def few_trials(trial_file: Path, tmp_path: Path) -> Path:
    """Two trials: enough to have learned something, and quick."""
    few = tmp_path / "few.csv"
    few.write_text("".join(trial_file.read_text(encoding="utf-8").splitlines(True)[:3]))
    return few


def test_suggest_says_of_oil_gilding_that_it_must_cure(run: Run, few_trials: Path) -> None:
    asked = (
        "suggest", "--trials", few_trials, "--from", NEW_GOLD, "--to", OLD_GOLD, "--layers", "1",
        "--shelf", "raw umber wash", "--technique", "oil",
    )  # fmt: skip
    told, known, fresh = (
        " ".join(run(*asked, *hours).out.split())
        for hours in ((), ("--hours", "600"), ("--hours", "47"))
    )
    assert told.count(PERHAPS_FRESH) == 1
    assert "1. Raw umber wash" in told
    assert PERHAPS_FRESH not in known
    assert fresh.count(FRESH) == 1
    assert "Stop here" in fresh
    refused(run(*asked, "--hours", "-1"), "--hours -1")
    refused(run(*asked, "--humidity", "nan"), "--humidity nan")
    refused(run(*asked, "--temperature", "50"), "--temperature 50: give a number from 0 to 45")


def test_hours_since_the_gilding_go_on_by_themselves(
    run: Run, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    book = ("--logbook", tmp_path / "book.sqlite")
    assert FRESH in run("pieces", "add", "frame", "--technique", "oil", "--hours", "47", *book).out

    class Later(datetime):
        @classmethod
        def now(cls, tz: tzinfo | None = None) -> datetime:  # type: ignore[override]
            return datetime.now(tz) + timedelta(hours=2)

    monkeypatch.setattr(core, "datetime", Later)
    told = run("pieces", "gilding", "frame", *book).out
    assert "Laid on" in told
    assert "stays soft for weeks" in told
    assert FRESH not in told


def test_what_a_piece_is_known_to_be_is_held_against_layers(
    run: Run, few_trials: Path, tmp_path: Path
) -> None:
    book = ("--logbook", tmp_path / "book.sqlite")
    run("trials", "import", few_trials, *book)
    run("pieces", "add", "frame", "--technique", "water", "--laid", "clear shellac seal", *book)
    asked = ("predict", "--piece", "frame", "--from", NEW_GOLD, *book, "--layer", "rub to bole:1")
    assert "never for old gilding" not in run(*asked).out
    told = run(
        "pieces", "gilding", "frame", "--old-gold", "--humidity", "80", "--temperature", "12", *book
    ).out
    assert "Workshop at 12 °C, 80 % relative humidity." in told
    assert "The gold itself is old." in told
    assert "accredited conservator" in told
    lines = run(*asked, "--layer", "clear shellac seal:1").out.splitlines()
    first, second = (n for n, line in enumerate(lines) if line[:2] in ("1.", "2."))
    assert any("Do not lay this: Rub to bole cannot be undone" in s for s in lines[first:second])
    assert any("cannot follow the clear shellac seal" in s for s in lines[first:second])
    assert any("Mind: Above 70 % relative humidity" in s for s in lines[second:])
    # What is typed stands before what is kept.
    assert "never for old gilding" not in run(*asked, "--new-gold").out
    found = run(*asked, "--json").json["findings"]
    assert {"rub-on-old-gilding", "rub-after-coating"} <= {one["rule"] for one in found}
    from_file = ("--trials", few_trials, "--from", NEW_GOLD, "--layer", "dark wax:1")
    refused(run("predict", "--piece", "frame", *from_file), "leave out --trials")


@pytest.mark.parametrize(
    ("finish", "beneath", "layer", "answer"),
    [
        ("matte", "clear wax", "rottenstone dust", "Mind: Dust rottenstone dust into the"),
        ("matte", "clear wax", "raw umber wash", "Do not lay this: Nothing holds over wax"),
        ("matte", "", "gelatine size", "Mind: Matte water gilding takes gelatine size weak"),
        ("burnished", "", "gelatine size", "Do not lay this: Gelatine size takes the burnish off"),
        ("matte", "rottenstone dust", "clear shellac seal", "Do not lay this: The brush carries"),
        ("matte", "rottenstone dust", "sprayed fixing coat", "Mind: Spray sprayed fixing coat"),
    ],
)
def test_what_the_trade_allows_is_not_forbidden(
    run: Run, few_trials: Path, finish: str, beneath: str, layer: str, answer: str
) -> None:
    """Common practice, no source."""
    gilding = ("--technique", "water", "--finish", finish)
    over = ("--laid", beneath) if beneath else ()
    asked = ("predict", "--trials", few_trials, "--from", NEW_GOLD, "--layer", f"{layer}:0.5")
    told = run(*asked, *gilding, *over).out
    assert answer in told
    assert ("Do not" in told) == ("Do not" in answer)


def test_an_old_mirror_is_kept_and_minded(run: Run, tmp_path: Path) -> None:
    book = ("--logbook", tmp_path / "book.sqlite")
    mercury, heavy = "Until about 1900 mirrors were backed", "Mirror glass is heavy"
    told = run("pieces", "add", "mirror", "--glass", "new mirror", *book).out
    assert heavy in told
    assert mercury not in told
    for again in (("--glass", "old mirror"), ("--humidity", "50")):
        told = run("pieces", "gilding", "mirror", *again, *book).out
        assert "It frames a mirror: old mirror." in told
        assert mercury in told
    refused(run("pieces", "add", "other", "--glass", "wet", *book), "'wet' is not one of")


def test_no_source_of_a_layers_words_is_printed(run: Run, empty_logbook: Path) -> None:
    printed = run("shelf", "list", "--json", "--logbook", empty_logbook).out
    for layer in load_shelf().values():
        assert layer.name in printed
        assert layer.source not in printed


def test_plans_are_held_to_the_tolerance_of_their_piece(
    run: Run, few_trials: Path, tmp_path: Path
) -> None:
    book = ("--logbook", tmp_path / "book.sqlite")
    run("trials", "import", few_trials, *book)
    run("pieces", "add", "frame", "--tolerance", "1", *book)
    asked = ("suggest", "--from", "80,8,32", "--to", "78.2,8,31.5", "--layers", "1", *book)
    of_frame = (*asked, "--piece", "frame")
    for words, tolerance in ((asked, 2), (of_frame, 1), ((*of_frame, "--tolerance", "3"), 3)):
        # 1.35 apart (CIEDE2000): within 2 and 3, not within 1.
        assert ("near enough already" in run(*words).out) == (tolerance > 1)


def test_bole_and_leaf_are_told_as_they_were_given(run: Run, tmp_path: Path) -> None:
    book = ("--logbook", tmp_path / "book.sqlite")
    run("pieces", "add", "frame", "--technique", "water", "--bole", "yellow", *book)
    told = run("pieces", "gilding", "frame", "--leaf", "23.75 ct", *book).out
    assert "finish not known. Bole: yellow. Leaf: 23.75 ct." in told
