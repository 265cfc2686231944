"""What is said of drying and lustre, as at the bench (common practice, no source)."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from tonematch.toning.core import Layer, Prediction, Step, Surface
from tonematch.toning.layers.shelf import load_shelf
from tonematch.toning.planning.plan_words import cautions_of, say_hours


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


def _said(layer: Layer, coats: int = 1) -> tuple[str, ...]:
    step = Step(layer.name, layer.kind, 1.0, coats, Prediction(np.zeros(3), np.eye(3)))
    return cautions_of(Surface("water", "burnished"), [layer], [step])


def test_a_rub_has_nothing_to_dry() -> None:
    said = _said(load_shelf()["rub to bole"])
    assert "Photograph again after rub to bole." in said
    assert not any(sentence.startswith("Let ") for sentence in said)


def test_a_wash_dries_in_minutes_each_coat_of_it() -> None:
    said = _said(load_shelf()["raw umber wash"], 2)
    assert "Let each coat of raw umber wash dry 15 to 60 minutes, then photograph again." in said


def test_what_dries_at_once_is_not_waited_for() -> None:
    wash = replace(load_shelf()["raw umber wash"], drying_hours=(0.0, 0.0))
    assert not any(sentence.startswith("Let ") for sentence in _said(wash))


@pytest.mark.parametrize(
    ("names", "words"),
    [
        (["clear shellac seal"], "Clear shellac seal lowers the lustre"),
        (["clear shellac seal", "rottenstone dust"], "Rottenstone dust lowers the lustre"),
        (["rottenstone dust", "dark wax"], "Dark wax leaves a satin lustre"),
        (["clear shellac seal", "raw umber glaze"], "Clear shellac seal lowers the lustre"),
        (["rottenstone dust", "clear shellac seal"], "Clear shellac seal raises the lustre"),
    ],
)
def test_the_last_layer_that_touches_the_lustre_decides_it(names: list[str], words: str) -> None:
    shelf = load_shelf()
    laid = [shelf[name] for name in names]
    nothing = Prediction(np.zeros(3), np.eye(3))
    steps = [Step(layer.name, layer.kind, 1.0, 2, nothing) for layer in laid]
    said = cautions_of(Surface("water", "burnished"), laid, steps)
    assert [one for one in said if "lustre: compare" in one] == [
        f"{words}: compare the lustre too, in a moving light."
    ]


def test_a_layer_without_lustre_says_nothing_of_it() -> None:
    glaze = load_shelf()["raw umber glaze"]
    step = Step(glaze.name, glaze.kind, 0.5, 1, Prediction(np.zeros(3), np.eye(3)))
    said = cautions_of(Surface("water", "burnished"), [glaze], [step])
    assert said
    assert not any("lustre" in one for one in said)
