"""What holds for the whole job, to read before it and to print."""

import streamlit as st

from tonematch.measure.words import capital
from tonematch.record.page import cautions_card
from tonematch.screens.showing.plain import plain
from tonematch.toning.layers.rule_table import load_job_cautions


def show_job_cautions(heads: str = "") -> None:
    """The cautions for the whole job in one line that opens, with the card to print.

    `heads` are those that the layers of the page bring in, in a few words.
    """
    with st.expander(f"Mind through the whole job{': ' if heads else ''}{heads}"):
        for caution in load_job_cautions():
            st.markdown(f"- **{plain(capital(caution.head))}.** {plain(caution.sentence)}")
        st.download_button(
            "Save the card to print",
            cautions_card(),
            "cautions.html",
            "text/html",
            on_click="ignore",
            width="stretch",
        )
