"""What is said of drying and lustre, as at the bench (common practice, no source)."""

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.cli.commands import Run
from tonematch.swatchbook import swatch_path
from tonematch.toning.core import Layer, Prediction, Step, Surface
from tonematch.toning.layers.rules import surface_cautions
from tonematch.toning.layers.shelf import load_shelf
from tonematch.toning.planning.plan_words import (
    say_chance,
    say_hours,
    say_job,
    say_work,
    worded,
)


@pytest.mark.parametrize(
    ("hours", "words"),
    [
        ((0.25, 1.0), "15 to 60 minutes"),
        ((0.0, 0.25), "up to 15 minutes"),
        ((1.5, 1.5), "90 minutes"),
        ((0.5, 12.0), "30 minutes to 12 hours"),
        ((1.0, 8.0), "1 to 8 hours"),
        ((24.0, 72.0), "24 to 72 hours"),
        ((24.0, 720.0), "24 hours to 30 days"),
        ((1.0, 96.0), "1 hour to 4 days"),
        ((0.0, 12.0), "up to 12 hours"),
        ((2.0, 2.0), "2 hours"),
    ],
)
def test_hours_are_said_as_at_the_bench(hours: tuple[float, float], words: str) -> None:
    assert say_hours(*hours) == words


@given(st.floats(0.01, 1000.0), st.floats(0.01, 1000.0))
def test_no_span_is_said_in_fractions_of_an_hour(one: float, other: float) -> None:
    least, most = sorted((one, other))
    words = say_hours(least, most)
    if most < 2.0:
        assert words.endswith(("minute", "minutes"))
        assert "hour" not in words
    assert not words.startswith("0 ")


BURNISH = Surface("water", "burnished")


def _minded(*laid: Layer, coats: int = 1) -> list[tuple[str, ...]]:
    """What is to be minded at each of some layers, on a colour that nothing moves."""
    nothing = Prediction(np.zeros(3), np.eye(3))
    steps = [Step(layer.name, layer.kind, 1.0, coats, nothing) for layer in laid]
    said = worded(steps, laid, [np.zeros(3)] * (len(laid) + 1), np.zeros(3), BURNISH)
    return [step.cautions for step in said]


def test_a_rub_has_nothing_to_dry_and_does_not_come_off() -> None:
    rub = load_shelf()["rub to bole"]
    assert say_work(rub, 1, BURNISH) == "light strokes on the high points"
    assert "Rub to bole cannot be undone: try it on a strip first." in _minded(rub)[0]


def test_a_wash_dries_in_minutes_each_coat_of_it() -> None:
    wash = load_shelf()["raw umber wash"]
    how, off = "brushed on, stippled or blotted while wet", "comes off: water"
    assert say_work(wash, 2, BURNISH) == f"{how}; each coat dries 15 to 60 minutes; {off}"
    assert say_work(replace(wash, drying_hours=(0.0, 0.0)), 1, BURNISH) == f"{how}; {off}"
    brew = Layer("brew", "wash", drying_hours=(1.0, 2.0))
    assert say_work(brew, 1, BURNISH) == "dries 1 to 2 hours; how it comes off is not known"


def test_what_holds_for_the_whole_job_stands_under_no_step() -> None:
    shelf = load_shelf()
    laid = shelf["raw umber glaze"], shelf["rottenstone dust"]
    said = " ".join(sentence for step in _minded(*laid) for sentence in step)
    assert "rags" not in said
    assert "silica" not in said
    heads = "oily rags catch fire, spirit burns, umber holds manganese and dust holds silica"
    assert say_job(laid) == heads
    assert any("Find out first" in sentence for sentence in surface_cautions(Surface()))


@pytest.mark.parametrize(
    ("name", "after", "target", "because"),
    [
        # Directions as `tonematch.measure.words` names them, one at a time.
        ("raw umber wash", (80, 7, 35), (70, 7, 35), "because the original is darker"),
        ("burnt sienna wash", (86, 11, 33), (86, 14, 31), "because the original is redder"),
        ("raw umber wash", (80, 7, 35), (86, 7, 25), "to make up for what the other layers do"),
        ("clear shellac seal", (86, 7, 35.5), (70, 7, 35), "to close the surface"),
    ],
)
def test_a_step_says_what_it_does_along_the_gap(
    name: str, after: tuple[float, ...], target: tuple[float, ...], because: str
) -> None:
    layer, nothing = load_shelf()[name], Prediction(np.zeros(3), np.eye(3))
    labs = [np.array([86.0, 7.0, 35.0]), np.array(after, dtype=float)]
    step = Step(name, layer.kind, 1.0, 1, nothing)
    (said,) = worded([step], [layer], labs, np.array(target, dtype=float), BURNISH)
    assert said.because == because


def test_size_evens_the_lustre_and_is_not_said_to_isolate(run: Run, trial_file: Path) -> None:
    # Over oil gilding: Armstrong, Cyclopedia of Painting, 1908, p. 165. Water goes through it.
    asked = ("suggest", "--trials", trial_file, "--from", "86,7,35", "--to", "82,7,33")
    told = run(*asked, "--technique", "oil", "--hours", "900", "--shelf", "gelatine size").out
    assert "1. Gelatine size, to even the lustre: " in told


def test_passes_are_told_for_each_coat_of_them(run: Run, trial_file: Path) -> None:
    asked = ("suggest", "--trials", trial_file, "--from", "88,7,35", "--to", "78,7,30")
    told = " ".join(run(*asked, "--technique", "oil", "--shelf", "rottenstone dust").out.split())
    assert "Rottenstone dust, 2 coats, " in told
    assert "passes of a soft brush with rottenstone, for each coat; the surplus" in told


def test_what_is_not_known_of_the_lustre_is_said_once(run: Run) -> None:
    asked = ("suggest", "--trials", swatch_path("demo", "trials.csv"), "--from", "88,7,35")
    to = ("--to", "78,7,30", "--technique", "water", "--finish", "burnished")
    told = " ".join(run(*asked, *to, "--lustre-from", "4", "--lustre-to", "1").out.split())
    assert told.count("The lustre should end") > 1
    assert told.count("You have not measured the lustre of these layers yet") == 1


@pytest.mark.parametrize(
    ("names", "words"),
    [
        (["clear shellac seal"], "Clear shellac seal lowers the lustre"),
        (["clear shellac seal", "rottenstone dust"], "Rottenstone dust lowers the lustre"),
        (["rottenstone dust", "dark wax"], "Dark wax leaves the surface satin"),
        (["clear shellac seal", "raw umber glaze"], "Clear shellac seal lowers the lustre"),
        (["rottenstone dust", "clear shellac seal"], "Clear shellac seal raises the lustre"),
    ],
)
def test_the_last_layer_that_touches_the_lustre_decides_it(names: list[str], words: str) -> None:
    shelf = load_shelf()
    laid = [shelf[name] for name in names]
    said = [one for step in _minded(*laid, coats=2) for one in step]
    assert [one for one in said if one.endswith(("the lustre.", "satin."))] == [f"{words}."]


def test_a_layer_without_lustre_says_nothing_of_it() -> None:
    (said,) = _minded(load_shelf()["raw umber glaze"])
    assert said
    assert not any("lustre" in one for one in said)


@pytest.mark.parametrize(
    ("chance", "words"),
    [
        (1.0, "almost sure (over 95 %)"),
        (0.64, "likely (64 %)"),
        (0.5, "an even chance (50 %)"),
        (0.0, "hardly possible (under 1 %)"),
    ],
)
def test_a_chance_has_words_and_per_cent(chance: float, words: str) -> None:
    assert say_chance(chance) == words
