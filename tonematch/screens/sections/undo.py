"""What was altered or taken out, undone by one press; pieces removed, and emptied on request."""

import streamlit as st

from tonematch.logbook.archive.emptying import empty, removed_rows
from tonematch.logbook.archive.words import say_act, say_emptied
from tonematch.logbook.core import bench_name
from tonematch.logbook.database.copies import say_counts
from tonematch.logbook.store import Logbook
from tonematch.measure.words import capital
from tonematch.screens.session import Room, bench, go_to
from tonematch.screens.showing.plain import plain


def offer_undo(logbook: Logbook, room: Room) -> None:
    """A line and a button where something was altered here just now; gone when more is done.

    They lie over the foot of the page, since there they move nothing.
    """
    held = bench()
    last = next(iter(logbook.acts()), None)
    number = 0 if last is None or last.bench != bench_name() else last.number
    known = number if held.last_act is None else held.last_act
    held.last_act = max(number, known)
    if number > known:
        held.may_undo = True
    if last is None or number != held.last_act or not held.may_undo:
        st.empty()
        return
    with st.container(key="undo", horizontal=True, vertical_alignment="center"):
        st.caption(plain(capital(last.words)))
        if st.button("Undo", key=f"undo-{number}"):
            act = logbook.undo(number)
            _find_again(logbook)
            go_to(room, f"Undone: {say_act(act)}.")


def _find_again(logbook: Logbook) -> None:
    """Let the bench know its piece as it is now: it may be called, or lie, as it did before."""
    held = bench()
    if logbook.standing(held.piece, held.zone) is None:
        held.take_up("")
    else:
        laid = logbook.layer_in_progress(held.piece, held.zone)
        held.laid = None if laid is None else laid.id


def offer_removal(logbook: Logbook) -> None:
    """Remove a piece; let go for good of what was removed."""
    golds = {piece.title: piece for piece in logbook.pieces()}
    chosen = st.selectbox(
        "Remove a piece", golds, index=None, placeholder="Choose a piece", key="piece-to-remove"
    )
    if chosen is not None and st.button("Remove it", width="stretch"):
        logbook.remove_piece(golds[chosen].name, zone=golds[chosen].zone)
        if bench().piece == golds[chosen].name:
            bench().take_up("")
        go_to("Logbook", f"{chosen} is removed, and nothing is learned from what was laid on it.")
    with logbook.reading() as session:
        removed = say_counts(removed_rows(session))
    if removed:
        st.write(f"Removed, and still in the logbook: {removed}.")
        sure = st.checkbox("It may go for good", key="empty-for-good")
        if st.button("Empty it for good", disabled=not sure, width="stretch"):
            go_to("Logbook", say_emptied(empty(logbook)))
