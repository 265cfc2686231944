"""What the canvas sends is checked before it becomes boxes in pixels."""

from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tonematch.screens.marking import (
    CARD,
    CHART_CORNERS,
    ORIGINAL,
    REPAIR,
    Marks,
    canvas_data,
    middle,
    point_box,
    set_box,
    shape_in_pixels,
    take_drag,
)

ROLES = ("card", "original", "repair")
WIDTH, HEIGHT = SIZE = 4000, 3000


def take(marks: Marks, sent: object) -> Marks:
    return take_drag(marks, sent, "picture-1", ROLES, WIDTH, HEIGHT)


def message(**changes: Any) -> dict[str, Any]:
    return {
        "picture_id": "picture-1",
        "revision": 1,
        "boxes": {"card": [0.1, 0.2, 0.25, 0.5]},
    } | changes


def test_fractions_become_whole_pixels_of_the_upright_picture() -> None:
    marks = take(Marks(), message())
    assert marks == Marks({"card": (400.0, 600.0, 1000.0, 1500.0)}, 1, drawn=1)


def test_an_older_or_equal_revision_is_not_taken() -> None:
    held = Marks({"card": (1.0, 2.0, 30.0, 40.0)}, 5)
    assert take(held, message(revision=4)) is held
    assert take(held, message(revision=5)) is held
    assert take(held, message(revision=6)).revision == 6


def test_another_pictures_boxes_are_not_taken() -> None:
    held = Marks()
    assert take(held, message(picture_id="picture-2")) is held


@pytest.mark.parametrize("sent", [None, [], "boxes", 3, {}, {"picture_id": "picture-1"}])
def test_nonsense_changes_nothing(sent: object) -> None:
    held = Marks({"card": (1.0, 2.0, 30.0, 40.0)}, 5)
    assert take(held, sent) is held


def test_a_role_that_this_picture_does_not_have_is_dropped() -> None:
    marks = take(Marks(), message(boxes={"card": [0, 0, 0.5, 0.5], "frame": [0, 0, 1, 1]}))
    assert set(marks.boxes) == {"card"}


@pytest.mark.parametrize(
    "fractions",
    [
        None,
        "0,0,1,1",
        [0, 0, 1],
        [0, 0, 1, float("nan")],
        [0, 0, 0, 0.5],
        [1.2, 0, 0.5, 0.5],
        [0, 0, 1, 1, 0],
        [0, 0, 1, 1, 0, float("inf")],
    ],
)
def test_what_is_no_box_is_none(fractions: object) -> None:
    assert shape_in_pixels(fractions, WIDTH, HEIGHT) is None


def test_corners_become_whole_pixels_within_the_picture() -> None:
    sent = [0.1, 0.2, 0.25, 0.5, 1.2, -0.1, 0.10001, 0.3]
    corners = (400.0, 600.0, 1000.0, 1500.0, 4000.0, 0.0, 400.0, 900.0)
    assert shape_in_pixels(sent, WIDTH, HEIGHT) == corners


@given(st.lists(st.floats(-2, 3, allow_nan=False), min_size=4, max_size=4))
def test_a_box_never_leaves_the_picture(fractions: list[float]) -> None:
    box = shape_in_pixels(fractions, WIDTH, HEIGHT)
    if box is not None:
        x, y, w, h = box
        assert 0 <= x < x + w <= WIDTH
        assert 0 <= y < y + h <= HEIGHT


def test_typing_a_box_overtakes_the_canvas() -> None:
    dragged = take(Marks(), message(revision=3))
    typed = set_box(dragged, "repair", (10.0, 20.0, 300.0, 400.0))
    assert (typed.revision, typed.drawn) == (4, 3)
    assert typed.boxes == {"card": dragged.boxes["card"], "repair": (10.0, 20.0, 300.0, 400.0)}


def test_the_canvas_is_given_back_the_same_boxes() -> None:
    typed = set_box(Marks(), "card", (400.0, 600.0, 1000.0, 1500.0))
    data = canvas_data(typed, (CARD, ORIGINAL, REPAIR), "picture-1", b"png", SIZE, {}, {})
    back = {"picture_id": "picture-1", "revision": 9, "boxes": data["boxes"]}
    assert take(typed, back).boxes == typed.boxes


def test_a_point_is_the_middle_of_its_box() -> None:
    assert middle(point_box(120.0, 80.0)) == (120.0, 80.0)
    typed = set_box(Marks(), "chart-1", point_box(120.0, 80.0))
    data = canvas_data(typed, CHART_CORNERS, "picture-1", b"png", SIZE, {}, {})
    assert [area["point"] for area in data["areas"]] == [True] * 4
    sent = {"picture_id": "picture-1", "revision": 9, "boxes": data["boxes"]}
    back = take_drag(typed, sent, "picture-1", ["chart-1"], WIDTH, HEIGHT)
    assert middle(back.boxes["chart-1"]) == (120.0, 80.0)


def test_each_area_has_its_own_word_shape_and_line() -> None:
    marks = (CARD, ORIGINAL, REPAIR)
    assert len({m.label for m in marks}) == len({m.sign for m in marks}) == 3
    assert len({m.dash for m in marks}) == 3
