"""One row of the logbook, opened: its photographs, what it says, and how it is put right."""

from collections.abc import Mapping
from dataclasses import replace

import numpy as np
import streamlit as st
from numpy.typing import NDArray

from tonematch.in_words import say_lab
from tonematch.logbook.core import Air, KeptTrial
from tonematch.logbook.layers_on_repair import put_trial_right
from tonematch.logbook.store import Logbook
from tonematch.logbook.stores.corrections import with_held_lustre
from tonematch.screens.sections.kept_pictures import before_and_after
from tonematch.screens.sections.likeness import offer_likeness
from tonematch.screens.session import go_to
from tonematch.screens.showing.plain import plain
from tonematch.screens.showing.swatch import COLORIMETRY, show_swatches
from tonematch.screens.showing.wipe import show_wipe
from tonematch.toning.core import Layer, Trial
from tonematch.toning.layers.coats import say_coats
from tonematch.toning.model.lustre_law import MOST_LUSTRE
from tonematch.toning.planning.lustre_words import say_trial_lustre
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
        _show_form(logbook, kept, (doubt and doubt.mended) or kept.trial)
        if kept.id in corrected:
            st.write(f"Before it was put right: {_say_what_was_typed(corrected[kept.id])}.")
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


def _show_form(logbook: Logbook, kept: KeptTrial, likely: Trial) -> None:
    """Ask how a trial should read, filled with what it likely was meant to say."""
    shelf = logbook.known_layers()
    st.write(f"It reads: {_say_what_was_typed(kept.trial)}.")
    with st.form(f"right-{kept.id}", border=False):
        trial = _ask_what_was_meant(f"right-{kept.id}", with_held_lustre(kept.trial, likely), shelf)
        reason = st.text_input("Why it is changed", placeholder="read the pot again")
        if st.form_submit_button(f"Keep No. {kept.id} like this", type="primary", width="stretch"):
            put_trial_right(logbook, kept, trial, shelf, reason)
            go_to("Logbook", f"No. {kept.id} is put right; what it said before is kept with it.")


def _ask_what_was_meant(place: str, likely: Trial, shelf: Mapping[str, Layer]) -> Trial:
    laid = likely.application
    names = list(dict.fromkeys((*shelf, laid.layer)))
    name = st.selectbox("Layer", names, index=names.index(laid.layer), key=f"{place}-layer")
    with st.container(horizontal=True):
        strength = st.number_input(
            "How much of the full mix",
            min_value=0.01,
            value=float(laid.strength),
            step=0.05,
            format="%g",
            key=f"{place}-strength",
            width=200,
        )
        coats = st.number_input(
            "Coats", min_value=1, value=laid.coats, key=f"{place}-coats", width=200
        )
    before = _ask_colour("before", place, laid.before)
    after = _ask_colour("after", place, likely.after)
    lustre_before = _ask_lustre("before", place, likely.before_lustre)
    lustre_after = _ask_lustre("after", place, likely.after_lustre)
    st.caption(COLORIMETRY.split(".")[0] + ".")
    kind = shelf[name].kind if name in shelf else laid.kind
    meant = replace(laid, layer=name, kind=kind, strength=strength, coats=coats, before=before)
    return replace(
        likely,
        application=meant,
        after=after,
        before_lustre=lustre_before,
        after_lustre=lustre_after,
    )


def _ask_lustre(when: str, place: str, stops: float | None) -> float | None:
    """A lustre where it was measured."""
    if stops is None:
        return None
    return st.number_input(
        f"Lustre {when}, stops",
        min_value=0.0,
        max_value=MOST_LUSTRE,
        value=stops,
        step=0.1,
        format="%.2f",
        key=f"{place}-{when}-lustre",
        width=200,
    )


def _ask_colour(when: str, place: str, lab: NDArray[np.float64]) -> NDArray[np.float64]:
    with st.container(horizontal=True, key=f"typed-{place}-{when}"):
        typed = [
            st.number_input(
                f"{axis}* {when}",
                value=float(value),
                step=0.1,
                format="%.2f",
                key=f"{place}-{when}-{axis}",
                width=130,
            )
            for axis, value in zip("Lab", lab, strict=True)
        ]
    return np.array(typed)


def _say_what_was_typed(trial: Trial) -> str:
    """All that can be mistyped of a trial, in one line of Markdown."""
    laid = trial.application
    lustre = say_trial_lustre(trial)
    return plain(
        f"{laid.layer}, {laid.strength:g} of the full mix, {say_coats(laid.coats)}, from "
        f"{say_lab(laid.before)} to {say_lab(trial.after)}{f', {lustre}' if lustre else ''}"
    )
