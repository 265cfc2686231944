"""What the grey card is known to be: asked once, then remembered."""

import streamlit as st

from tonematch.measure.calibration.card import card_from_lab, card_from_reflectance, usual_card
from tonematch.measure.core import CardValue
from tonematch.screens.session import bench
from tonematch.screens.showing.plain import plain

_BY_REFLECTANCE, _BY_LAB = "By its reflectance", "By its measured CIELAB"


def ask_for_card(remembered: CardValue | None) -> CardValue:
    """Show what the card is taken to be, and let it be changed.

    Parameters
    ----------
    remembered : CardValue or None
        What it was the last time; the common grey card where there was none.
    """
    if bench().card is None:
        bench().card = remembered or usual_card()
    value = bench().card
    assert value is not None
    with st.expander(f"Grey card: {plain(value.words)}"):
        how = st.radio("How is your card known?", [_BY_REFLECTANCE, _BY_LAB], horizontal=True)
        stated = _ask_reflectance() if how == _BY_REFLECTANCE else _ask_lab()
        if st.button("Use this card", width="stretch"):
            bench().card = stated
            st.rerun()
    return value


def _ask_reflectance() -> CardValue:
    usual = float(usual_card().xyz[1])
    reflectance = st.number_input(
        f"Reflectance, 0 to 1 (the common grey card: {usual:g})",
        min_value=0.01,
        max_value=1.0,
        value=usual,
        step=0.01,
        format="%.3f",
    )
    return card_from_reflectance(reflectance)


def _ask_lab() -> CardValue:
    with st.container(horizontal=True, key="typed-card"):
        lightness = st.number_input("L*", 1.0, 100.0, 49.5, step=0.1, format="%.2f", width=150)
        a = st.number_input("a*", -50.0, 50.0, 0.0, step=0.1, format="%.2f", width=150)
        b = st.number_input("b*", -50.0, 50.0, 0.0, step=0.1, format="%.2f", width=150)
    st.caption("CIELAB for D50, 2\u00b0 observer, as the maker or an instrument gives it.")
    return card_from_lab((lightness, a, b))
