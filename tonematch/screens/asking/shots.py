"""Handing a photograph over and marking its areas: the same on every page that needs one."""

from collections.abc import Callable, Mapping, Sequence
from typing import cast

import streamlit as st

from tonematch.logbook.store import Logbook
from tonematch.measure.area.areas import box_area
from tonematch.measure.core import Role
from tonematch.measure.marked import Marked
from tonematch.photo.core import Photo
from tonematch.photo.decode import SUFFIXES
from tonematch.screens.asking.aids import ask_for_aids
from tonematch.screens.asking.arrivals import offer_arrivals
from tonematch.screens.asking.opening import opened, preview
from tonematch.screens.marking import (
    CORNERS,
    Box,
    Mark,
    Marks,
    canvas_data,
    middle,
    point_box,
    set_box,
    show_canvas,
    take_drag,
)
from tonematch.screens.session import Shot, bench, watched_folder
from tonematch.screens.showing.plain import plain

_SIDES = ("left", "top", "width", "height")


def ask_for_shot(place: str, label: str) -> Shot | None:
    """Ask for a photograph; on a phone this opens the camera.

    The bytes are kept unchanged on the bench, since the page forgets an upload when another
    page is shown.
    """

    def take(name: str, source: bytes) -> None:
        opened(source, name)
        bench().shots[place] = Shot(name, source)

    handed = st.file_uploader(label, type=list(SUFFIXES), key=f"upload-{place}")
    seen = f"handed-{place}"  # what stays in the uploader must not overtake a later arrival
    if handed is not None and bench().recall(seen, "") != handed.file_id:
        take(handed.name, handed.getvalue())
        bench().remember(seen, handed.file_id)
    folder = watched_folder()
    if folder is not None:
        offer_arrivals(folder, place, take)
    return bench().shots.get(place)


def mark_shot(
    place: str,
    shot: Shot,
    wanted: Sequence[Mark],
    logbook: Logbook,
    start: Mapping[str, Box] | None = None,
) -> Marked:
    """Mark areas on a photograph with the canvas or the number boxes.

    Parameters
    ----------
    start : mapping of role to (x, y, width, height), optional
        Marks to begin with, in pixels; none unless given.

    Returns
    -------
    Marked
        With the areas that are marked so far, and what else helps to calibrate.
    """
    photo = opened(shot.source, shot.name)
    asked = ask_for_aids(place, shot, logbook)
    boxes = mark_boxes(place, shot, (*wanted, *asked.marks), start or {})
    areas = {
        mark.role: box_area(mark.label, boxes[mark.role], cast(Role, mark.role))
        for mark in wanted
        if mark.role in boxes
    }
    return Marked(photo, areas, asked.marked(boxes, photo))


def mark_corners(place: str, shot: Shot) -> list[tuple[float, float]]:
    """Corners of a printed frame; those marked so far."""
    boxes = mark_boxes(place, shot, CORNERS, {})
    return [middle(boxes[mark.role]) for mark in CORNERS if mark.role in boxes]


def mark_boxes(
    place: str, shot: Shot, wanted: Sequence[Mark], start: Mapping[str, Box]
) -> dict[str, Box]:
    """Mark boxes on a photograph; those marked so far, in pixels of the upright picture."""
    photo = opened(shot.source, shot.name)
    for note in photo.notes:
        st.caption(plain(note))
    name = f"{place}-{photo.sha256[:16]}"
    marks = bench().marks.setdefault(name, Marks(start))
    roles = [mark.role for mark in wanted]
    canvas_key = f"canvas-{name}"

    def take() -> None:
        sent = st.session_state[canvas_key].get("marks")
        bench().marks[name] = take_drag(
            bench().marks[name], sent, photo.sha256, roles, photo.width, photo.height
        )

    picture = preview(shot.source, shot.name)
    size = (photo.width, photo.height)
    show_canvas(canvas_key, canvas_data(marks, wanted, photo.sha256, picture, *size), take)
    with st.expander("Set the marks by numbers"):
        st.caption(
            f"In pixels of the upright picture, {photo.width} across and {photo.height} down."
        )
        for mark in wanted:
            if mark.point:
                _number_point(name, mark, photo)
            else:
                _number_boxes(name, mark, photo)
    boxes = bench().marks[name].boxes
    return {role: boxes[role] for role in roles if role in boxes}


def _number_boxes(name: str, mark: Mark, photo: Photo) -> None:
    most = (photo.width, photo.height, photo.width, photo.height)
    box = bench().marks[name].boxes.get(mark.role)
    _numbers(name, mark, dict(zip(_SIDES, most, strict=True)), box, lambda typed: cast(Box, typed))


def _number_point(name: str, mark: Mark, photo: Photo) -> None:
    box = bench().marks[name].boxes.get(mark.role)
    at = None if box is None else middle(box)
    sides = {"across": photo.width, "down": photo.height}
    _numbers(name, mark, sides, at, lambda typed: point_box(*typed))


def _numbers(
    name: str,
    mark: Mark,
    sides: Mapping[str, int],
    held: tuple[float, ...] | None,
    box_of: Callable[[tuple[float, ...]], Box],
) -> None:
    """Number boxes of one mark, in pixels; what is typed there overtakes the canvas.

    After each drag they are new ones: a browser that is slow to show what was dragged would send
    the number before it back, as if a person had typed that.
    """
    drawn = bench().marks[name].drawn
    keys = [f"{name}-{mark.role}-{side}-{drawn}" for side in sides]
    values = [None] * len(keys) if held is None else [round(value) for value in held]

    def take() -> None:
        typed = tuple(st.session_state[key] for key in keys)
        if None not in typed:
            bench().marks[name] = set_box(bench().marks[name], mark.role, box_of(typed))

    with st.container(horizontal=True, key=f"typed-{name}-{mark.role}"):
        for key, value, (side, limit) in zip(keys, values, sides.items(), strict=True):
            st.number_input(
                f"{mark.label}, {side} (px)",
                min_value=1 if side in ("width", "height") else 0,
                max_value=limit,
                value=value,
                step=1,
                key=key,
                on_change=take,
                width=150,
            )
