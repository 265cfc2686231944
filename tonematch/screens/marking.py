"""Marking areas on a photograph: the canvas, the number boxes, and what they agree on.

The number boxes hold the truth, in pixels of the upright picture; the canvas sends fractions of
the preview. A revision counts the changes, so that an answer that comes late is not taken.
"""

import math
from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass, field, replace
from itertools import cycle
from pathlib import Path
from typing import Any

import streamlit as st

from tonematch.measure.area.areas import Box, Shape
from tonematch.screens.showing.plain import data_url

_CANVAS = Path(__file__).parent / "canvas"

# Called with `on_marks_change`; what came back is in ``st.session_state[key]["marks"]`` then.
canvas = st.components.v2.component(
    "tonematch_marks",
    html=(_CANVAS / "marks.html").read_text(encoding="utf-8"),
    css=(_CANVAS / "marks.css").read_text(encoding="utf-8"),
    js=(_CANVAS / "marks.js").read_text(encoding="utf-8"),
)


@dataclass(frozen=True)
class Mark:
    """How an area is told apart on the picture: a word, a shape and a line, never a colour."""

    role: str  # by which the box is known: that of an area, or any other name
    label: str
    where: str  # what to drag over, after "Drag a box over"
    sign: str  # one geometric character
    dash: tuple[int, ...] = ()  # line and gap in CSS pixels; empty for an unbroken line
    point: bool = False  # tapped, not dragged: the middle of a small box
    optional: bool = False  # marked only where it is chosen


CARD = Mark("card", "Card", "the grey card", "\u25a0", ())
ORIGINAL = Mark("original", "Original", "the original gilding", "\u25cf", (14, 7))
REPAIR = Mark("repair", "Repair", "the repair", "\u25b2", (3, 5))
WHITE = Mark("white card", "White card", "the white card", "\u25c7", (8, 3), optional=True)
BLACK = Mark("black card", "Black card", "the black card", "\u25c6", (8, 3, 2, 3), optional=True)
STRIP = Mark("area", "Strip", "the strip of your leaf", "\u25c8", (1, 4))
NEUTRALS = (
    Mark("neutral-1", "Neutral 1", "a further grey of known value", "\u25cb", (2, 2)),
    Mark("neutral-2", "Neutral 2", "another grey of known value", "\u25ce", (4, 2)),
)
CARDS = (
    Mark("card-2", "Card again", "the same card where it lies elsewhere", "\u25a1", (10, 3)),
    Mark("card-3", "Card once more", "the same card at a third place", "\u25a3", (5, 3)),
)
_SIDES = (
    ("Upper left", "upper left", "\u25e4"),
    ("Upper right", "upper right", "\u25e5"),
    ("Lower right", "lower right", "\u25e2"),
    ("Lower left", "lower left", "\u25e3"),
)
CORNERS = tuple(
    Mark(f"corner-{i}", label, f"the frame's {side} corner", sign, point=True)
    for i, (label, side, sign) in enumerate(_SIDES, start=1)
)
CHART_CORNERS = tuple(
    Mark(f"chart-{i}", f"Chart, {side}", f"the chart's {side} corner patch, at its outer corner",
         sign, point=True)
    for i, (_, side, sign) in enumerate(_SIDES, start=1)
)  # fmt: skip


@dataclass(frozen=True)
class Marks:
    """Boxes, and other shapes, marked on one picture, in pixels of the upright one."""

    boxes: Mapping[str, Shape] = field(default_factory=dict)  # by role
    revision: int = 0  # rises with each change
    drawn: int = 0  # the revision that last came otherwise than by typing


