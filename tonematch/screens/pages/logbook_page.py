"""Logbook: what was laid, the story of a piece, and an eye for tone trained on both."""

import io

import streamlit as st

from tonematch.logbook.store import Logbook, open_logbook
from tonematch.logbook.trial_csv import read_trials, trials_table
from tonematch.screens.sections.eye import show_eye
from tonematch.screens.sections.laid_rows import show_laid
from tonematch.screens.sections.safekeeping import offer_safekeeping
from tonematch.screens.sections.story import show_story
from tonematch.screens.session import go_to
from tonematch.screens.showing.plain import offer_file


def logbook_page(logbook: Logbook) -> None:
    """The page of all that was laid."""
    part = st.segmented_control(
        "Part of the logbook", PARTS, key="part", required=True, default="What was laid",
        label_visibility="collapsed", bind="query-params",
    )  # fmt: skip
    PARTS[part or "What was laid"](logbook)


def _laid(logbook: Logbook) -> None:
    show_laid(logbook)
    _offer_table(logbook)
    offer_safekeeping(logbook)


def _offer_table(logbook: Logbook) -> None:
    """All of it as a table, out and in."""
    with st.expander("As a table: save it, or bring one in (CSV)"):
        place = logbook.place

        def as_csv() -> str:  # made when it is asked for, and the logbook of the page is shut then
            with open_logbook(place) as again:
                return trials_table(again.trials())

        offer_file("Save all that was laid", as_csv, "trials.csv", "text/csv")
        handed = st.file_uploader("Table of what was laid", type=["csv"], key="trials-file")
        if handed is None or not st.button("Bring these in", width="stretch"):
            return
        table = io.TextIOWrapper(handed, "utf-8-sig", newline="")
        added = logbook.add_trials(read_trials(table, logbook.known_layers()))
        go_to("Logbook", f"Brought in: {added} laid.")


PARTS = {"What was laid": _laid, "Story": show_story, "Train the eye": show_eye}
