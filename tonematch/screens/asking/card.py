"""What white, grey and black cards are known to be: asked once, then remembered."""

from collections.abc import Sequence

import streamlit as st

from tonematch.logbook.own_cards import CARDS, OWN_CARDS, Cards, Stated, keep_cards
from tonematch.measure.calibration.card import usual_card
from tonematch.measure.core import CardValue
from tonematch.measure.words import capital, join_words

_BY_REFLECTANCE, _BY_LAB = "By its reflectance", "By its measured CIELAB"


def ask_for_card(remembered: CardValue | None) -> CardValue:
    """Show what the cards are taken to be, and let it be changed; gives the grey one.

    Parameters
    ----------
    remembered : CardValue or None
        What the grey card was the last time, for where nothing is kept of it.
    """
    cards = OWN_CARDS.value()
    grey = cards.values["grey"]
    if "grey" not in cards.stated and remembered is not None:
        grey = remembered
    values = {**cards.values, "grey": grey}
    assumed = [name for name in CARDS if values[name].words.endswith("assumed")]
    told = f"{join_words(assumed)} assumed" if assumed else "as you said"
    with st.expander(f"Your cards: {told}"):
        known = "; ".join(f"{name} {values[name].words}" for name in CARDS)
        st.caption(
            f"{capital(known)}. What is printed on them or was measured; an empty field is "
            "assumed, as such cards are as a rule."
        )
        said = {
            "white": _ask_reflectance("white", cards),
            "black": _ask_reflectance("black", cards),
        }
        lab = cards.stated.get("grey")
        ways, by_lab = [_BY_REFLECTANCE, _BY_LAB], isinstance(lab, Sequence)
        how = st.radio("How is your grey card known?", ways, int(by_lab), horizontal=True)
        if how == _BY_REFLECTANCE:
            said["grey"] = _ask_reflectance("grey", cards)
        else:
            said["grey"] = _ask_lab(lab if isinstance(lab, Sequence) else (49.5, 0.0, 0.0))
        if st.button("Keep these cards", width="stretch"):
            keep_cards(said)
            st.rerun()
    return grey


def _ask_reflectance(name: str, cards: Cards) -> Stated | None:
    """What a card reflects; None where nobody says."""
    known = cards.stated.get(name)
    said: float | None = st.number_input(
        f"{name.capitalize()} card: reflectance, 0 to 1",
        min_value=0.0,
        max_value=1.0,
        value=float(known) if isinstance(known, int | float) else None,
        step=0.01,
        format="%.3f",
        placeholder=usual_card(name).words.removeprefix("reflectance "),
    )
    return said


def _ask_lab(known: Sequence[float]) -> Stated:
    sides = (("L*", 0.0, 100.0), ("a*", -50.0, 50.0), ("b*", -50.0, 50.0))
    with st.container(horizontal=True, key="typed-card"):
        lab = [
            st.number_input(name, least, most, float(value), step=0.1, format="%.2f", width=150)
            for (name, least, most), value in zip(sides, known, strict=True)
        ]
    st.caption("CIELAB for D50, 2\u00b0 observer, as the maker or an instrument gives it.")
    return lab
