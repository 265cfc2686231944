"""Photograph: hand over one picture or two, mark the areas, and have them compared."""

from collections.abc import Iterator
from contextlib import contextmanager

import streamlit as st
from streamlit.delta_generator import DeltaGenerator

from tonematch.errors import TonematchError
from tonematch.logbook.core import Piece
from tonematch.logbook.store import Logbook
from tonematch.measure.core import CardValue
from tonematch.measure.marked import Marked, compare_marked, read_marked
from tonematch.measure.repeats import combine
from tonematch.screens.asking.card import ask_for_card
from tonematch.screens.asking.shots import ask_for_marked
from tonematch.screens.keeping import current_piece, remembered_card
from tonematch.screens.marking import CARD, ORIGINAL, REPAIR, STRIP, Mark
from tonematch.screens.session import Repeats, bench, go_to
from tonematch.screens.showing.plain import say_wrong, tell

_ONE, _TWO = "One picture shows both", "One picture of each"
_PLACES = ("both", "original", "repair")
_BARE = "The gold is not laid yet: the original only"
HOW_TO = (
    "Lay the grey card beside the work, in the same plane. Soft, even light from two sides, no "
    "flash. Nothing may shine white, and no gold may throw its colour on the card."
)
# Intervals of simulated near pairs: 1.7 (curve_families), 2.2 and 3.7 wide (tests/how_good.py).
HOW_SURE = (
    "Surest is the camera's raw or DNG file. Next, a white and a black card beside the grey one: "
    "a third more doubt. The grey card alone works, with about twice the doubt."
)


def photograph_page(logbook: Logbook) -> None:
    """The page where photographs are handed over and marked."""
    piece = current_piece(logbook)
    if piece is None:
        tell("Open a piece on the page Today first.")
        return
    if bench().again:
        tell(
            "This photograph is combined with the ones before it: the same original and repair in "
            "the same light, the card laid anew."
        )
    begun = any(place in bench().shots for place in _PLACES)
    top, rest = st.container(), st.container()
    if begun:
        rest = rest.expander("Settings")
    with rest if begun else top:
        st.write(HOW_TO)
        st.caption(HOW_SURE)
        ways = [_ONE, _TWO, _BARE]
        asked = ways.index(bench().recall("pictures", _ONE))
        how = st.radio("Your pictures", ways, asked, key="pictures", horizontal=True)
        bench().remember("pictures", how)
    with rest:
        value = ask_for_card(remembered_card(logbook, piece))
    with top:
        if how == _BARE:
            _read_original(logbook, value, rest)
        else:
            _read_both(logbook, value, rest, piece, together=how == _ONE)


def _read_both(
    logbook: Logbook, value: CardValue, rest: DeltaGenerator, piece: Piece, together: bool
) -> None:
    def ask(place: str, label: str, *wanted: Mark) -> Marked | None:
        return ask_for_marked(place, label, wanted, logbook, bench().comparison, rest)

    if together:
        label = "Photograph with card, original and repair"
        original = repair = ask("both", label, CARD, ORIGINAL, REPAIR)
    else:
        original = ask("original", "Photograph of the original, with the card", CARD, ORIGINAL)
        repair = ask("repair", "Photograph of the repair, with the card", CARD, REPAIR)
    if original is None or repair is None:
        return
    if st.button("Compare the two", type="primary", width="stretch"):
        with _said_here():
            _compare(original, repair, value, piece.tolerance)


def _read_original(logbook: Logbook, value: CardValue, rest: DeltaGenerator) -> None:
    """Read the old gilding alone, to choose the gold that is to be laid beside it."""
    held, key = bench(), "strip-beside"
    words = "A strip of leaf, gilded as the repair will be, lies beside it"
    wanted: tuple[Mark, ...] = (CARD, ORIGINAL)
    with rest:
        beside = held.remember(key, st.checkbox(words, held.recall(key, False), key=key))
    if beside:
        wanted = (CARD, ORIGINAL, STRIP)
    label = "Photograph of the original, with the card"
    original = ask_for_marked("original", label, wanted, logbook, held.comparison, rest)
    if original is None or not st.button("Which gold to lay", type="primary", width="stretch"):
        return
    with _said_here(), st.spinner("Reading the area"):
        readings, warnings = read_marked(original, value)
    held.original, held.strip = readings["original"], readings.get(STRIP.role)
    held.comparison = held.kept_comparison = None
    held.lay_next(None)
    go_to("Plan", cautions=warnings)


@contextmanager
def _said_here() -> Iterator[None]:
    """What is wrong is said beside the button that was pressed, and the page stays as it is."""
    try:
        yield
    except TonematchError as error:
        say_wrong(str(error))
        st.stop()


def _compare(original: Marked, repair: Marked, value: CardValue, tolerance: float) -> None:
    with st.spinner("Reading the areas"):
        single = compare_marked(original, repair, value, tolerance)
        held = bench()
        held.aids |= {marked.photo.sha256: marked.aids for marked in (original, repair)}
        singles = (*held.again, single)
        held.comparison = combine(singles)
    held.repeats, held.again = Repeats(singles, held.comparison), ()
    held.kept_comparison = None
    held.lay_next(None)
    go_to("Compare")
