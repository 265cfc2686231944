"""Real photographs of 24-patch charts, read with one grey as the card."""

import pytest

from tests.measure.real_photographs import (
    NO_PHOTOS,
    PHOTOS,
    boxes,
    photographs,
    read_chart,
    read_with_chart,
    reference,
)
from tonematch.measure.area.areas import box_area
from tonematch.measure.calibration.card import calibrate, card_from_lab
from tonematch.measure.colour.difference import delta_e_2000
from tonematch.measure.comparison import compare
from tonematch.measure.reading.reading import read_area
from tonematch.photo.decode import load_photo

pytestmark = pytest.mark.skipif(not photographs(), reason=NO_PHOTOS)


@pytest.mark.parametrize(
    ("name", "linear"),
    [
        ("fishbox.jpg", False),
        ("colorchecker-classic-mini.jpg", False),
        ("source1_img.png", True),
        ("target_img.png", True),
    ],
)
def test_no_worse_than_the_figures_stated_with_the_photographs(name: str, linear: bool) -> None:
    # README beside the photographs: 5 to 8 mean CIEDE2000 with the card alone.
    result = read_chart(name, linear)
    assert result.refused + len(result.errors) == 23
    assert len(result.errors) >= 20
    assert result.mean < 8.0


@pytest.mark.parametrize("name", ["source1_img.png", "target_img.png"])
def test_linear_file_read_as_srgb_is_far_off(name: str) -> None:
    # README beside the photographs: wrong by 12 and more, which one grey cannot show.
    assert read_chart(name).mean > 12.0


@pytest.mark.parametrize("name", ["source1_img.png", "target_img.png"])
def test_chart_mends_a_file_that_is_not_srgb(name: str) -> None:
    # README beside the photographs: 2.3 to 5.4 with a correction, the tested patch left out.
    some = ["dark skin", "blue sky", "orange", "green", "yellow", "cyan", "neutral 8 (.23 D)"]
    assert read_with_chart(name, some).mean < 3.5


def test_chart_in_veiling_light_is_read_within_the_stated_figures() -> None:
    # README beside the photographs: 5.4 at worst, over the whole chart.
    assert read_with_chart("fishbox.jpg").mean < 5.4


def test_clipped_white_is_refused_not_read() -> None:
    result = read_chart("source1_img.png")
    assert result.refused == 1
    assert "white 9.5 (.05 D)" not in result.errors


def test_difference_of_two_greys_is_known_better_than_their_colour() -> None:
    truth = reference()
    one, other = "neutral 6.5 (.44 D)", "neutral 8 (.23 D)"
    photo, places = load_photo(PHOTOS / "fishbox.jpg"), boxes("fishbox.jpg")
    card = "neutral 5 (.70 D)"
    calibration = calibrate(
        photo, box_area("card", places[card]), card_from_lab(truth[card].tolist())
    )
    result = compare(
        read_area(photo, box_area("original", places[one]), calibration),
        read_area(photo, box_area("repair", places[other]), calibration),
    )
    assert result.verdict == "no match"
    assert "lighter" in result.words
    assert result.delta_e == pytest.approx(float(delta_e_2000(truth[one], truth[other])), abs=2.5)
