"""The pair once more under a second light: where it will hang, beside where it was toned."""

import streamlit as st

from tonematch.errors import TonematchError
from tonematch.logbook.core import Piece
from tonematch.logbook.store import Logbook
from tonematch.measure.comparison import compare
from tonematch.measure.core import Comparison, Reading
from tonematch.measure.reading.reading import read_area
from tonematch.measure.two_lights import TwoLights, compare_under_second_light
from tonematch.screens.asking.opening import photo_of
from tonematch.screens.asking.shots import ask_for_marked
from tonematch.screens.keeping import keep_comparison, keep_findings
from tonematch.screens.marking import CARD, ORIGINAL, REPAIR
from tonematch.screens.session import SECOND_LIGHT, Closer, bench
from tonematch.screens.showing.plain import plain, refuse, warn
from tonematch.screens.showing.ruler import ruler_html
from tonematch.screens.showing.swatch import in_numbers, show_swatches

HOW = (
    "Toned under one lamp, it will hang under another: take a picture of the same pair there, with "
    "the card, and see whether the two part."
)


def offer_second_light(logbook: Logbook, piece: Piece, closer: Closer, first: Comparison) -> None:
    """Ask for a photograph under a second light, and compare the pair in it.

    What is wrong with that photograph is said here, so that the rest of the page stays.
    """
    held, label = bench(), "Compare them under a second light, too"
    asked = st.checkbox(label, held.recall(SECOND_LIGHT, False), key=SECOND_LIGHT)
    if not held.remember(SECOND_LIGHT, asked):
        return
    with st.container(border=True):
        st.write(HOW)
        try:
            _ask(logbook, piece, closer, first)
        except TonematchError as error:
            refuse(str(error))
            return
        if closer.lights is not None:
            _show(closer.lights)


def _ask(logbook: Logbook, piece: Piece, closer: Closer, first: Comparison) -> None:
    label, wanted = "Photograph under the second light, with the card", (CARD, ORIGINAL, REPAIR)
    marked = ask_for_marked(SECOND_LIGHT, label, wanted, logbook, first)
    if marked is None or not st.button("Compare under the second light", width="stretch"):
        return
    calibration = first.repair.calibration
    assert calibration is not None  # the page offers this only with its card
    with st.spinner("Reading the areas"):
        found = compare_under_second_light(_as_read(logbook, first), marked, calibration.value)
    closer.lights = found
    keep_comparison(logbook, piece)
    shot = bench().shots[SECOND_LIGHT]
    logbook.keep_photo(shot.source, shot.name, piece.name, piece.zone)
    keep_findings(logbook, [found.finding])


def _as_read(logbook: Logbook, first: Comparison) -> Comparison:
    """The comparison with all that its readings tell when they are taken.

    The logbook keeps no derivatives of a reading: out of it, it is read anew.
    """
    pair = first.original, first.repair
    if all(reading.by_calibration is not None for reading in pair):
        return first
    original, repair = (_read_anew(logbook, reading) for reading in pair)
    return compare(original, repair, first.tolerance)


def _read_anew(logbook: Logbook, reading: Reading) -> Reading:
    assert reading.calibration is not None
    return read_area(photo_of(logbook, reading), reading.area, reading.calibration)


def _show(found: TwoLights) -> None:
    there = found.second
    for warning in there.warnings:
        warn(warning)
    st.html(ruler_html(there, small=True))
    show_swatches([("Original", there.original.lab), ("Repair", there.repair.lab)], small=True)
    st.write(f"**{plain(found.words)}**")
    (low, high), tolerance = there.interval, there.tolerance
    with in_numbers():
        st.write(
            f"Under the second light: **CIEDE2000 {there.delta_e:.1f}**, 95 % interval {low:.1f} "
            f"to {high:.1f}; tolerance {tolerance:.1f}. {found.numbers}"
        )
