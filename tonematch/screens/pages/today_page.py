"""Today: the bench as it stands, every piece with what can be done on it now."""

from collections.abc import Iterable, Mapping
from typing import Literal

import streamlit as st
from streamlit.delta_generator import DeltaGenerator

from tonematch.demonstration import PIECE, demo_photograph, load_demonstration
from tonematch.logbook.standing import STEPS, Standing
from tonematch.logbook.store import Logbook
from tonematch.measure.area.areas import shape_of
from tonematch.measure.words import capital
from tonematch.screens.asking.shots import marks_name
from tonematch.screens.keeping import take_up
from tonematch.screens.marking import Marks
from tonematch.screens.pages.piece_page import offer_new_piece
from tonematch.screens.sections.kept_pictures import show_small_picture
from tonematch.screens.session import Room, Shot, bench, go_to
from tonematch.screens.showing.plain import plain
from tonematch.screens.showing.plain_numbers import say_piece

WELCOME = (
    "This is your bench. tonematch measures how far new gold is from the old beside it, and says "
    "which toning layers bring it there. Describe the piece that you work on; everything that "
    "you do is kept in your logbook on this computer."
)
PHOTOGRAPH = "scene-1.jpg"
MANY = 8  # with more on the bench, those that match are shown on request; a choice of ours


def today_page(logbook: Logbook) -> None:
    """The first page."""
    found = sorted(logbook.standings(), key=_how_soon)
    if not found:
        st.write(WELCOME)
        _offer_demonstration(logbook)
    few = sum(each.on_bench for each in found) <= MANY
    here = [each for each in found if each.on_bench and (few or each.step != "Record")]
    rest = [each for each in found if each not in here]
    places = _show(logbook, here)
    if rest and st.toggle(f"Show the other pieces ({len(rest)})"):
        places |= _show(logbook, rest)
    with st.expander("Add a piece", expanded=not found):
        offer_new_piece(logbook)
    if found:
        _offer_demonstration(logbook)
    _show_pictures(logbook, places)


def _how_soon(standing: Standing) -> tuple[bool, str, int]:
    """What can be done now comes first, the furthest on before the others; then what dries."""
    done, drying = standing.step == "Record", standing.is_drying()
    return done, standing.dry_at if drying else "", -STEPS.index(standing.step)


def _show(logbook: Logbook, standings: Iterable[Standing]) -> dict[Standing, DeltaGenerator]:
    """Each piece as it stands, with a place for its picture."""
    places = {}
    for standing in standings:
        piece = standing.piece
        with st.container(border=True, horizontal=True, vertical_alignment="center"):
            if standing.photo_sha256:
                places[standing] = st.container(width=112, height=84, border=False).empty()
            with st.container(width="stretch", gap=None):
                st.subheader(plain(say_piece(piece)), anchor=False)
                st.write(plain(capital(standing.words)))
            label, room = _next(standing)
            waits = standing.is_drying() or standing.step == "Record"
            kind: Literal["primary", "secondary"] = "secondary" if waits else "primary"
            key = f"open-{piece.name}-{piece.zone}"
            if st.button(label, key=key, type=kind, width=224):
                take_up(logbook, piece.name, piece.zone)
                go_to(room)
    return places


def _show_pictures(logbook: Logbook, places: Mapping[Standing, DeltaGenerator]) -> None:
    """Last, since a picture that was not made yet takes a second, and twenty take many."""
    for standing, place in places.items():
        with place:
            show_small_picture(logbook, standing)


def _next(standing: Standing) -> tuple[str, Room]:
    """What can be done now, and where."""
    if standing.begun and not standing.is_drying():
        return "Go on marking", "Lay a layer" if standing.laid else "Photograph"
    if standing.laid:
        return "Look at it" if standing.is_drying() else "Photograph it", "Lay a layer"
    if standing.step == "Lay a layer":
        return "Choose what to lay", "Plan"
    words = {
        "Photograph": "Photograph it",
        "Compare": "Photograph it again",
        "Plan": "Make a plan",
        "Record": "Write its record",
    }
    return words[standing.step], standing.step


def _offer_demonstration(logbook: Logbook) -> None:
    """A button that puts the invented piece and trials into the logbook, once."""
    names = {piece.name for piece in logbook.pieces()}
    if PIECE.name in names:
        return
    with st.expander("Try it first on an invented piece"):
        st.write(
            "This adds an invented piece with a calculated photograph, and invented layers to "
            "plan from. They are marked as invented wherever they are shown. To keep them apart "
            "from your own, start tonematch with another logbook."
        )
        if st.button("Put it on the bench", width="stretch"):
            load_demonstration(logbook)
            bench().take_up(PIECE.name)
            shown = demo_photograph(PHOTOGRAPH)
            shot = Shot(PHOTOGRAPH, shown.data)
            cards = {area.name: area for area, _ in shown.neutrals}
            boxes = {role: shape_of(area) for role, area in ({**shown.areas, **cards}).items()}
            bench().shots["both"] = shot
            bench().marks[marks_name("both", shot.sha256)] = Marks(boxes)
            go_to("Photograph", "The invented piece is on the bench, marked: compare the two.")
