"""Words for a difference: repair minus original, as common practice of the trade has it."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from tonematch.measure.words import say_difference

OLD = (60.0, 8.0, 30.0)


@pytest.mark.parametrize(
    ("new", "words"),
    [
        ((66, 8, 30), "The repair is much lighter than the original: tone it darker."),
        ((63.2, 8, 30), "The repair is lighter than the original: tone it darker."),
        ((60.6, 8, 30), "The repair is a little lighter than the original, near enough."),
        (OLD, "The repair reads the same as the original."),
    ],
)
def test_whole_sentences(new: tuple[float, float, float], words: str) -> None:
    assert say_difference(OLD, new, 2.0) == words


@pytest.mark.parametrize(
    ("new", "said", "asked"),
    [
        ((65, 5, 32), ("lighter", "yellower"), ("darker", "redder")),
        ((60, 12, 28), ("redder",), ("yellower",)),
        ((60, 2, 31), ("yellower",), ("redder",)),
        ((60, 8 * 1.5, 30 * 1.5), ("cleaner",), ("duller",)),
        ((60, 8 * 0.6, 30 * 0.6), ("duller",), ("cleaner",)),
        ((52, 8, 30), ("darker",), ("lighter", "take back")),
        ((60, -8, 29), ("greener",), ("yellower",)),
    ],
)
def test_direction(
    new: tuple[float, float, float], said: tuple[str, ...], asked: tuple[str, ...]
) -> None:
    statement, remedy = say_difference(OLD, new, 1.0).split(": ")
    assert all(word in statement for word in said)
    assert all(word in remedy for word in asked)


@pytest.mark.parametrize(
    ("new", "word"),
    [((50, 4, 0), "redder"), ((50, -4, 0), "greener"), ((50, 0, 4), "yellower"),
     ((50, 0, -4), "bluer")],
)  # fmt: skip
def test_nearly_grey_is_told_by_its_axes(new: tuple[float, float, float], word: str) -> None:
    assert word in say_difference((50, 0, 0), new, 1.0)


OPPOSITES = {"lighter": "darker", "cleaner": "duller"}
golds = st.tuples(st.floats(40, 85), st.floats(1, 14), st.floats(15, 45)).map(np.array)


@given(one=golds, other=golds)
def test_exchanged_colours_exchange_the_words(one: np.ndarray, other: np.ndarray) -> None:
    there = say_difference(one, other, 1.0).split(":")[0]
    back = say_difference(other, one, 1.0).split(":")[0]
    for word, opposite in OPPOSITES.items():
        assert (f" {word}" in there) == (f" {opposite}" in back)
        assert (f" {opposite}" in there) == (f" {word}" in back)
