"""Record: what was done to the piece as a file to hand over, and what only a person can say."""

from dataclasses import replace
from typing import get_args

import streamlit as st

from tonematch.errors import LogbookError
from tonematch.logbook.core import Piece
from tonematch.logbook.letterhead import HEADING, Paper, keep_letterhead, logo_of
from tonematch.logbook.store import Logbook
from tonematch.record.account import materials
from tonematch.record.document import record_html
from tonematch.record.page import pdf_of
from tonematch.screens.keeping import current_piece
from tonematch.screens.sections.kept_pictures import show_piece
from tonematch.screens.showing.plain import offer_file, plain, tell


def record_page(logbook: Logbook) -> None:
    """The page of the piece's record, which is made when it is asked for."""
    piece = current_piece(logbook)
    if piece is None:
        tell("Open a piece on the page Today first.")
        return
    show_piece(logbook, piece)
    st.write(
        f"What was damaged, laid and measured on {plain(piece.name)}, with pictures, for the owner "
        "and for whoever opens the piece next. Print it, and keep it with the piece."
    )
    with st.expander("What only you can say for it"):
        _ask(logbook, piece)
    with st.expander("Your heading on every record"):
        _ask_heading()
    if st.button("Write the record", type="primary", width="stretch"):
        html = record_html(logbook.histories(piece.name))
        try:
            _save("PDF", pdf_of(html), piece)
        except LogbookError as error:  # the same record is still there to be printed
            tell(str(error))
        _save("HTML", html.encode("utf-8"), piece)


def _save(kind: str, document: bytes, piece: Piece) -> None:
    ending = kind.lower()
    mime = "application/pdf" if ending == "pdf" else "text/html"
    offer_file(f"Save the record ({kind})", document, f"record {piece.name}.{ending}", mime)


def _ask(logbook: Logbook, piece: Piece) -> None:
    """What was damaged, who mended it, and with what; what stays empty is a line to write on."""
    lying = materials(logbook.histories(piece.name), logbook.known_layers())
    with st.form(f"record {piece.title}", border=False):
        if piece.zone:
            st.caption(f"Of this gold: {plain(piece.zone)}.")
        told = replace(
            piece,
            damage=st.text_area("What was damaged", piece.damage, height=68),
            condition=st.text_area("Condition when it came", piece.condition, height=68),
            extent=st.text_input("Place and size of the repair", piece.extent),
        )
        if piece.zone:
            st.caption("Of the whole piece.")
        told = replace(told, done_by=st.text_input("Done by", piece.done_by)).with_makers(
            {
                each.name: st.text_input(f"{plain(each.name)}: maker and batch", each.maker)
                for each in lying
            }
        )
        if st.form_submit_button("Keep this", width="stretch") and told != piece:
            logbook.change_piece(piece.name, told, zone=piece.zone)
            st.success("Kept with the piece.")


def _ask_heading() -> None:
    known, papers = HEADING.value(), get_args(Paper)
    with st.form("heading", border=False):
        words = st.text_area("Name, address, a line each", known.words)
        handed = st.file_uploader("Logo (PNG or JPEG)", type=["png", "jpg", "jpeg"])
        stays = st.checkbox("With the logo", True) if known.logo else True
        paper = st.radio("Paper", papers, papers.index(known.paper), horizontal=True)
        if st.form_submit_button("Keep this heading", width="stretch"):
            logo = logo_of(handed.getvalue()) if handed else known.logo if stays else ""
            keep_letterhead(replace(known, words=words, logo=logo, paper=paper))
            st.success("Kept; it stands above every record from now on.")
