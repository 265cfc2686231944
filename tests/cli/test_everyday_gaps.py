"""What is printed for twelve everyday gaps is short, says nothing twice, and cautions."""

import re
from collections import Counter

import pytest

from tests.cases import few_of
from tests.cli.commands import Run, refused
from tests.cli.everyday_gaps import GAPS
from tonematch.measure.words import capital
from tonematch.toning.layers.shelf import load_shelf
from tonematch.toning.planning.plan_words import say_hours

MOST_LINES, WIDTH = 40, 100

# What a person must be told of each gap: rules with their sources in swatches/rules.toml, hazards
# common practice, no source.
TOLD = {
    "darker": ("spirit burns", "comes off: water", "; one flowing pass, not worked twice; "),
    "redder": ("because the original is darker and redder", "to isolate"),
    "greener": ("he shelf lacks something that takes down the red: green earth wash",),
    "greyer": ("dust holds silica", "because the original is duller and darker"),
    "dirtier": (
        "because the original is duller",
        "or dabbed-on wax holds it",
        "sinks unevenly into a wash",
    ),
    "cleaner": ("take back what lies on it", "grey gouache wash (water)"),
    "lighter, out of reach": (
        "toning mostly subtracts: look at the leaf",
        "Stop here: no layer brings it visibly nearer.",
    ),
    "already there": ("near enough already",),
    "huge": (
        "Plan 1, the surest, ",
        ": a rubbing through, then a glaze, then a wax; not all of it",
    ),
    "over-toned": (": a damp cotton swab, rolled", "raw umber wash (water)"),
    "oil gilding, two days old": (
        "press a knuckle on the gold",
        ": a wash, then a dusting.",
    ),
    "historic piece": ("accredited conservator", "to isolate"),
}


@pytest.mark.parametrize("name", few_of(list(GAPS), 4))
def test_what_is_told_of_an_everyday_gap(run: Run, name: str) -> None:
    ran = run(*GAPS[name].words)
    assert ran.status == 0
    lines = ran.out.splitlines()
    assert len(lines) <= MOST_LINES
    assert max(map(len, lines)) <= WIDTH
    text = " ".join(ran.out.split())
    sentences = Counter(re.split(r"(?<=[.?!]) (?=[A-Z])", text))
    again = [sentence for sentence, times in sentences.items() if times > 1]
    assert all(", as in plan " in sentence for sentence in again)  # a reference, not a sentence
    assert ("Plan 2" in text) == ("Plan 1, the " in text)  # a virtue is one beside others
    assert "strength 0" not in text
    assert not re.search("isolate the first|: seal it before", text)  # a plan lays that seal
    for words in TOLD[name]:
        assert words in text
    # Every layer that is laid says what goes into the pot, or which step before it did.
    steps = re.findall(r"^  \d\. (.*)", ran.out, re.MULTILINE)
    assert all(re.search(r": (\d|a )|, as in plan \d, step \d", step) for step in steps)
    for layer in load_shelf().values():  # and how it is laid
        if any(re.match(f"{capital(layer.name)}(, |: )(?!taken back)", step) for step in steps):
            assert layer.technique in text


def test_a_plan_does_not_forbid_what_it_lays(run: Run) -> None:
    asked = (*GAPS["darker"].words, "--old-gold", "--shelf", "raw umber glaze")
    told = " ".join(run(*asked).out.split())
    assert "Raw umber glaze, because" in told
    assert "should come off: prefer one that does" in told
    assert "choose another layer" not in told


@pytest.mark.proof
def test_four_plans_are_told_in_forty_lines(run: Run) -> None:
    told = run(*GAPS["darker"].words[:-2], "--from", "88,7,35", "--to", "78,7,30").out
    assert "Plan 4" in told
    assert len(told.splitlines()) <= MOST_LINES


def test_a_pot_is_as_large_as_is_asked(run: Run) -> None:
    asked = GAPS["darker"].words
    told = " ".join(run(*asked, "--shelf", "raw umber wash", "--pot", "5 l").out.split())
    assert re.search(r": \d+[05] ml raw .*? in \d\.\d{1,2} l water with 1[0-9] ml ox gall", told)
    for pot, volume in (((), 20), (("--pot", "0.1 l"), 100)):
        told = " ".join(run(*asked, "--shelf", "raw umber wash", *pot).out.split())
        measured = re.search(r": ([0-9.]+) ml .*?in ([0-9]+) ml water with ([0-9]+) drop", told)
        assert measured is not None
        colour, water, drops = map(float, measured.groups())
        assert colour + water == pytest.approx(volume, rel=0.05)
        assert drops == volume / 20
    refused(run(*asked, "--pot", "50 mil"), "--pot 50 mil: give a volume from 1 ml to 5 l, such as")


@pytest.mark.parametrize(("name", "times"), [("raw umber glaze", 2.0), ("raw umber wash", 4.0)])
def test_the_air_of_the_workshop_slows_what_dries(run: Run, name: str, times: float) -> None:
    # Twice as long for ten degrees less (van 't Hoff's rule), and what is water-borne twice as long
    # again at 75 % as at 50 % (Dalton 1802): swatches/drying.toml.
    asked = (*GAPS["darker"].words, "--shelf", name)
    least, most = load_shelf()[name].drying_hours
    usual, slow = say_hours(least, most), say_hours(times * least, times * most)
    assert f"dries {usual};" in " ".join(run(*asked).out.split())
    told = " ".join(run(*asked, "--temperature", "10", "--humidity", "75").out.split())
    assert f"dries {slow};" in told


def test_numbers_are_told_at_the_end_when_asked(run: Run) -> None:
    asked = GAPS["greyer"].words
    told, found = run(*asked, "--numbers").out, run(*asked, "--json").json["plans"][0]
    step = found["steps"][0]
    assert f"Plan 1 in numbers: {step['layer']} {step['strength']:g}, " in told
    assert "because the original is" in step["because"]
    assert step["cautions"]


def test_the_card_of_cautions_holds_what_plans_only_name(run: Run) -> None:
    card = run("cautions").out
    for hazard in ("heat themselves", "no flame", "silica", "manganese", "lead", "screws and wire"):
        assert hazard in card
    # Heat and lead, heat and fire-gilding, poisonous pigments, steel wool, waste: common practice,
    # no source.
    for hazard in ("heat gun", "Never heat fire-gilt", "vermilion", "from a spark", "the drain"):
        assert hazard in card
    lines = card.splitlines()
    assert len(set(lines)) == len(lines)
    assert "heat themselves" not in run(*GAPS["darker"].words).out
