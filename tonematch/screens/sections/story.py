"""The story of a piece: how its repair came nearer to the old gold, layer by layer."""

from collections.abc import Sequence

import streamlit as st
from streamlit.delta_generator import DeltaGenerator

from tonematch.logbook.core import KeptComparison, KeptTrial, PieceHistory
from tonematch.logbook.store import Logbook
from tonematch.measure.uncertainty.course import stand_of
from tonematch.measure.words import capital
from tonematch.screens.sections.kept_pictures import PAIR_WORDS, before_and_after, edge_to_edge_crop
from tonematch.screens.session import bench
from tonematch.screens.showing.course import course_html
from tonematch.screens.showing.laid_row import say_amount, say_day
from tonematch.screens.showing.plain import plain, tell
from tonematch.screens.showing.plain_numbers import say_piece
from tonematch.screens.showing.ruler import how_far
from tonematch.screens.showing.swatch import show_swatches
from tonematch.screens.showing.wipe import show_wipe
from tonematch.toning.validation.lessons import surprise

NOTHING_YET = (
    "Its story begins with the first comparison that is kept: photograph the old gold and the "
    "repair, and go on to a plan."
)


def show_story(logbook: Logbook) -> None:
    """A piece's photographs in time, the way that they show, and each layer between them."""
    pieces = {say_piece(piece): piece for piece in logbook.pieces()}
    names, held = list(pieces), bench()
    on_bench = [n for n, p in pieces.items() if (p.name, p.zone) == (held.piece, held.zone)]
    chosen = st.selectbox(
        "Piece", names, names.index(on_bench[0]) if on_bench else None, placeholder="Choose a piece"
    )
    if chosen is None:
        return
    history = logbook.history(pieces[chosen].name, pieces[chosen].zone)
    kept = history.comparisons
    if not kept and not history.trials:
        tell(NOTHING_YET)
        return
    top = st.container()
    if len(kept) > 1:
        st.subheader("On the way to the old gold", anchor=False)
        st.html(course_html([stand_of(each.comparison) for each in kept]))
    places = [_tell(number, *step) for number, step in enumerate(_in_time(history), start=1)]
    # What photographs show comes to the page once its words stand.
    with top:
        _show_two(logbook, kept)
    for place, each in zip(places, kept, strict=False):
        pair = edge_to_edge_crop(logbook, each.original, each.repair)
        if pair is not None:
            place.image(pair, width="stretch", alt=PAIR_WORDS)


def _show_two(logbook: Logbook, kept: Sequence[KeptComparison]) -> None:
    """Two of the photographs at the same place, with a slider between them."""
    names = [f"{n}. {say_day(each.made_at)}" for n, each in enumerate(kept, start=1)]
    if len(names) < 2:
        return
    first, last = 0, len(names) - 1
    if len(names) > 2:
        chosen = st.select_slider("From which photograph to which", names, (names[0], names[-1]))
        first, last = (names.index(name) for name in chosen)
    one, other = kept[first], kept[last]
    pictures = before_and_after(logbook, one.repair, other.repair, one.original, other.original)
    if first == last or pictures is None:
        return
    words = names[first], names[last]
    show_wipe("story", pictures, words, [f"The repair's place, photograph {w}" for w in words])


def _in_time(history: PieceHistory) -> list[tuple[KeptComparison | None, list[KeptTrial]]]:
    """Each comparison with what was laid before it; last of all what none shows yet."""
    told: list[tuple[KeptComparison | None, list[KeptTrial]]] = [
        *((each, []) for each in history.comparisons),
        (None, []),
    ]
    for trial in history.trials:
        shown = trial.after.reading.photo_sha256 if trial.after else None
        place = next(
            (
                place
                for place, each in enumerate(history.comparisons)
                if each.repair.reading.photo_sha256 == shown or each.made_at > trial.made_at
            ),
            -1,
        )
        told[place][1].append(trial)
    return told


def _tell(number: int, shown: KeptComparison | None, laid: Sequence[KeptTrial]) -> DeltaGenerator:
    """What was laid, and what the photograph after it showed; gives the photograph's place."""
    for each in laid:
        _tell_layer(each)
    if shown is None:
        return st.empty()
    gap = shown.comparison
    st.subheader(f"{number}. {say_day(shown.made_at)}", anchor=False)
    place = st.empty()
    words, _, _ = gap.words.partition(". ")
    st.write(f"{capital(how_far(gap.delta_e))}. {plain(words.rstrip('.'))}.")
    return place


def _tell_layer(kept: KeptTrial) -> None:
    """A layer with what was expected of it, and what came."""
    trial, expected = kept.trial, kept.prediction
    st.write(f"**{plain(trial.application.layer)}**, {say_amount(trial.application)}")
    colours = [("Before", trial.application.before), ("As it came", trial.after)]
    if expected is not None:
        colours.insert(1, ("Expected", expected.lab))
        st.write(surprise(expected, trial.after))
    show_swatches(colours, small=True)
