"""Numbers as a gilder says them: each with its unit or name."""

import numpy as np
import pytest

from tonematch.in_words import say_lab
from tonematch.logbook.core import Piece
from tonematch.screens.showing.plain_numbers import (
    say_drying,
    say_part,
    say_piece,
    say_times,
)
from tonematch.screens.showing.swatch import swatches_html
from tonematch.toning.core import Layer


@pytest.mark.parametrize(
    ("hours", "words"),
    [
        ((0.0, 0.0), "nothing to dry"),
        ((0.25, 1.0), "each coat dries 15 to 60 minutes"),
        ((24.0, 72.0), "each coat dries 24 to 72 hours"),
    ],
)
def test_drying_times_have_their_unit(hours: tuple[float, float], words: str) -> None:
    assert say_drying(Layer("any", "wash", drying_hours=hours)) == words
    assert say_drying(Layer("any", "rub", drying_hours=hours)) == "nothing to dry"


def test_parts_and_times_are_said_as_at_the_bench() -> None:
    assert [say_part(part) for part in (0.125, 0.75, 0.3, 1.0)] == ["⅛", "¾", "0.3", "full"]
    assert [say_times(number) for number in (1, 12)] == ["once", "12 times"]


def test_a_reading_shows_its_95_per_cent_interval() -> None:
    # 1.96 standard deviations to either side: the normal distribution, JCGM 101.
    words = say_lab(np.array([71.24, 5.06, -3.0]), np.diag([1.0, 0.25, 0.0]))
    assert words == "L* 71.2 \u00b1 2.0, a* 5.1 \u00b1 1.0, b* -3.0 \u00b1 0.0"


def test_what_is_invented_says_so() -> None:
    assert say_piece(Piece("frame", invented=True)) == "frame (invented)"
    assert say_piece(Piece("frame (invented)", invented=True)) == "frame (invented)"
    assert say_piece(Piece("frame")) == "frame"


def test_a_name_cannot_put_markup_on_the_page() -> None:
    page = swatches_html([("<script>x</script>", "#aabbcc"), ("b", "#ddeeff")])
    assert "<script>" not in page
    assert "#aabbcc" in page
