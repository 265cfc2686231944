"""The bench: one page for each thing that the gilder does, in the order of the job."""

import logging
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import streamlit as st

from tonematch.errors import TonematchError
from tonematch.logbook.standing import Standing
from tonematch.logbook.store import Logbook, open_logbook
from tonematch.screens.drafts import keep_draft
from tonematch.screens.keeping import take_up
from tonematch.screens.pages.compare_page import compare_page
from tonematch.screens.pages.help_page import help_page
from tonematch.screens.pages.lay_page import lay_page
from tonematch.screens.pages.logbook_page import logbook_page
from tonematch.screens.pages.photograph_page import photograph_page
from tonematch.screens.pages.piece_page import piece_page
from tonematch.screens.pages.plan_page import plan_page
from tonematch.screens.pages.record_page import record_page
from tonematch.screens.pages.shelf_page import shelf_page
from tonematch.screens.pages.today_page import today_page
from tonematch.screens.pages.top import say_message, show_ways, start_at_top
from tonematch.screens.sections.undo import offer_undo
from tonematch.screens.session import ROOMS, Room, bench, named_logbook, say_no_more
from tonematch.screens.showing.plain import say_wrong

PAGES: dict[Room, Callable[[Logbook], None]] = {
    "Today": today_page,
    "Piece": piece_page,
    "Photograph": photograph_page,
    "Compare": compare_page,
    "Plan": plan_page,
    "Lay a layer": lay_page,
    "Record": record_page,
    "Logbook": logbook_page,
    "Shelf": shelf_page,
    "Help": help_page,
}

UNFORESEEN = (
    "Something went wrong that tonematch did not foresee; what is in the logbook is safe, so go "
    "back one step and try again."
)
AS_LEFT = (
    "Your photograph and marks are as you left them; what was compared from them was not kept, so "
    "compare them again."
)


def main() -> None:
    """Show the page that was asked for, and put every error into one sentence."""
    st.set_page_config(page_title="tonematch", layout="centered")
    st.html(Path(__file__).parent / "style.css")
    try:
        with open_logbook(named_logbook()) as logbook:
            keep_draft(logbook)  # what was dragged or typed, before anything else can go wrong
            room = _arrive(logbook)
            start_at_top(room)
            show_ways(room, _standing(logbook))
            say_message()
            offer_undo(logbook, room)
            # A place for each page, so that the old one goes before the new one is whole.
            places = {name: st.container() if name == room else st.empty() for name in PAGES}
            try:
                with places[room]:
                    st.header(room, anchor=False)
                    PAGES[room](logbook)
            finally:
                keep_draft(logbook)
    except TonematchError as error:
        say_wrong(str(error))
    except Exception:
        logging.getLogger(__name__).exception("a page failed")
        say_wrong(UNFORESEEN)


def _arrive(logbook: Logbook) -> Room:
    """The page to show: the one that was asked for, else the one shown before.

    After the browser's way back, and for a page loaded anew, it is the one that the address names,
    with its piece.
    """
    asked: Room | None = st.session_state.pop("next_room", None)
    address = {name: st.query_params.get(name, "") for name in ("room", "piece", "zone")}
    if asked is None and address != st.session_state.get("address", dict.fromkeys(address, "")):
        named = next((room for room in ROOMS if room == address["room"]), ROOMS[0])
        say_no_more()
        asked = _take_up_again(logbook, named, address["piece"], address["zone"])
    room = asked or st.session_state.get("shown_room", ROOMS[0])
    here = {"room": room.removeprefix(ROOMS[0]), "piece": bench().piece, "zone": bench().zone}
    if here != address:
        st.query_params.from_dict({name: said for name, said in here.items() if said})
    st.session_state["address"], st.session_state["shown_room"] = here, room
    return room


def _take_up_again(logbook: Logbook, room: Room, name: str, zone: str) -> Room:
    """Put the piece that the address names on the bench, with what was left there."""
    on_bench = (bench().piece, bench().zone) == (name, zone)
    if on_bench or logbook.standing(name, zone) is None:
        return room
    take_up(logbook, name, zone)
    if room == "Compare" and bench().shots:
        bench().message = AS_LEFT
        return "Photograph"
    return room


def _standing(logbook: Logbook) -> Standing | None:
    """How the piece on the bench stands, with what is not in the logbook yet.

    None where none lies there, or it was renamed elsewhere.
    """
    held = bench()
    standing = logbook.standing(held.piece, held.zone)
    if standing is not None and held.comparison is not None and held.kept_comparison is None:
        return replace(standing, begun=False, verdict=held.comparison.verdict, planned=False)
    return standing


if __name__ == "__main__":
    main()
