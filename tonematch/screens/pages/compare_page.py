"""Compare: both colours, what lies between them, and what to make of it."""

import streamlit as st

from tonematch.logbook.core import Piece
from tonematch.logbook.store import Logbook
from tonematch.measure.appearance.area_picture import pair_picture
from tonematch.measure.core import GEOMETRY, Comparison
from tonematch.screens.asking.aids import offer_profile
from tonematch.screens.asking.opening import photos_on_bench
from tonematch.screens.keeping import current_piece, keep_comparison
from tonematch.screens.planning import learned_model
from tonematch.screens.sections.closer import offer_closer, show_last_step
from tonematch.screens.sections.kept_pictures import PAIR_WORDS
from tonematch.screens.session import ask_for, bench, go_to
from tonematch.screens.showing.plain import plain, tell, warn
from tonematch.screens.showing.ruler import ruler_html, say_marks
from tonematch.screens.showing.swatch import in_numbers, readings_html, show_picture, show_swatches

TOLERANCE_NOTE = (
    "CIEDE2000 says how far apart two colours look; it is meant for surfaces that do not shine, "
    "so on bright gold it is a convention. No figure for gilding is published: the tolerance is "
    "yours to set on the Piece page."
)


def compare_page(logbook: Logbook) -> None:
    """The page that shows the latest comparison of the piece."""
    piece = current_piece(logbook)
    gap = bench().comparison
    if piece is None or gap is None:
        tell("Nothing is compared yet: mark the areas on the Photograph page first.")
        return
    _show_pair(logbook, bench().singles()[-1])
    show_comparison(gap)
    show_last_step(logbook, gap)
    count = len(bench().singles())
    if count > 1:
        st.write(f"From {count} photographs together.")
    going_on = st.container()  # stands above what may be looked at beside, which may keep it
    st.divider()
    offer_closer(logbook, piece, gap)
    with going_on:
        _go_on(logbook, piece)
    # While the verdict is read, so that the plan has less to wait for.
    learned_model(logbook.trials(), logbook.known_layers())


def _go_on(logbook: Logbook, piece: Piece) -> None:
    is_kept = bench().kept_comparison is not None
    if is_kept:
        st.write("This comparison and its photograph are in the logbook.")
    else:
        st.write("Going on keeps this comparison and its photograph in the logbook.")
    # It is kept by the Plan page, which so begins before this one is made once more.
    on = "Make a plan" if is_kept else "Keep it and plan"
    st.button(on, on_click=ask_for, args=("Plan",), type="primary", width="stretch")
    if st.button("Mark again", width="stretch"):
        go_to("Photograph")
    if st.button("Photograph the same pair once more", width="stretch"):
        keep_comparison(logbook, piece)
        bench().again = bench().singles()
        bench().shots, bench().marks = {}, {}
        go_to("Photograph")


def _show_pair(logbook: Logbook, single: Comparison) -> None:
    """Both golds as they were photographed, where the photographs are there still."""
    photos = photos_on_bench(logbook, single)
    if photos is not None:
        show_picture("pair", pair_picture(single.original, single.repair, *photos), PAIR_WORDS)


def show_comparison(comparison: Comparison) -> None:
    """A comparison in full: the flat colours, warnings, the ruler, and the numbers in a fold."""
    sides = ("Original", comparison.original), ("Repair", comparison.repair)
    show_swatches([(name, reading.lab) for name, reading in sides], small=True)
    for warning in comparison.warnings:  # what is asked of a photograph stands before its verdict
        warn(warning)
    st.html(ruler_html(comparison))
    with in_numbers():
        low, high = comparison.interval
        st.write(
            f"**CIEDE2000 {comparison.delta_e:.1f}**, 95 % interval {low:.1f} to {high:.1f}; "
            f"tolerance {comparison.tolerance:.1f}."
        )
        st.write(
            f"Repair minus original: lightness \u0394L* {comparison.delta_L:+.1f}, chroma "
            f"\u0394C* {comparison.delta_C:+.1f}, hue angle \u0394h {comparison.delta_h:+.1f}"
            f"\u00b0, hue difference \u0394H* {comparison.delta_H:+.1f}."
        )
        st.write(plain(comparison.words))
        st.html(readings_html(sides))
        st.caption(f"Taken as {GEOMETRY}. {TOLERANCE_NOTE} {say_marks()}")
        offer_profile(comparison.repair.calibration)
