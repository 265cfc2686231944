"""One row of the logbook, opened: its photographs, what it says, and how it is put right."""

from collections.abc import Mapping

import streamlit as st

from tonematch.logbook.core import Air, KeptTrial
from tonematch.logbook.store import Logbook
from tonematch.screens.sections.kept_pictures import before_and_after
from tonematch.screens.sections.likeness import offer_likeness
from tonematch.screens.sections.putting_right import say_what_was_typed, show_form
from tonematch.screens.session import go_to
from tonematch.screens.showing.plain import plain
from tonematch.screens.showing.swatch import show_swatches
from tonematch.screens.showing.wipe import show_wipe
from tonematch.toning.core import Trial
from tonematch.toning.validation.outliers import Outlier


def show_opened(
    logbook: Logbook, kept: KeptTrial, doubt: Outlier | None, corrected: Mapping[int, Trial]
) -> None:
    """All that is known of a trial, and what can be done about it."""
    _show_pictures(logbook, kept)
    if air := Air(kept.trial.temperature, kept.trial.humidity).words:
        st.caption(f"Laid at {air}.")
    if kept.trial.bench:
        st.caption(f"Logged at {plain(kept.trial.bench)}.")
    if kept.trial.note:
        st.write(f"Note: {plain(kept.trial.note)}")
    for caution in kept.cautions:
        st.caption(f"Mind: {plain(caution)}")
    offer_likeness("What else came out like this?", kept.trial.after)
    with st.expander("Put it right", expanded=doubt is not None):
        show_form(logbook, kept, (doubt and doubt.mended) or kept.trial)
        if kept.id in corrected:
            st.write(f"Before it was put right: {say_what_was_typed(corrected[kept.id])}.")
            if st.button("Put it back as it was", key=f"as-{kept.id}", width="stretch"):
                logbook.put_back_trial(kept.id)
                go_to("Logbook", f"No. {kept.id} reads as it did before.")
    if kept.excluded:
        if st.button("Learn from it again", key=f"back-{kept.id}", width="stretch"):
            logbook.include_trial(kept.id)
            go_to("Logbook", f"No. {kept.id} is learned from again.")
        return
    with st.expander("Leave it out of what is learned"):
        slip = f"looked mistyped: {doubt.slip}" if doubt else ""
        reason = st.text_input("Why", slip, placeholder="wrong pot, still wet, lamp moved")
        if st.button("Leave it out", key=f"out-{kept.id}", width="stretch"):
            logbook.exclude_trial(kept.id, reason)
            go_to("Logbook", f"Nothing is learned from No. {kept.id} any more; it stays here.")


def _show_pictures(logbook: Logbook, kept: KeptTrial) -> None:
    """The place before and after, where photographs show it, and the flat colours."""
    trial = kept.trial
    if kept.before is not None and kept.after is not None:
        pictures = before_and_after(logbook, kept.before, kept.after)
        if pictures is not None:
            when = ("before", "after")
            alts = [f"The place {one} the {trial.application.layer}" for one in when]
            show_wipe(f"wipe-{kept.id}", pictures, when, alts)
    colours = [("Before", trial.application.before), ("After", trial.after)]
    if kept.prediction is not None:
        colours.insert(1, ("Expected", kept.prediction.lab))
    show_swatches(colours, small=True)
