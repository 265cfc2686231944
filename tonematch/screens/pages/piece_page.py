"""Piece: choose the gilded object that is worked on, or describe a new one."""

from dataclasses import replace
from typing import get_args

import streamlit as st

from tonematch.in_words import say_known_gilding
from tonematch.logbook.core import Piece
from tonematch.logbook.store import Logbook
from tonematch.screens.asking.surface import ask_gilding, key_to_clear
from tonematch.screens.keeping import take_up
from tonematch.screens.sections.demonstration import offer_demonstration
from tonematch.screens.session import bench, go_to
from tonematch.screens.showing.plain import plain
from tonematch.screens.showing.plain_numbers import say_piece
from tonematch.toning.core import Finish, Technique
from tonematch.toning.layers.rules import surface_cautions

WELCOME = (
    "This is your bench. tonematch measures how far new gold is from the old beside it, and says "
    "which toning layers bring it there. Describe the piece that you work on; everything that "
    "you do is kept in your logbook on this computer."
)


def piece_page(logbook: Logbook) -> None:
    """The page where a piece is chosen or added."""
    st.header("Piece", anchor=False)
    pieces = logbook.pieces()
    if pieces:
        _choose(logbook, pieces)
    else:
        st.write(WELCOME)
    with st.expander("A new piece", expanded=not pieces):
        _add(logbook)
    offer_demonstration(logbook)


def _choose(logbook: Logbook, pieces: list[Piece]) -> None:
    names = [piece.name for piece in pieces]
    held = bench().piece
    chosen = st.selectbox(
        "The piece on your bench",
        names,
        index=names.index(held) if held in names else None,
        placeholder="Choose a piece",
        format_func=lambda name: say_piece(pieces[names.index(name)]),
    )
    if chosen is None:
        return
    if chosen != held:
        take_up(logbook, chosen)
        st.rerun()  # the chooser is made anew around its choice, and takes the next one too
    piece = pieces[names.index(chosen)]
    st.write(plain(_described(piece)))
    for caution in surface_cautions(piece.surface()):
        st.warning(plain(caution), icon=":material/warning:")
    if st.button("Photograph it", type="primary", width="stretch"):
        go_to("Photograph")
    with st.expander("Change what is said of it"):
        _change(logbook, piece)


def _described(piece: Piece) -> str:
    """The piece in one paragraph."""
    told = [say_known_gilding(piece)]
    told += [f"{label}: {words}." for label, words in _words_of(piece) if words]
    told.append(f"Tolerance: CIEDE2000 {piece.tolerance:.1f}.")
    if piece.viewing_distance_m is not None:
        told.append(f"Seen from {piece.viewing_distance_m:.1f} m.")
    return " ".join(told)


def _words_of(piece: Piece) -> list[tuple[str, str]]:
    return [
        ("Bole", piece.bole),
        ("Leaf", piece.leaf),
        ("Hangs in", piece.hangs_in),
        ("The owner wants", piece.wish),
        ("Notes", piece.notes),
    ]


def _add(logbook: Logbook) -> None:
    piece = _ask(Piece(""), "Add this piece")
    if piece is not None:
        logbook.add_piece(piece)
        take_up(logbook, piece.name)
        go_to("Photograph", f"{piece.name} is in your logbook.")


def _change(logbook: Logbook, held: Piece) -> None:
    piece = _ask(held, "Keep the changes")
    if piece is not None:
        logbook.change_piece(held.name, piece)
        take_up(logbook, piece.name)
        go_to("Piece", f"{piece.name} is changed; what stood there before is kept in the logbook.")


def _ask(held: Piece, label: str) -> Piece | None:
    """The form of a piece, filled with what is known; a Piece once its button is pressed."""
    techniques, finishes = get_args(Technique), get_args(Finish)
    with st.form(f"piece-{held.name}", border=False):
        name = st.text_input(
            "Name", held.name, placeholder="for example: hall mirror, lower left corner"
        )
        technique = st.radio(
            "Gilding technique",
            techniques,
            index=techniques.index(held.technique),
            horizontal=True,
            help="Water gilding is laid on bole and can be burnished; oil gilding is matte.",
        )
        finish = st.radio("Finish", finishes, index=finishes.index(held.finish), horizontal=True)
        bole = st.text_input("Bole", held.bole, placeholder="red, yellow, black")
        leaf = st.text_input("Leaf", held.leaf, placeholder="23.75 ct")
        told = ask_gilding(held)
        hangs_in = st.text_input(
            "Where it hangs", held.hangs_in, placeholder="north room, daylight and candles"
        )
        wish = st.text_input("What the owner wants", held.wish, placeholder="bright, or aged in")
        tolerance = st.number_input(
            "Tolerance, CIEDE2000 (the greatest difference that counts as a match)",
            min_value=0.1,
            max_value=20.0,
            value=held.tolerance,
            step=0.1,
            format="%.1f",
        )
        st.caption(
            "2.0 is this project's choice; no figure for gilding is published. Seen from far a "
            "greater one may do."
        )
        distance = st.number_input(
            "Viewing distance, in metres (leave empty when not known)",
            min_value=0.1,
            max_value=100.0,
            value=None,
            step=0.5,
            format="%.1f",
            key=key_to_clear(f"distance-{held.name}", held.viewing_distance_m),
        )
        notes = st.text_area("Notes", held.notes)
        if not st.form_submit_button(label, type="primary", width="stretch"):
            return None
    return replace(
        told,
        name=name.strip(),
        technique=technique,
        finish=finish,
        bole=bole,
        leaf=leaf,
        hangs_in=hangs_in,
        wish=wish,
        tolerance=tolerance,
        viewing_distance_m=distance,
        notes=notes,
    )
