"""The demonstration: an invented piece, its photographs and invented trials, for a first try."""

import streamlit as st

from tonematch.demonstration import PIECE, demo_photograph, load_demonstration
from tonematch.logbook.store import Logbook
from tonematch.screens.session import Shot, bench, go_to

PHOTOGRAPH = "scene-1.jpg"


def offer_demonstration(logbook: Logbook) -> None:
    """A button that puts the invented piece and trials into the logbook, once."""
    names = {piece.name for piece in logbook.pieces()}
    if PIECE.name in names:
        return
    with st.expander("Try it first on an invented piece"):
        st.write(
            "This adds an invented piece with a calculated photograph, and invented trials to "
            "plan from. They are marked as invented wherever they are shown. To keep them apart "
            "from your own trials, start tonematch with another logbook."
        )
        if st.button("Put it on the bench", width="stretch"):
            load_demonstration(logbook)
            bench().take_up(PIECE.name)
            source = demo_photograph(PHOTOGRAPH).data
            bench().shots["both"] = Shot(PHOTOGRAPH, source)
            go_to(
                "Photograph",
                "The invented piece is on the bench. Mark the areas and the cards below.",
            )
