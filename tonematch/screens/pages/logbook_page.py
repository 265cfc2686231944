"""Logbook: every layer that was laid, to search, to bring in and to take out."""

import io
from itertools import zip_longest

import streamlit as st

from tonematch.errors import TrialError
from tonematch.in_words import say_found, say_lab
from tonematch.logbook.store import Logbook
from tonematch.logbook.stores.likeness import Found
from tonematch.logbook.trial_csv import read_trials, write_trials
from tonematch.screens.keeping import invented_pieces, is_invented, known_layers
from tonematch.screens.sections.doubts import show_any, show_doubts, show_left_out
from tonematch.screens.sections.likeness import ask_for_trials
from tonematch.screens.sections.putting_right import show_put_right
from tonematch.screens.sections.safekeeping import offer_safekeeping
from tonematch.screens.session import go_to
from tonematch.screens.showing.plain_numbers import say_trials
from tonematch.screens.showing.swatch import COLORIMETRY
from tonematch.toning.planning.lustre_words import say_trial_lustre

NO_TRIALS_YET = (
    "No trials yet. Each layer that you lay and photograph becomes one, and the plans learn from "
    "it. If you have a table of trials, bring it in below."
)


def logbook_page(logbook: Logbook) -> None:
    """The page of all trials."""
    st.header("Logbook", anchor=False)
    kept = logbook.kept_trials()
    if kept:
        show_doubts(logbook, kept)
        _show_table(logbook.find_trials(ask_for_trials(kept)), invented_pieces(logbook))
        st.download_button(
            "Save all trials as a file (CSV)",
            _as_csv(logbook),
            "trials.csv",
            "text/csv",
            on_click="ignore",
            width="stretch",
        )
        show_any(logbook, kept)
        show_put_right(logbook, kept)
        show_left_out(logbook, kept)
    else:
        st.write(NO_TRIALS_YET)
    _take_file(logbook)
    offer_safekeeping(logbook)


def _show_table(found: Found, invented: set[str]) -> None:
    st.write(f"{say_found(found)}.")
    if not found.trials:
        return
    rows = list(zip_longest(found.trials, found.away))
    if not found.away:
        rows.reverse()
    table = [
        {
            "Trial": k.id,
            **({} if away is None else {"Away, CIEDE2000": round(away, 1)}),
            "Layer": k.trial.application.layer,
            "Origin": "invented" if is_invented(k.trial, invented) else "own",
            "Strength": k.trial.application.strength,
            "Coats": k.trial.application.coats,
            "Before": say_lab(k.trial.application.before),
            "After": say_lab(k.trial.after),
            "Piece": k.trial.where,
            "Date": k.trial.date,
            "Kind": k.trial.application.kind,
            "Gilding": f"{k.trial.application.technique}, {k.trial.application.finish}",
            "Learned from": "no" if k.excluded else "yes",
            "Lustre": say_trial_lustre(k.trial).removeprefix("lustre "),
            "Note": k.trial.note,
        }
        for k, away in rows
    ]
    st.dataframe(table, hide_index=True, height=min(460, 40 + 36 * len(rows)))
    st.caption(f"Before and after are {COLORIMETRY.split('.')[0]}.")


def _as_csv(logbook: Logbook) -> str:
    text = io.StringIO(newline="")
    write_trials(logbook.trials(), text)
    return text.getvalue()


def _take_file(logbook: Logbook) -> None:
    with st.expander("Bring in a table of trials (CSV)"):
        handed = st.file_uploader("Table of trials", type=["csv"], key="trials-file")
        if handed is None or not st.button("Bring these in", width="stretch"):
            return
        try:
            text = handed.getvalue().decode("utf-8-sig")
        except UnicodeDecodeError as error:
            raise TrialError(
                f"{handed.name} is not UTF-8 text: save the table again as CSV in UTF-8."
            ) from error
        added = logbook.add_trials(
            read_trials(io.StringIO(text, newline=""), known_layers(logbook))
        )
        go_to("Logbook", f"Brought in: {say_trials(added)}.")
