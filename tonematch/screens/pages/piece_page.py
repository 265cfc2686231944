"""Piece: what is said of the gilded object on the bench, and the form for a new one."""

from dataclasses import replace
from typing import get_args

import streamlit as st

from tonematch.errors import LogbookError
from tonematch.in_words import say_known_gilding, say_told
from tonematch.logbook.core import OF_THE_WHOLE, Piece
from tonematch.logbook.store import Logbook
from tonematch.measure.colour.difference import USUAL_TOLERANCE
from tonematch.screens.asking.surface import ask_gilding, ask_if_known
from tonematch.screens.keeping import current_piece, take_up
from tonematch.screens.sections.kept_pictures import show_piece
from tonematch.screens.session import go_to
from tonematch.screens.showing.plain import plain, tell, warn
from tonematch.toning.core import Finish, Technique
from tonematch.toning.layers.rules import surface_cautions

# Oil gilding is not burnished, so that one question tells both: common practice, no source.
WAYS: dict[str, tuple[Technique, Finish]] = {
    "water gilding, burnished": ("water", "burnished"),
    "water gilding, matte": ("water", "matte"),
    "oil gilding": ("oil", "matte"),
    "matte, and nobody knows which": ("unknown", "matte"),
    "not known yet": ("unknown", "unknown"),
}


def piece_page(logbook: Logbook) -> None:
    """The page of the piece on the bench, or of the one gold of it that is toned now."""
    piece = current_piece(logbook)
    if piece is None:
        tell("Open a piece on the page Today first.")
        return
    show_piece(logbook, piece)
    st.write(plain(_described(piece)))
    for caution in surface_cautions(piece.surface()):
        warn(caution)
    if st.button("Its story", width="stretch"):
        st.session_state["part"] = "Story"
        go_to("Logbook")
    with st.expander("Change what is said of it"):
        _change(logbook, piece)
    with st.expander("Another gold on this piece"):
        _add_gold(logbook, piece)


def _described(piece: Piece) -> str:
    """The piece in one paragraph."""
    wishes = {"Hangs in": piece.hangs_in, "The owner wants": piece.wish, "Notes": piece.notes}
    told = [say_known_gilding(piece), *say_told(wishes)]
    if piece.tolerance != USUAL_TOLERANCE:
        wider = "wider" if piece.tolerance > USUAL_TOLERANCE else "narrower"
        told.append(f"What is near enough is set {wider} than usual.")
    if piece.viewing_distance_m is not None:
        told.append(f"Seen from {piece.viewing_distance_m:.1f} m.")
    return " ".join(told)


def offer_new_piece(logbook: Logbook) -> None:
    """The form of two fields by which a piece comes into the logbook and on the bench."""
    with st.form("new piece", border=False):
        name = _ask_name()
        way = st.radio("How it is gilded", list(WAYS), index=len(WAYS) - 1)
        piece = Piece(name, *WAYS[way])
        if not st.form_submit_button("Add this piece", type="primary", width="stretch"):
            return
    logbook.add_piece(piece)
    take_up(logbook, piece.name)
    more = "what else is known of it can be said on the page Piece"
    go_to("Photograph", f"{piece.name} is in your logbook; {more}.")


def _change(logbook: Logbook, held: Piece) -> None:
    with st.form(f"change {held.title}", border=False):
        name = _ask_name(held.name)
        zone = _ask_zone("Name of this gold", held.zone) if held.zone else ""
        told = _ask_gold(replace(held, name=name, zone=zone))
        piece = _ask_more_of_gold(_ask_more_of_whole(told, held), f"change {held.title}")
        if not st.form_submit_button("Keep the changes", type="primary", width="stretch"):
            return
    logbook.change_piece(held.name, piece, zone=held.zone)
    take_up(logbook, piece.name, piece.zone)
    go_to("Piece", f"{piece.title} is changed; what stood there before is kept in the logbook.")


def _add_gold(logbook: Logbook, held: Piece) -> None:
    """A further zone; the gold that is there so far is named, too, where it has no name."""
    with st.form(f"another gold on {held.title}", border=False):
        so_far = held.zone or _ask_zone("Name of the gold described so far")
        zone = _ask_zone("Name of the other gold")
        whole = {field: getattr(held, field) for field in OF_THE_WHOLE}
        gold = _ask_gold(Piece(**whole, tolerance=held.tolerance, zone=zone))
        if not st.form_submit_button("Add this gold", type="primary", width="stretch"):
            return
    if "" in (so_far, zone) or so_far == zone:
        raise LogbookError("Two golds on one piece need a name each: give both, and not the same.")
    if not held.zone:
        logbook.change_piece(held.name, replace(held, zone=so_far))
    logbook.add_piece(gold)
    take_up(logbook, gold.name, gold.zone)
    go_to("Piece", f"{gold.title} is in your logbook.")


def _ask_zone(label: str, known: str = "") -> str:
    return st.text_input(label, known, placeholder="burnished edge, matte flat").strip()


def _ask_name(known: str = "") -> str:
    return st.text_input("Name", known, placeholder="hall mirror, lower left corner").strip()


def _ask_gold(held: Piece) -> Piece:
    """How one gold was laid: what decides which layers may go over it."""
    techniques, finishes = get_args(Technique), get_args(Finish)
    technique = st.radio(
        "Gilding technique",
        techniques,
        index=techniques.index(held.technique),
        horizontal=True,
        help="Water gilding is laid on bole and can be burnished; oil gilding is matte.",
    )
    finish = st.radio("Finish", finishes, index=finishes.index(held.finish), horizontal=True)
    return replace(held, technique=technique, finish=finish)


def _ask_more_of_whole(told: Piece, held: Piece) -> Piece:
    """What else is said of a piece as a whole, filled with what is held."""
    hangs_in = st.text_input(
        "Where it hangs", held.hangs_in, placeholder="north room, daylight and candles"
    )
    wish = st.text_input("What the owner wants", held.wish, placeholder="bright, or aged in")
    distance = ask_if_known(
        "Viewing distance, in metres",
        (0.1, 100.0, 0.5),
        f"distance-{held.title}",
        held.viewing_distance_m,
        form="%.1f",
    )
    return replace(told, hangs_in=hangs_in, wish=wish, viewing_distance_m=distance)


def _ask_more_of_gold(told: Piece, place: str) -> Piece:
    """What else is said of one gold; `place` is of this question alone."""
    bole = st.text_input("Bole", told.bole, placeholder="red, yellow, black")
    leaf = st.text_input("Leaf", told.leaf, placeholder="23.75 ct")
    told = ask_gilding(replace(told, bole=bole, leaf=leaf), place)
    tolerance = st.number_input(
        "How far off is near enough, in CIEDE2000",
        min_value=0.1,
        max_value=20.0,
        value=told.tolerance,
        step=0.1,
        format="%.1f",
    )
    st.caption(
        "1 can just be seen side by side. 2 is this project's choice; no figure for gilding is "
        "published. Seen from far a greater one may do."
    )
    return replace(told, tolerance=tolerance, notes=st.text_area("Notes", told.notes))
