"""Patinas on brass leaf, as a gilder asks for them: what they do, and what they ask for."""

from pathlib import Path

import pytest

from tests.cli.commands import Run

BROWN, BLACK, GREEN = (f"{colour} patina on brass" for colour in ("brown", "black", "green"))


@pytest.fixture
def frame(run: Run, tmp_path: Path) -> tuple[str, ...]:
    """A frame in brass leaf on oil size, long cured."""
    asked = ("--piece", "frame", "--logbook", str(tmp_path / "book.sqlite"))
    gilding = ("--technique", "oil", "--leaf", "brass", "--hours", "900")
    assert run("pieces", "add", "frame", *gilding, *asked[2:]).status == 0
    return asked


def test_patinas_part_in_colour_and_each_says_what_it_gives_off(
    run: Run, frame: tuple[str, ...]
) -> None:
    asked = ("predict", *frame, "--from", "76,5,26", "--json")
    told = {name: run(*asked, "--layer", f"{name}:1").json for name in (BROWN, BLACK, GREEN)}
    ends = {name: one["steps"][0]["lab"] for name, one in told.items()}
    assert ends[BLACK][0] < ends[BROWN][0] - 10.0
    assert ends[GREEN][1] < -5.0 < ends[BLACK][1] < ends[BROWN][1]
    for name, sulphide, copper in ((BROWN, 1, 0), (BLACK, 1, 1), (GREEN, 0, 1)):
        said = str(told[name])
        assert "'blocked'" not in said
        assert said.count("hydrogen sulphide, which is poisonous") == sulphide
        assert said.count("copper salts in") == copper
        assert said.count("until it is sealed: seal it as soon as") == 1


def test_a_patina_is_for_bare_brass_and_what_tones_it_goes_over_a_seal(
    run: Run, frame: tuple[str, ...]
) -> None:
    asked = ("predict", *frame, "--from", "60,-8,16")
    sealed = ("--laid", "clear shellac seal")
    assert "patinate first" in " ".join(run(*asked, *sealed, "--layer", f"{GREEN}:1").out.split())
    gold = ("pieces", "gilding", "frame", "--leaf", "23.75 carat", *frame[2:])
    glaze = ("--laid", GREEN, "--layer", "raw umber glaze:0.5")
    assert "seal them first" in " ".join(run(*asked, *glaze).out.split())
    assert run(*gold).status == 0
    assert "leaves a stain and no patina" in run(*asked, "--layer", f"{GREEN}:1").out


@pytest.mark.parametrize(
    ("leaf", "is_gold"),
    [("Dutch gold", False), ("Composition gold leaf", False), ("Dutch gold, edge 23 ct", True),
     ("old Dutch gold", True), ("red gold", True), ("lemon gold, 18 carat", True)],
)  # fmt: skip
def test_dutch_gold_is_brass_and_takes_a_patina(
    run: Run, frame: tuple[str, ...], leaf: str, is_gold: bool
) -> None:
    run("pieces", "gilding", "frame", "--leaf", leaf, *frame[2:])
    told = run("predict", *frame, "--from", "60,-8,16", "--layer", f"{GREEN}:1").out
    assert ("leaves a stain and no patina" in told) == is_gold
