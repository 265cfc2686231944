"""Handing a photograph over and marking its areas: the same on every page that needs one."""

from collections.abc import Callable, Mapping, Sequence
from itertools import cycle
from types import MappingProxyType
from typing import Any, cast

import streamlit as st
from streamlit.delta_generator import DeltaGenerator

from tonematch.errors import TonematchError
from tonematch.logbook.store import Logbook
from tonematch.measure.area.areas import Shape, shape_area
from tonematch.measure.core import Comparison, Role
from tonematch.measure.marked import Marked
from tonematch.measure.reading.first_look import first_look
from tonematch.photo.core import Photo
from tonematch.photo.decode import SUFFIXES
from tonematch.screens.asking.aids import ask_for_aids, offer_chart, outline_of_chart
from tonematch.screens.asking.arrivals import offer_arrivals
from tonematch.screens.asking.opening import opened, preview
from tonematch.screens.asking.proposals import proposed
from tonematch.screens.marking import (
    CARD,
    CORNERS,
    Mark,
    Marks,
    canvas,
    canvas_data,
    middle,
    point_box,
    set_box,
    take_drag,
    take_proposals,
)
from tonematch.screens.session import Shot, bench, say_no_more, watched_folder
from tonematch.screens.showing.held import show_held
from tonematch.screens.showing.plain import plain, say_wrong

NOTHING: Mapping[str, Any] = MappingProxyType({})
NO_CARD = "No grey card was found in it: mark it yourself, or photograph again with the card."
_ABOVE = 2  # sentences on a photograph, gravest first, that leave room for it in the first screen
_SIDES = ("left", "top", "width", "height")


def ask_for_shot(place: str, label: str, beside: DeltaGenerator | None = None) -> Shot | None:
    """Ask for a photograph; on a phone this opens the camera.

    The bytes are kept unchanged on the bench, since the page forgets an upload when another
    page is shown. In the place of one that cannot be read the one before it stays; what is wrong is
    said `beside` that, or below the question.
    """

    def take(name: str, source: bytes) -> None:
        opened(source, name)
        bench().shots[place] = Shot(name, source)
        say_no_more()

    handed = st.file_uploader(label, type=list(SUFFIXES), key=f"upload-{place}")
    seen = f"handed-{place}"  # what stays in the uploader must not overtake a later arrival
    if handed is not None and bench().recall(seen, "") != handed.file_id:
        try:
            take(handed.name, handed.getvalue())
        except TonematchError as error:
            with beside or st.container():
                say_wrong(str(error), place)
        else:
            bench().remember(seen, handed.file_id)
            st.rerun()  # the picture comes first now, and asking for another one below it
    folder = watched_folder()
    if folder is not None:
        offer_arrivals(folder, place, take)
    return bench().shots.get(place)


def ask_for_marked(
    place: str,
    label: str,
    wanted: Sequence[Mark],
    logbook: Logbook,
    earlier: Comparison | None = None,
    rest: DeltaGenerator | None = None,
) -> Marked | None:
    """A photograph with all its areas marked, or None until then.

    Once it is handed over the picture comes first, then what it holds.

    Parameters
    ----------
    earlier : Comparison, optional
        Of the same place: its areas are proposed where they lie now.
    rest : container, optional
        For what is seldom needed; below the picture unless given.
    """
    picture = st.container()
    rest = rest or st.container()
    handed = place in bench().shots
    with rest if handed else picture:
        another = label.replace("Photograph", "Another photograph", 1)
        shot = ask_for_shot(place, another if handed else label, picture)
    if shot is None:
        return None
    with rest:
        asked = ask_for_aids(place, shot, logbook)
    photo = opened(shot.source, shot.name)
    marks = (*wanted, *asked.marks)
    with picture:
        found = proposed(shot, earlier, logbook)
        boxes = mark_boxes(place, shot, marks, rest, found, outline_of_chart(place, shot))
        offer_chart(place, shot)
        areas = {
            mark.role: shape_area(mark.label, boxes[mark.role], cast(Role, mark.role))
            for mark in wanted
            if mark.role in boxes
        }
        show_held(photo, areas.values(), asked.cards_marked(boxes).values())
    marked = Marked(photo, areas, asked.marked(boxes, photo))
    return marked if len(areas) == len(wanted) else None


