"""What is said of drying, in the words of the bench (common practice, no source)."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from tonematch.toning.core import Layer, Prediction, Step
from tonematch.toning.plan_words import say_cautions, say_hours
from tonematch.toning.rules import Surface
from tonematch.toning.shelf import load_shelf


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
    return say_cautions(Surface("water", "burnished"), [layer], [step])


def test_a_rub_has_nothing_to_dry() -> None:
    said = _said(load_shelf()["rub to bole"])
    assert "Photograph again after rub to bole, before the next layer." in said
    assert not any(sentence.startswith("Let ") for sentence in said)


def test_a_wash_dries_in_minutes_each_coat_of_it() -> None:
    said = _said(load_shelf()["raw umber wash"], 2)
    assert (
        "Let each coat of raw umber wash dry 15 to 60 minutes, then photograph again before the "
        "next layer."
    ) in said


def test_what_dries_at_once_is_not_waited_for() -> None:
    wash = replace(load_shelf()["raw umber wash"], drying_hours=(0.0, 0.0))
    assert not any(sentence.startswith("Let ") for sentence in _said(wash))
