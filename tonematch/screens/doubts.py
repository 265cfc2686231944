"""Trials that look mistyped, and leaving a trial out of what is learned or taking it in again."""

from collections.abc import Sequence

import streamlit as st

from tonematch.logbook.core import KeptTrial
from tonematch.logbook.store import Logbook
from tonematch.screens.keeping import known_layers
from tonematch.screens.planning import doubted
from tonematch.screens.session import go_to
from tonematch.screens.wording import as_written

_UNDO = "Undo it below, under what is left out."


def show_doubts(logbook: Logbook, kept: Sequence[KeptTrial]) -> None:
    """Name each doubtful trial with its likely slip; leaving it out is one button."""
    learned = [k for k in kept if not k.excluded]
    doubts = doubted([k.trial for k in learned], known_layers(logbook))
    if not doubts:
        return
    number = "1 trial looks" if len(doubts) == 1 else f"{len(doubts)} trials look"
    with st.expander(f"{number} mistyped", expanded=True, icon=":material/warning:"):
        for doubt in doubts:
            trial_id = learned[doubt.index].id
            # The table below counts by the trial's number, not by its row among those learned.
            told = doubt.sentence.removeprefix(f"Row {doubt.index + 1}: ")
            st.write(f"**Trial {trial_id}**: {as_written(told)}")
            if st.button(f"Leave trial {trial_id} out", key=f"doubt-{trial_id}", width="stretch"):
                logbook.exclude_trial(trial_id, f"looked mistyped: {told}")
                go_to("Trials", f"Nothing is learned from trial {trial_id} any more. {_UNDO}")


def show_left_out(logbook: Logbook, kept: Sequence[KeptTrial]) -> None:
    """What is left out, each with its way back; and leaving any other trial out."""
    left_out = [k for k in kept if k.excluded]
    with st.expander(f"Left out of what is learned: {len(left_out)}"):
        for k in left_out:
            st.write(_say(k))
            if st.button(f"Learn from trial {k.id} again", key=f"back-{k.id}", width="stretch"):
                logbook.include_trial(k.id)
                go_to("Trials", f"Trial {k.id} is learned from again.")
        by_id = {k.id: k for k in reversed(kept) if not k.excluded}
        if not by_id:
            return
        chosen = st.selectbox(
            "Leave out a trial", by_id, index=None, format_func=lambda i: _say(by_id[i])
        )
        reason = st.text_input("Why", placeholder="wrong pot, still wet, lamp moved")
        if chosen is not None and st.button("Leave it out", width="stretch"):
            logbook.exclude_trial(chosen, reason)
            go_to("Trials", f"Nothing is learned from trial {chosen} any more. {_UNDO}")


def _say(kept: KeptTrial) -> str:
    laid = kept.trial.application
    place = f" on {kept.trial.piece}" if kept.trial.piece else ""
    return f"Trial {kept.id}: {laid.layer}, strength {laid.strength:g}{place}"
