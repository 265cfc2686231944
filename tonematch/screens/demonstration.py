"""The demonstration: an invented piece, its photographs and invented trials, for a first try."""

import streamlit as st

from tonematch.logbook.core import Piece
from tonematch.logbook.store import Logbook
from tonematch.logbook.trial_csv import read_trials
from tonematch.screens.session import Shot, bench, go_to
from tonematch.swatchbook import swatch_path
from tonematch.toning.shelf import load_shelf

DEMONSTRATION = Piece(
    name="demonstration frame (invented)",
    technique="water",
    finish="burnished",
    bole="red",
    leaf="23.75 ct",
    hangs_in="nowhere: this piece is invented",
    wish="aged in",
    notes="Invented. The photographs are calculated, not taken.",
    invented=True,
)
PHOTOGRAPH = "scene-1.jpg"


def offer_demonstration(logbook: Logbook) -> None:
    """A button that puts the invented piece and trials into the logbook, once."""
    names = {piece.name for piece in logbook.pieces()}
    if DEMONSTRATION.name in names:
        return
    with st.expander("Try it first on an invented piece"):
        st.write(
            "This adds an invented piece with a calculated photograph, and invented trials to "
            "plan from. They are marked as invented wherever they are shown. To keep them apart "
            "from your own trials, start tonematch with another logbook."
        )
        if st.button("Load the demonstration", width="stretch"):
            load_demonstration(logbook)
            bench().take_up(DEMONSTRATION.name)
            source = swatch_path("demo", PHOTOGRAPH).read_bytes()
            bench().shots["both"] = Shot(PHOTOGRAPH, source)
            bench().lies_on_it = ("clear shellac seal",)
            go_to("Photograph", "The demonstration is loaded. Mark the three areas below.")


def load_demonstration(logbook: Logbook) -> None:
    """Put the invented piece and the invented trials into a logbook."""
    logbook.add_piece(DEMONSTRATION)
    logbook.add_trials(read_trials(swatch_path("demo", "trials.csv"), load_shelf()))
