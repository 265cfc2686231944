"""shelf: list, add, rename, retire and bring back the gilder's own layers."""

from pathlib import Path
from typing import Any

import pytest

from tests.cases import few_of
from tests.cli.commands import Run, refused
from tonematch.logbook.store import open_logbook
from tonematch.toning.layers.shelf import load_shelf

TEA = "weak tea wash"


@pytest.fixture
def book(tmp_path: Path) -> Path:
    return tmp_path / "book.sqlite"


def listed(run: Run, book: Path, *options: str) -> dict[str, Any]:
    layers = run("shelf", "list", "--logbook", book, "--json", *options).json["layers"]
    return {layer["name"]: layer for layer in layers}


def test_an_empty_logbook_lists_what_ships(run: Run, empty_logbook: Path) -> None:
    assert set(listed(run, empty_logbook)) == set(load_shelf())
    assert listed(run, empty_logbook, "--own") == {}
    told = run("shelf", "list", "--logbook", empty_logbook).out
    assert "bitumen glaze (glaze, trials: 0, not at hand)" in told


def test_a_layer_of_ones_own_starts_like_a_known_one(run: Run, book: Path) -> None:
    ran = run(
        "shelf", "add", "Weak  Tea wash", "--kind", "wash", "--like", "raw umber wash",
        "--mix", "20 g black tea in 1 l hot water",
        "--material", "black tea", "--binder", "gum", "--solvent", "water", "--strengths", "0.5,1",
        "--most-coats", 3, "--drying-hours", "0.5,2", "--caution", "Tea fades.",
        "--logbook", book,
    )  # fmt: skip
    assert ran.status == 0
    with open_logbook(book) as opened:
        (kept,) = opened.own_layers()
    like = load_shelf()["raw umber wash"]
    assert (kept.name, kept.kind, kept.material) == (TEA, "wash", "black tea")
    assert (kept.strengths, kept.most_coats) == ((0.5, 1.0), 3)
    assert (kept.drying_hours, kept.cautions) == ((0.5, 2.0), ("Tea fades.",))
    assert (kept.absorption, kept.scattering) == (like.absorption, like.scattering)
    assert "raw umber wash" in kept.source
    told = listed(run, book, "--own")[TEA]
    assert told["own"]
    laid = run("predict", "--from", "88,6,35", "--layer", f"{TEA}:1", "--logbook", book).out
    assert "Mind: Tea fades." in laid
    assert told["mix"]["take"] == [{"number": 20.0, "unit": "g", "of": "black tea"}]
    refused(
        run("shelf", "add", "weak coffee", "--kind", "wash", "--mix", "a spoon to a cup"), "mix"
    )


def test_trials_follow_a_layer_that_is_renamed(run: Run, book: Path, tmp_path: Path) -> None:
    own = tmp_path / "own.csv"
    own.write_text(
        "piece,layer,kind,strength,before_L,before_a,before_b,after_L,after_a,after_b\n"
        f"frame,{TEA},wash,0.5,88,6,35,80,6,33\n"
    )
    assert "\n1 of 1" in run("trials", "import", own, "--logbook", book).out
    assert not listed(run, book)[TEA]["own"]
    run("shelf", "add", TEA, "--kind", "wash", "--logbook", book)
    assert listed(run, book)[TEA]["own"]
    ran = run("shelf", "rename", TEA, "Strong Tea", "--reason", "it is not", "--logbook", book)
    assert ran.status == 0
    assert listed(run, book)["strong tea"]["trials"] == 1
    assert TEA not in listed(run, book)
    assert "strong tea (wash)" in run("trials", "list", "--logbook", book).out
    with open_logbook(book) as opened:
        assert "it is not" in {change.reason for change in opened.layer_changes("strong tea")}