def _say_judged(words: Sequence[str]) -> None:
    """What the photograph itself lacks, a line each."""
    if words:
        st.caption("  \n".join(f":material/info: {plain(one)}" for one in words))


@st.cache_data(max_entries=8, show_spinner=False)
def _judged(shot: Shot, card: Shape | None) -> tuple[str, ...]:
    return first_look(opened(shot.source, shot.name), card)


def mark_corners(place: str, shot: Shot) -> list[tuple[float, float]]:
    """Corners of a printed frame; those marked so far."""
    boxes = mark_boxes(place, shot, CORNERS, st.container())
    return [middle(boxes[mark.role]) for mark in CORNERS if mark.role in boxes]


def marks_name(place: str, picture_id: str) -> str:
    """By which the bench keeps the marks of a picture."""
    return f"{place}-{picture_id[:16]}"


def mark_boxes(
    place: str,
    shot: Shot,
    wanted: Sequence[Mark],
    rest: DeltaGenerator,
    found: Mapping[str, Shape] = NOTHING,
    outlines: Mapping[str, Sequence[tuple[float, float]]] = NOTHING,
) -> dict[str, Shape]:
    """Mark areas on a photograph; those marked so far, in pixels of the upright picture.

    Parameters
    ----------
    found : mapping of role to Shape, optional
        To be proposed.
    outlines : mapping of name to corners, optional
        What else is seen, to be shown.
    """
    photo = opened(shot.source, shot.name)
    name = marks_name(place, photo.sha256)
    bench().marks.setdefault(name, Marks())
    roles = [mark.role for mark in wanted]
    canvas_key = f"canvas-{name}"
    size = (photo.width, photo.height)

    def take() -> None:
        sent = st.session_state[canvas_key].get("marks")
        bench().marks[name] = take_drag(bench().marks[name], sent, photo.sha256, roles, *size)

    if canvas_key in st.session_state:  # a run that was cut short may have lost what was told
        take()
    marks = bench().marks[name]
    free = {role: box for role, box in found.items() if role in roles and role not in marks.boxes}

    def take_found() -> None:
        bench().marks[name] = take_proposals(bench().marks[name], free)

    picture = preview(shot.source, shot.name)
    data = canvas_data(marks, wanted, photo.sha256, picture, size, free, outlines)
    judged = _judged(shot, found.get(CARD.role))
    if CARD in wanted and CARD.role not in found:  # marked or not: going, it would move the picture
        judged = (NO_CARD, *judged)
    _say_judged(judged[:_ABOVE])
    canvas(key=canvas_key, data=data, on_marks_change=take)
    _say_judged(judged[_ABOVE:])
    if free:
        st.button("Take what was found", key=f"take-{name}", on_click=take_found, width="stretch")
    with rest, st.expander("Set the marks by numbers"):
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
    shape = bench().marks[name].boxes.get(mark.role)
    count = 4 if shape is None else len(shape)
    sides = _SIDES if count == 4 else [
        f"corner {k}, {way}" for k in range(1, count // 2 + 1) for way in ("across", "down")
    ]  # fmt: skip
    most = dict(zip(sides, cycle((photo.width, photo.height)), strict=False))
    _numbers(name, mark, most, shape, lambda typed: typed)


def _number_point(name: str, mark: Mark, photo: Photo) -> None:
    box = bench().marks[name].boxes.get(mark.role)
    at = None if box is None else middle(box)
    sides = {"across": photo.width, "down": photo.height}
    _numbers(name, mark, sides, at, lambda typed: point_box(*typed))


def _numbers(
    name: str,
    mark: Mark,
    sides: Mapping[str, int],
    held: Shape | None,
    box_of: Callable[[Shape], Shape],
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
        # What a run showed that was cut short comes back as if it had been typed just now.
        if None not in typed and typed != tuple(values):
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
