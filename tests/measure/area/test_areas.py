"""Boxes, polygons, and areas that cannot be read together."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.measure.painted import photo_of
from tonematch.errors import AreaError
from tonematch.measure.area.areas import (
    bounds,
    box_area,
    check_areas,
    inside,
    parse_shape,
    polygon_area,
    shape_area,
    shape_of,
    shown_part,
)
from tonematch.measure.core import Area

PHOTO = photo_of(np.full((60, 80, 3), 0.2))


def pixels_in(area: Area) -> int:
    x0, y0, x1, y1 = bounds(area)
    x = np.arange(x0 + 0.5, x1, dtype=np.float64)
    y = np.arange(y0 + 0.5, y1, dtype=np.float64)
    return int(inside(area, x, y).sum())


def test_box_is_read() -> None:
    assert parse_shape(" 1, 2.5,30,40 ") == (1.0, 2.5, 30.0, 40.0)


def test_corners_are_read_and_a_shape_is_written_as_it_was_marked() -> None:
    for text, shape in (
        ("0,0 40, 2.5 0,40", (0, 0, 40, 2.5, 0, 40)),
        ("1,2,30,40", (1, 2, 30, 40)),
    ):
        assert parse_shape(text) == shape
        assert shape_of(shape_area("a", shape)) == shape


def test_what_is_shown_of_an_area_lies_within_it() -> None:
    """By hand: the largest square in a right triangle of legs 40 has sides of 20."""
    triangle = polygon_area("t", [(5, 5), (45, 5), (5, 45)])
    x0, y0, x1, y1 = shown_part(triangle)
    assert min(x1 - x0, y1 - y0) >= 18
    assert inside(triangle, np.arange(x0 + 0.5, x1), np.arange(y0 + 0.5, y1)).all()
    assert shown_part(box_area("a", (3, 4, 50, 7))) == (3, 4, 53, 11)


@pytest.mark.parametrize(
    "text", ["", "1,2,3", "1,2,3,4,5", "a,b,c,d", "1,2,nan,4", "1,2,inf,4", "1;2;3;4", "1,2,0,5",
             "1,2,5,-5", "1,2 5,2", "1,2 5,2 1,2,3", "0,0 5,5 5,0 0,5"]
)  # fmt: skip
def test_box_that_is_none(text: str) -> None:
    with pytest.raises(AreaError) as refusal:
        parse_shape(text)
    assert str(refusal.value).endswith(".")


@given(st.text(max_size=30))
def test_any_text_is_a_box_or_a_sentence(text: str) -> None:
    try:
        shape = parse_shape(text)
    except AreaError as refusal:
        assert str(refusal).endswith(".")
    else:
        assert len(shape) > 4 or min(shape[2:]) > 0


@given(x=st.integers(0, 20), y=st.integers(0, 20), w=st.integers(1, 30), h=st.integers(1, 30))
def test_box_holds_its_pixels(x: int, y: int, w: int, h: int) -> None:
    assert pixels_in(box_area("a", (x, y, w, h))) == w * h


def test_triangle_holds_half_its_box() -> None:
    triangle = polygon_area("t", [(0, 0), (40, 0), (0, 40)])
    assert pixels_in(triangle) == pytest.approx(800, abs=25)


@pytest.mark.parametrize("shift", range(4))
def test_corner_order_does_not_matter(shift: int) -> None:
    corners = [(5.0, 5.0), (30.0, 8.0), (25.0, 30.0), (7.0, 22.0)]
    turned = corners[shift:] + corners[:shift]
    count = pixels_in(polygon_area("p", corners))
    assert pixels_in(polygon_area("p", turned)) == count
    assert pixels_in(polygon_area("p", turned[::-1])) == count


@pytest.mark.parametrize(
    ("corners", "name"),
    [([(0, 0), (5, 5)], "a"), ([(0, 0), (5, 0), (9, 0)], "a"), ([(0, 0), (5, 0), (0, 5)], " "),
     ([(0, 0), (5, 0), (float("nan"), 5)], "a"),
     ([(0, 0), (5, 5), (5, 0), (0, 5)], "a")],
)  # fmt: skip
def test_shapes_that_are_none(corners: list[tuple[float, float]], name: str) -> None:
    with pytest.raises(AreaError):
        polygon_area(name, corners)


def test_areas_apart_are_accepted() -> None:
    touching = [box_area("a", (0, 0, 10, 10)), box_area("b", (10, 0, 10, 10))]
    check_areas(PHOTO, touching)
    interlocked = [
        polygon_area("lower", [(0, 0), (0, 40), (40, 40)]),
        polygon_area("upper", [(1, 0), (40, 39), (40, 0)]),
    ]
    check_areas(PHOTO, interlocked)


@pytest.mark.parametrize(
    ("areas", "says"),
    [
        ([box_area("a", (70, 5, 20, 20))], "outside the picture"),
        ([box_area("a", (-1, 5, 20, 20))], "outside the picture"),
        ([box_area("a", (0, 0, 20, 20)), box_area("b", (19, 19, 9, 9))], "overlap"),
        ([box_area("a", (0, 0, 30, 30)), box_area("b", (10, 10, 5, 5))], "overlap"),
        ([box_area("a", (0, 0, 9, 9)), box_area("a", (30, 30, 9, 9))], "name of its own"),
    ],
)
def test_areas_refused(areas: list[Area], says: str) -> None:
    with pytest.raises(AreaError, match=says):
        check_areas(PHOTO, areas)
