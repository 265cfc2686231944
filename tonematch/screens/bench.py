"""The bench: one page for each thing that the gilder does, in the order of the job."""

import logging
from collections.abc import Callable
from pathlib import Path

import streamlit as st

from tonematch.errors import TonematchError
from tonematch.logbook.store import Logbook, open_logbook
from tonematch.screens.keeping import current_piece, take_up
from tonematch.screens.pages.compare_page import compare_page
from tonematch.screens.pages.lay_page import lay_page
from tonematch.screens.pages.logbook_page import logbook_page
from tonematch.screens.pages.photograph_page import photograph_page
from tonematch.screens.pages.piece_page import piece_page
from tonematch.screens.pages.plan_page import plan_page
from tonematch.screens.pages.shelf_page import shelf_page
from tonematch.screens.pages.top import start_at_top
from tonematch.screens.session import ROOMS, Room, bench, logbook_path
from tonematch.screens.showing.layer_words import say_laid
from tonematch.screens.showing.plain import plain
from tonematch.screens.showing.plain_numbers import say_piece

PAGES: dict[Room, Callable[[Logbook], None]] = {
    "Piece": piece_page,
    "Photograph": photograph_page,
    "Compare": compare_page,
    "Plan": plan_page,
    "Lay a layer": lay_page,
    "Logbook": logbook_page,
    "Shelf": shelf_page,
}

UNFORESEEN = (
    "Something went wrong that tonematch did not foresee; what is in the logbook is safe, so go "
    "back one step and try again."
)


def main() -> None:
    """Show the page that was chosen, and put every error into one sentence."""
    st.set_page_config(page_title="tonematch", layout="centered")
    st.html(Path(__file__).parent / "style.css")
    room = _choose_room()
    start_at_top(room)
    try:
        with open_logbook(logbook_path()) as logbook:
            _take_up_again(logbook)
            _say_message()
            _say_piece(logbook, room)
            PAGES[room](logbook)
    except TonematchError as error:
        st.error(plain(str(error)), icon=":material/error:")
    except Exception:
        logging.getLogger(__name__).exception("a page failed")
        st.error(UNFORESEEN, icon=":material/error:")


def _choose_room() -> Room:
    in_address = _room_in_address()
    asked = st.session_state.pop("next_room", None)
    if asked is None and in_address != st.session_state.get("shown_room", ROOMS[0]):
        asked = in_address  # the browser's way back, or the page loaded anew
    if asked is not None:
        st.session_state["room"] = asked
    st.session_state.setdefault("room", ROOMS[0])
    chosen = st.pills(
        "Step of the job", ROOMS, key="room", required=True, label_visibility="collapsed", wrap=True
    )
    room = chosen or ROOMS[0]
    if room != in_address:
        named = {"room": room, "piece": bench().piece, "zone": bench().zone}
        st.query_params.from_dict({name: said for name, said in named.items() if said})
    st.session_state["shown_room"] = room
    return room


def _room_in_address() -> Room:
    named = st.query_params.get("room", ROOMS[0])
    return next((room for room in ROOMS if room == named), ROOMS[0])


def _take_up_again(logbook: Logbook) -> None:
    """Put the piece that the address names on an empty bench: the page was loaded anew."""
    named = st.query_params.get("piece", ""), st.query_params.get("zone", "")
    if not bench().piece and named in {(piece.name, piece.zone) for piece in logbook.pieces()}:
        take_up(logbook, *named)


def _say_piece(logbook: Logbook, room: Room) -> None:
    # On the Piece page another is chosen where the one on the bench was renamed elsewhere.
    piece = None if room == "Piece" else current_piece(logbook)
    if piece is None:
        return
    st.caption(f"On the bench: {plain(say_piece(piece))}")
    laid = logbook.layer_in_progress(piece.name, piece.zone)
    if laid is not None and room != "Lay a layer":
        st.caption(f"In progress: {plain(say_laid(laid))}")


def _say_message() -> None:
    if bench().message:
        st.success(plain(bench().message), icon=":material/check:")
        bench().message = ""
    for caution in bench().cautions:
        st.warning(plain(caution), icon=":material/warning:")
    bench().cautions = ()


if __name__ == "__main__":
    main()
