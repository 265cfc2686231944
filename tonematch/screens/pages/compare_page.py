"""Compare: both colours, what lies between them, and what to make of it."""

import streamlit as st

from tonematch.logbook.store import Logbook
from tonematch.measure.core import GEOMETRY, Comparison
from tonematch.screens.asking.aids import offer_profile
from tonematch.screens.keeping import current_piece, keep_comparison
from tonematch.screens.sections.closer import offer_closer
from tonematch.screens.session import bench, go_to
from tonematch.screens.showing.plain import plain
from tonematch.screens.showing.swatch import readings_html, show_swatches, verdict_html

TOLERANCE_NOTE = (
    "CIEDE2000 says how far apart two colours look; it is meant for surfaces that do not shine, "
    "so on bright gold it is a convention. No figure for gilding is published: the tolerance is "
    "yours to set on the Piece page."
)


def compare_page(logbook: Logbook) -> None:
    """The page that shows the latest comparison of the piece."""
    st.header("Compare", anchor=False)
    piece = current_piece(logbook)
    gap = bench().comparison
    if piece is None or gap is None:
        st.info(
            "Nothing is compared yet: mark the areas on the Photograph page first.",
            icon=":material/info:",
        )
        return
    show_comparison(gap)
    count = len(bench().singles())
    if count > 1:
        st.write(f"From {count} photographs together.")
    offer_closer(logbook, piece, gap)
    st.divider()
    if bench().kept_comparison is None:
        st.write("Going on keeps this comparison and its photograph in the logbook.")
    else:
        st.write("This comparison and its photograph are in the logbook.")
    if st.button("Keep it and plan", type="primary", width="stretch"):
        keep_comparison(logbook, piece)
        go_to("Plan")
    if st.button("Mark again", width="stretch"):
        go_to("Photograph")
    if st.button("Photograph the same pair once more", width="stretch"):
        keep_comparison(logbook, piece)
        bench().again = bench().singles()
        bench().shots, bench().marks = {}, {}
        go_to("Photograph")


def show_comparison(comparison: Comparison) -> None:
    """A comparison in full: verdict, words, colours, numbers, warnings."""
    for warning in comparison.warnings:
        st.warning(plain(warning), icon=":material/warning:")
    st.html(verdict_html(comparison.verdict))
    st.subheader(plain(comparison.words), anchor=False)
    show_swatches([("Original", comparison.original.lab), ("Repair", comparison.repair.lab)])
    low, high = comparison.interval
    st.write(
        f"**CIEDE2000 {comparison.delta_e:.1f}**, 95 % interval {low:.1f} to {high:.1f}; "
        f"tolerance {comparison.tolerance:.1f}."
    )
    st.write(
        f"Repair minus original: lightness \u0394L* {comparison.delta_L:+.1f}, chroma \u0394C* "
        f"{comparison.delta_C:+.1f}, hue angle \u0394h {comparison.delta_h:+.1f}\u00b0, hue "
        f"difference \u0394H* {comparison.delta_H:+.1f}."
    )
    st.caption(f"Taken as {GEOMETRY}.")
    with st.expander("The readings"):
        st.html(readings_html([("Original", comparison.original), ("Repair", comparison.repair)]))
        st.caption(TOLERANCE_NOTE)
        offer_profile(comparison.repair.calibration)