def test_a_retired_layer_is_kept_and_comes_back(run: Run, book: Path) -> None:
    run("shelf", "add", TEA, "--kind", "wash", "--logbook", book)
    assert "kept" in run("shelf", "retire", TEA, "--reason", "mouldy", "--logbook", book).out
    assert not listed(run, book, "--own")[TEA]["at_hand"]
    refused(run("shelf", "add", TEA, "--kind", "wash", "--logbook", book), "bring back")
    refused(run("shelf", "retire", TEA, "--logbook", book), "of your own is on the shelf")
    assert run("shelf", "bring-back", TEA, "--logbook", book).status == 0
    assert listed(run, book, "--own")[TEA]["at_hand"]


@pytest.mark.parametrize(
    ("arguments", "words"),
    few_of(
        [
            (("add", "x", "--kind", "wsh"), "'wsh' is not one of 'seal'"),
            (("add", "x"), "--kind"),
            (("add", " ", "--kind", "wash"), "needs a name"),
            (("add", "raw umber wash", "--kind", "wash"), "comes with tonematch"),
            (("add", TEA, "--kind", "wash"), "is on your own shelf"),
            (("add", "x", "--kind", "wash", "--like", "raw umbre wash"), "mean 'raw umber wash'"),
            (("add", "x", "--kind", "wash", "--binder", "spit"), "binder"),
            (("add", "x", "--kind", "wash", "--strengths", "half"), "--strengths half"),
            (("add", "x", "--kind", "wash", "--strengths", "-1,1"), "above 0"),
            (("add", "x", "--kind", "wash", "--strengths", "nan"), "--strengths nan"),
            (("add", "x", "--kind", "wash", "--most-coats", "0"), "most coats"),
            (("add", "x", "--kind", "wash", "--drying-hours", "2"), "drying hours"),
            (("add", "x", "--kind", "rub", "--shows", "blue bole"), "red bole"),
            (("rename", "weak te", "tea"), "did you mean 'weak tea wash'"),
            (("rename", TEA, "raw umber wash"), "name of another layer"),
            (("rename", TEA, "  "), "needs a name"),
            (("rename", "raw umber wash", "mud"), "comes with tonematch"),
            (("retire", "raw umber wash"), "comes with tonematch"),
            (("retire", "weak te"), "did you mean 'weak tea wash'"),
            (("bring-back", "rust"), "No layer 'rust'"),
            (("add", "tea\x1b", "--kind", "wash"), "needs a name"),
            # A byte that is no UTF-8, as a shell hands it over (PEP 383).
            (("add", "x", "--kind", "wash", "--material", "tea\udcff"), "no text has"),
        ],
        6,
    ),
)
def test_bad_layers_change_nothing(
    run: Run, book: Path, arguments: tuple[str, ...], words: str
) -> None:
    run("shelf", "add", TEA, "--kind", "wash", "--logbook", book)
    before = listed(run, book)
    refused(run("shelf", *arguments, "--logbook", book), words)
    assert listed(run, book) == before


def test_who_has_no_layer_of_their_own_is_told_so(run: Run, empty_logbook: Path) -> None:
    for command in (("retire", "tea"), ("bring-back", "tea"), ("rename", "tea", "weak tea")):
        ran = run("shelf", *command, "--logbook", empty_logbook)
        refused(ran, "No layer 'tea' of your own is on the shelf: 'tonematch shelf list --own'")


def test_numbers_of_a_layer_are_told_as_they_were_typed(run: Run, book: Path) -> None:
    add = ("shelf", "add", "x", "--kind", "wash", "--logbook", book)
    refused(run(*add, "--strengths", "0,5"), "strengths: 0.0, 5.0 is not a list of numbers above 0")


def test_a_shipped_layer_described_anew_keeps_its_name(run: Run, book: Path) -> None:
    with open_logbook(book) as opened:
        opened.add_layer(load_shelf()["dark wax"])
    refused(run("shelf", "rename", "dark wax", "black wax", "--logbook", book), "keeps its name")
    assert run("shelf", "retire", "dark wax", "--logbook", book).status == 0
    assert listed(run, book)["dark wax"]["at_hand"]
