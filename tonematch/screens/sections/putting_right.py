"""A trial put right in its place: what was typed, what was meant, and the way back."""

from collections.abc import Mapping
from dataclasses import replace

import numpy as np
import streamlit as st
from numpy.typing import NDArray

from tonematch.in_words import say_lab
from tonematch.logbook.core import KeptTrial
from tonematch.logbook.layers_on_repair import put_trial_right
from tonematch.logbook.store import Logbook
from tonematch.logbook.stores.corrections import with_held_lustre
from tonematch.screens.session import go_to
from tonematch.screens.showing.plain import plain
from tonematch.screens.showing.swatch import COLORIMETRY
from tonematch.toning.core import Layer, Trial
from tonematch.toning.layers.coats import say_coats
from tonematch.toning.model.lustre_law import MOST_LUSTRE
from tonematch.toning.planning.lustre_words import say_trial_lustre


def show_form(logbook: Logbook, kept: KeptTrial, likely: Trial) -> None:
    """Ask how a trial should read, filled with what it likely was meant to say."""
    shelf = logbook.known_layers()
    st.write(f"It reads: {say_what_was_typed(kept.trial)}.")
    with st.form(f"right-{kept.id}", border=False):
        trial = _ask(f"right-{kept.id}", with_held_lustre(kept.trial, likely), shelf)
        reason = st.text_input("Why it is changed", placeholder="read the pot again")
        if st.form_submit_button(f"Keep No. {kept.id} like this", type="primary", width="stretch"):
            put_trial_right(logbook, kept, trial, shelf, reason)
            go_to("Logbook", f"No. {kept.id} is put right; what it said before is kept with it.")


def _ask(place: str, likely: Trial, shelf: Mapping[str, Layer]) -> Trial:
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


def say_what_was_typed(trial: Trial) -> str:
    """All that can be mistyped of a trial, in one line of Markdown."""
    laid = trial.application
    lustre = say_trial_lustre(trial)
    return plain(
        f"{laid.layer}, {laid.strength:g} of the full mix, {say_coats(laid.coats)}, from "
        f"{say_lab(laid.before)} to {say_lab(trial.after)}{f', {lustre}' if lustre else ''}"
    )
