"""Record: what was measured and laid on the piece, to hand over."""

import streamlit as st

from tonematch.logbook.store import Logbook
from tonematch.screens.keeping import current_piece
from tonematch.screens.sections.records import offer_record


def record_page(logbook: Logbook) -> None:
    """The page of the piece's record."""
    st.header("Record", anchor=False)
    piece = current_piece(logbook)
    if piece is None:
        st.info("Open a piece on the page Today first.", icon=":material/info:")
        return
    offer_record(logbook, piece)
