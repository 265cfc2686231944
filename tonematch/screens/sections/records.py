"""The record of a piece as a file to take away."""

from pathlib import Path
from tempfile import TemporaryDirectory

import streamlit as st

from tonematch.logbook.core import Piece
from tonematch.logbook.store import Logbook
from tonematch.record.document import write_record
from tonematch.screens.showing.plain import plain


def offer_record(logbook: Logbook, piece: Piece) -> None:
    """Make the record when it is asked for, then offer it as a download."""
    st.subheader("The record", anchor=False)
    st.write(
        f"What was measured and laid on {plain(piece.name)}, with pictures, for the owner and for "
        "whoever opens the piece next. Keep a copy on paper with the piece."
    )
    if st.button("Write the record", width="stretch"):
        with TemporaryDirectory() as folder:
            written = write_record(logbook.histories(piece.name), Path(folder) / "record.html")
            document = written.read_bytes()
        st.download_button(
            "Save the record",
            document,
            f"record {piece.name}.html",
            "text/html",
            on_click="ignore",
            width="stretch",
        )
