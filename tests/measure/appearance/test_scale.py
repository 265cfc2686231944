"""Millimetres per pixel from a card whose size is known."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tonematch.errors import ValueRefused
from tonematch.measure.appearance.area_picture import scale_from_card
from tonematch.measure.area.areas import box_area, polygon_area
from tonematch.measure.core import Area


def turned(width: float, height: float, degrees: float, tilt: float = 0.0) -> Area:
    """A card about (500, 400), turned in the picture and foreshortened from left to right."""
    c, s = math.cos(math.radians(degrees)), math.sin(math.radians(degrees))
    squeezed = width * math.cos(math.radians(tilt))
    half = [(-0.5, -0.5), (0.5, -0.5), (0.5, 0.5), (-0.5, 0.5)]
    sides = [(x * squeezed, y * height) for x, y in half]
    corners = [(500 + c * x - s * y, 400 + s * x + c * y) for x, y in sides]
    return polygon_area("card", corners, "card")


def test_upright_box() -> None:
    card = box_area("card", (10, 20, 200, 100), "card")
    assert scale_from_card(card, 50.0) == pytest.approx(0.25)
    assert scale_from_card(card, 50.0, 25.0) == pytest.approx(0.25)


@given(
    st.floats(60, 400), st.floats(60, 400), st.floats(-40, 40), st.floats(0.02, 2.0), st.booleans()
)
def test_a_turned_card_has_the_scale_of_an_upright_one(
    width: float, height: float, degrees: float, mm: float, both: bool
) -> None:
    found = scale_from_card(turned(width, height, degrees), width * mm, height * mm * both or None)
    assert found == pytest.approx(mm, rel=1e-3)


def test_any_polygon_is_measured_by_the_rectangle_around_it() -> None:
    corners = [(100, 50), (180, 50), (200, 70), (200, 150), (120, 150), (100, 130)]
    assert scale_from_card(polygon_area("card", corners), 50.0, 50.0) == pytest.approx(0.5)


def test_a_card_seen_from_the_side_gives_the_mean_of_two_directions() -> None:
    # Foreshortened by cos(25 degrees) = 0.906 one way, not at all the other.
    card = turned(200, 100, 0, tilt=25)
    assert scale_from_card(card, 100.0) == pytest.approx(0.5 / 0.906, rel=1e-3)
    assert scale_from_card(card, 100.0, 50.0) == pytest.approx(0.5 / math.sqrt(0.906), rel=1e-3)


@pytest.mark.parametrize("size", [(0.0, None), (-5.0, None), (math.nan, None), (50.0, math.inf)])
def test_sizes_that_cannot_be(size: tuple[float, float | None]) -> None:
    with pytest.raises(ValueRefused, match="cannot be"):
        scale_from_card(box_area("card", (10, 20, 200, 100)), *size)


def test_width_and_height_that_do_not_fit_the_shape() -> None:
    with pytest.raises(ValueRefused, match="shape that was marked"):
        scale_from_card(box_area("card", (10, 20, 200, 100)), 50.0, 50.0)
