"""What was laid, row by row: searched, in pages, each row opening to its photographs."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from difflib import get_close_matches

import streamlit as st
from streamlit.delta_generator import DeltaGenerator

from tonematch.logbook.core import KeptTrial
from tonematch.logbook.store import Logbook
from tonematch.logbook.stores.corrections import typed_values
from tonematch.logbook.stores.likeness import Asked, Found
from tonematch.screens.keeping import invented_pieces, is_invented
from tonematch.screens.planning import doubted
from tonematch.screens.sections.kept_pictures import small_crop
from tonematch.screens.sections.laid_opened import show_opened
from tonematch.screens.sections.likeness import ask_for_trials
from tonematch.screens.session import bench
from tonematch.screens.showing.laid_row import row_html
from tonematch.screens.showing.plain import data_url, plain
from tonematch.toning.core import Trial
from tonematch.toning.layers.shelf import NEAR
from tonematch.toning.validation.outliers import Outlier

NOTHING_YET = (
    "Nothing is laid yet. Each layer that you lay and photograph stands here, and the plans learn "
    "from it. If you have a table of what you laid, bring it in below."
)
A_PAGE = 20  # rows
MANY_TRIALS = 300  # beyond, looking takes longer than a page may: some seconds for 2,000 trials
WHICH = ("all", "looks mistyped", "put right", "left out")


@dataclass(frozen=True, eq=False)
class _Row:
    """A row on the page: its trial, how far that is from what is looked for, and its places."""

    kept: KeptTrial
    states: Sequence[str]
    away: float | None
    line: DeltaGenerator
    below: DeltaGenerator

    def show(self, doubt: Outlier | None, crops: Sequence[str] = ()) -> None:
        """Draw it anew with what is known by now."""
        self.line.html(row_html(self.kept, self.states, self.away, doubt, crops))


def show_laid(logbook: Logbook) -> None:
    """The rows that are looked for; what takes longer comes to them once they stand."""
    if not logbook.layers_laid():
        st.write(NOTHING_YET)
        return
    asked = ask_for_trials(logbook)
    which = st.pills("Show", WHICH, key="which", required=True, default=WHICH[0])
    corrected, invented = logbook.corrected_trials(), invented_pieces(logbook)
    found = _find(logbook, asked, which or WHICH[0], corrected)
    line, which = st.empty(), which or WHICH[0]
    words = _say_found(found) if found.trials else _say_none(logbook, asked.words, which)
    line.write(words)
    away = found.away or (None,) * len(found.trials)
    pairs = list(zip(found.trials, away, strict=True))
    rows = [
        _begin(kept, far, _states(kept, invented, corrected))
        for kept, far in (pairs if found.away else reversed(pairs))
    ]
    if found.met > A_PAGE:
        st.pagination(-(-found.met // A_PAGE), key="page")
    doubts = _doubts(logbook, found.of, which == "looks mistyped")
    if doubts and which != "looks mistyped":
        # In the same line, since a line more would move the rows that already stand.
        line.write(f"{words} {len(doubts)} look{'s' if len(doubts) == 1 else ''} mistyped.")
    for row in rows:
        if row.kept.id in doubts:
            row.show(doubts[row.kept.id])
        if row.kept.id == bench().recall("row", 0):
            with row.below:
                show_opened(logbook, row.kept, doubts.get(row.kept.id), corrected)
    for row in rows:
        crops = [small_crop(logbook, kept) for kept in (row.kept.before, row.kept.after)]
        urls = [data_url(jpeg, "jpeg") for jpeg in crops if jpeg is not None]
        if len(urls) == 2:
            row.show(doubts.get(row.kept.id), urls)


def _find(logbook: Logbook, asked: Asked, which: str, corrected: Mapping[int, Trial]) -> Found:
    """One page of what is asked for; the first where there are no longer so many."""
    if which == "looks mistyped":
        number = logbook.find_trials(Asked(count=1)).of
        asked = replace(asked, among=tuple(_doubts(logbook, number, asked=True)))
    elif which == "put right":
        asked = replace(asked, among=tuple(corrected))
    elif which == "left out":
        asked = replace(asked, excluded=True)
    page = st.session_state.get("page", 1)
    found = logbook.find_trials(replace(asked, count=A_PAGE, skip=A_PAGE * (page - 1)))
    if page > 1 and not found.trials:
        st.session_state["page"] = 1
        found = logbook.find_trials(replace(asked, count=A_PAGE))
    return found


def _doubts(logbook: Logbook, number: int, asked: bool) -> dict[int, Outlier]:
    """The doubtful trials by their number, the strangest first.

    Of a long logbook, by the `number` of its trials, only when it is asked for.
    """
    held = bench()
    if number > MANY_TRIALS and not asked and not held.doubts:
        return {}
    learned = [k for k in logbook.kept_trials() if not k.excluded]
    if number <= MANY_TRIALS or not held.doubts:
        found = doubted([k.trial for k in learned], logbook.known_layers())
        held.doubts = {learned[doubt.index].id: doubt for doubt in found}
    by_id = {k.id: k for k in learned}
    # What was put right or left out since then is no longer in doubt.
    return {
        number: doubt
        for number, doubt in held.doubts.items()
        if number in by_id and typed_values(by_id[number].trial) == typed_values(doubt.trial)
    }


def _say_found(found: Found) -> str:
    if not found.met:
        return "Nothing that you laid looked like this. The nearest:"
    order = "the nearest first" if found.away else "the newest first"
    return f"{found.met} of {found.of}, {order}."


def _say_none(logbook: Logbook, words: str, which: str) -> str:
    """That no row is like what was asked for; of a misspelt layer how it is spelt."""
    if not words and which != WHICH[0]:
        return f"No row here {which if which == 'looks mistyped' else f'was {which}'}."
    known = {word for name in logbook.layers_laid() for word in name.lower().split()}
    asked = words.lower().split()
    spelt = [next(iter(get_close_matches(word, known, n=1, cutoff=NEAR)), word) for word in asked]
    if spelt != asked:
        return f"Nothing is called {plain(words)}: did you mean {plain(' '.join(spelt))}?"
    return "Nothing is like that: ask for fewer things at once."


def _begin(kept: KeptTrial, away: float | None, states: Sequence[str]) -> _Row:
    is_open = bench().recall("row", 0) == kept.id
    with st.container(horizontal=True, vertical_alignment="top", key=f"row-{kept.id}"):
        line = st.container().empty()
        st.button(
            f"{'Close' if is_open else 'Open'} {kept.id}",
            key=f"open-{kept.id}",
            on_click=bench().remember,
            args=("row", 0 if is_open else kept.id),
        )
    row = _Row(kept, states, away, line, st.container())
    row.show(None)
    return row


def _states(kept: KeptTrial, invented: set[str], corrected: Mapping[int, Trial]) -> list[str]:
    told = {
        "invented": is_invented(kept.trial, invented) and "invented" not in kept.trial.where,
        "put right": kept.id in corrected,
        "left out of what is learned": kept.excluded,
    }
    return [words for words, so in told.items() if so]
