"""Trials that look mistyped: put right, left out of what is learned, or taken in again."""

from collections.abc import Sequence

import streamlit as st

from tonematch.logbook.core import KeptTrial
from tonematch.logbook.store import Logbook
from tonematch.logbook.stores.corrections import typed_values
from tonematch.screens.keeping import known_layers
from tonematch.screens.planning import doubted
from tonematch.screens.sections.putting_right import show_form
from tonematch.screens.session import bench, go_to
from tonematch.screens.showing.plain import plain
from tonematch.toning.validation.outliers import Outlier

MANY_TRIALS = 300  # beyond, looking takes longer than a page may: some seconds for 2,000 trials
_UNDO = "Undo it below, under what is left out."


def show_doubts(logbook: Logbook, kept: Sequence[KeptTrial]) -> None:
    """Name each doubtful trial with its likely slip; put it right or leave it out."""
    found = _look(logbook, [k for k in kept if not k.excluded])
    if not found:
        return
    number = "1 trial looks" if len(found) == 1 else f"{len(found)} trials look"
    with st.expander(f"{number} mistyped", expanded=True, icon=":material/warning:"):
        for k, doubt in found:
            _show_doubt(logbook, doubt, k)


def _look(logbook: Logbook, learned: Sequence[KeptTrial]) -> list[tuple[KeptTrial, Outlier]]:
    """The doubtful trials, the strangest first; in a long logbook only when asked for."""
    held = bench()
    if len(learned) > MANY_TRIALS:
        if st.button("Look for mistyped trials", width="stretch"):
            held.doubts = _doubts_of(logbook, learned)
            if not held.doubts:
                st.write("No trial looks mistyped.")
    else:
        held.doubts = _doubts_of(logbook, learned)
    by_id = {k.id: k for k in learned}
    # What was put right or left out since then is no longer in doubt.
    return [
        (by_id[number], doubt)
        for number, doubt in held.doubts.items()
        if number in by_id and typed_values(by_id[number].trial) == typed_values(doubt.trial)
    ]


def _doubts_of(logbook: Logbook, learned: Sequence[KeptTrial]) -> dict[int, Outlier]:
    doubts = doubted([k.trial for k in learned], known_layers(logbook))
    return {learned[doubt.index].id: doubt for doubt in doubts}


def _show_doubt(logbook: Logbook, doubt: Outlier, k: KeptTrial) -> None:
    # The table below counts by the trial's number, not by its row among those learned.
    st.write(f"**Trial {k.id}**: {plain(doubt.words)}")
    if bench().putting_right == k.id:
        show_form("doubt-right", logbook, k, doubt.mended or k.trial)
        if st.button("Leave it as it is", key=f"as-it-is-{k.id}", width="stretch"):
            bench().putting_right = None
            st.rerun()
        return
    right, out = st.columns(2)
    if right.button(f"Put trial {k.id} right", key=f"right-doubt-{k.id}", width="stretch"):
        bench().putting_right = k.id
        st.rerun()
    if out.button(f"Leave trial {k.id} out", key=f"doubt-{k.id}", width="stretch"):
        logbook.exclude_trial(k.id, f"looked mistyped: {doubt.words}")
        go_to("Logbook", f"Nothing is learned from trial {k.id} any more. {_UNDO}")


def show_any(logbook: Logbook, kept: Sequence[KeptTrial]) -> None:
    """Put right or leave out any trial that is chosen."""
    by_id = {k.id: k for k in reversed(kept)}
    with st.expander("Put a trial right, or leave it out"):
        chosen = st.selectbox(
            "Trial",
            by_id,
            index=None,
            placeholder="Choose a trial",
            format_func=lambda i: _say(by_id[i]),
            key="any-trial",
        )
        if chosen is None:
            return
        k = by_id[chosen]
        if not k.excluded:
            reason = st.text_input("Why", placeholder="wrong pot, still wet, lamp moved")
            if st.button("Leave it out", width="stretch"):
                logbook.exclude_trial(chosen, reason)
                go_to("Logbook", f"Nothing is learned from trial {chosen} any more. {_UNDO}")
        st.write("**Put it right**")
        show_form("any-right", logbook, k, k.trial)


def show_left_out(logbook: Logbook, kept: Sequence[KeptTrial]) -> None:
    """What is left out, each with its way back."""
    left_out = [k for k in kept if k.excluded]
    if not left_out:
        return
    with st.expander(f"Left out of what is learned: {len(left_out)}"):
        for k in left_out:
            st.write(plain(_say(k)))
            if st.button(f"Learn from trial {k.id} again", key=f"back-{k.id}", width="stretch"):
                logbook.include_trial(k.id)
                go_to("Logbook", f"Trial {k.id} is learned from again.")


def _say(kept: KeptTrial) -> str:
    laid = kept.trial.application
    place = f" on {kept.trial.where}" if kept.trial.piece else ""
    return f"Trial {kept.id}: {laid.layer}, strength {laid.strength:g}{place}"