def take_drag(
    marks: Marks, sent: object, picture_id: str, roles: Sequence[str], width: int, height: int
) -> Marks:
    """Marks after the canvas has sent its boxes.

    What is `sent` is ``{"picture_id", "revision", "boxes": {role: shape}}`` with fractions of the
    picture, 0 to 1; where that is older, for another picture, or makes no sense, all stays. Width
    and height are those of the upright picture in pixels.
    """
    if not isinstance(sent, Mapping) or sent.get("picture_id") != picture_id:
        return marks
    revision, boxes = sent.get("revision"), sent.get("boxes")
    if not isinstance(revision, int) or revision <= marks.revision:
        return marks
    if not isinstance(boxes, Mapping):
        return marks
    taken = {
        role: pixels
        for role in roles
        if (pixels := shape_in_pixels(boxes.get(role), width, height)) is not None
    }
    return Marks(taken, revision, revision)


def shape_in_pixels(fractions: object, width: int, height: int) -> Shape | None:
    """Whole pixels of a shape given as fractions of a picture; None where it is none.

    The fractions are hopefully four numbers x, y, w, h, or x and y of each corner; they are clamped
    to the picture, whose size is in pixels.
    """
    if not isinstance(fractions, Sequence) or isinstance(fractions, str):
        return None
    if not all(isinstance(v, int | float) and math.isfinite(v) for v in fractions):
        return None
    if len(fractions) == 4:
        x, y, w, h = fractions
        left, top, right, bottom = _in_pixels((x, y, x + w, y + h), width, height)
        return None if right <= left or bottom <= top else (left, top, right - left, bottom - top)
    if len(fractions) < 6 or len(fractions) % 2:
        return None
    return _in_pixels(fractions, width, height)


def _in_pixels(fractions: Sequence[float], *size: int) -> Shape:
    """Whole pixels of places x, y, x, y, ..., within the picture."""
    sides = zip(fractions, cycle(size), strict=False)
    return tuple(float(round(min(1.0, max(0.0, v)) * of)) for v, of in sides)


def set_box(marks: Marks, role: str, box: Shape) -> Marks:
    """Marks after a person has typed a box, or the corners of another shape."""
    return replace(marks, boxes={**marks.boxes, role: box}, revision=marks.revision + 1)


def take_proposals(marks: Marks, proposals: Mapping[str, Shape]) -> Marks:
    """Marks after a person has taken what was proposed; what they marked themselves stays."""
    revision = marks.revision + 1
    return Marks({**proposals, **marks.boxes}, revision, revision)


def middle(box: Shape) -> tuple[float, float]:
    """Middle of a box, x and y: the point that was tapped."""
    x, y, w, h = box
    return x + w / 2.0, y + h / 2.0


def point_box(x: float, y: float) -> Box:
    """The small box that stands for a point."""
    return x - 1.0, y - 1.0, 2.0, 2.0


def canvas_data(
    marks: Marks,
    wanted: Sequence[Mark],
    picture_id: str,
    preview: bytes,
    size: tuple[int, int],
    proposals: Mapping[str, Shape],
    outlines: Mapping[str, Sequence[tuple[float, float]]],
) -> dict[str, Any]:
    """What the canvas is given: the picture, the areas to mark, and places as fractions of it.

    Parameters
    ----------
    size : tuple of two int
        Width and height of the upright picture in pixels.
    proposals : mapping of role to Shape
        Drawn as questions, until they are taken or marked otherwise.
    outlines : mapping of name to corners
        What else is seen in the picture, in pixels.
    """
    return {
        "picture_id": picture_id,
        "picture": data_url(preview, "png"),
        "areas": [asdict(mark) for mark in wanted],
        "boxes": {role: _shares(box, size) for role, box in marks.boxes.items()},
        "proposals": {role: _shares(box, size) for role, box in proposals.items()},
        "outlines": [
            {"label": name, "corners": [_shares(corner, size) for corner in corners]}
            for name, corners in outlines.items()
        ],
        "revision": marks.revision,
    }


def _shares(values: Sequence[float], size: tuple[int, int]) -> list[float]:
    """Places along x, y, x, y, ... as fractions of a picture."""
    return [value / of for value, of in zip(values, cycle(size), strict=False)]
