"""What is looked for in the logbook: by words, colour, layer, piece, ground and day."""

from collections.abc import Sequence
from dataclasses import replace
from datetime import date
from typing import TypeVar, get_args

import numpy as np
import streamlit as st

from tonematch.arrays import Vector3
from tonematch.logbook.store import Logbook
from tonematch.logbook.stores.likeness import Asked
from tonematch.screens.session import bench
from tonematch.toning.core import Finish, Technique

Name = TypeVar("Name", bound=str)

_AXES = {"L*": (0.0, 100.0), "a*": (-150.0, 150.0), "b*": (-150.0, 150.0)}
_WHEN = {"after": "after the layer", "before": "before it", "like": "before or after"}


def ask_for_trials(logbook: Logbook) -> Asked:
    """Ask what is looked for; an empty field asks nothing."""
    words = st.text_input("Search by words", placeholder="layer, piece, bole, note")
    _offer_original()
    with st.expander("Search by layer, piece, ground, day or colour"):
        with st.container(horizontal=True):
            pieces = logbook.pieces()
            places = {piece.title: (piece.name, piece.zone) for piece in pieces}
            layer = _choose("Layer that was laid", logbook.layers_laid())
            piece, zone = places.get(_choose("Piece it is on", sorted(places)) or "", (None, ""))
            technique: Technique | None = _choose("Technique", get_args(Technique))
            finish: Finish | None = _choose("Finish", get_args(Finish))
            bole = _choose("Bole", sorted({piece.bole for piece in pieces} - {""}))
            since: date | None = st.date_input("Since", None, format="YYYY-MM-DD", width=200)
        colour = _ask_for_colour()
    return replace(
        colour,
        words=words,
        piece=piece,
        zone=zone,
        layer=layer,
        technique=technique,
        finish=finish,
        bole=bole,
        since=None if since is None else since.isoformat(),
    )


def _offer_original() -> None:
    """Look for what came out like the old gold, in one press."""
    held = bench()
    reading = held.original if held.comparison is None else held.comparison.original
    if reading is not None:
        offer_likeness("Like the original on my bench", reading.lab)


def offer_likeness(label: str, lab: Vector3) -> None:
    """A button that looks for what came out like a colour."""
    st.button(label, on_click=_look_for, args=(lab,), width="stretch")


def _look_for(lab: Vector3) -> None:
    for axis, value in zip(_AXES, lab, strict=True):
        st.session_state[f"like-{axis}"] = float(value)
    st.session_state["like-when"] = "after"


def _ask_for_colour() -> Asked:
    """The colour that is looked for, where one is."""
    with st.container(horizontal=True, key="typed-like"):
        asked = [
            st.number_input(
                axis, least, most, None, step=0.1, format="%.2f", key=f"like-{axis}", width=150
            )
            for axis, (least, most) in _AXES.items()
        ]
    when = st.radio(
        "Looked like this", _WHEN, format_func=_WHEN.get, key="like-when", horizontal=True
    )
    typed = [value for value in asked if value is not None]
    if len(typed) == len(asked):
        lab = np.array(typed)
        return {"like": Asked(like=lab), "before": Asked(before=lab), "after": Asked(after=lab)}[
            when
        ]
    if typed:
        st.warning("A colour is looked for by all three: give L*, a* and b*.")
    return Asked()


def _choose(label: str, names: Sequence[Name]) -> Name | None:
    chosen: Name | None = st.selectbox(
        label, names, None, placeholder="any", key=f"search-{label}", width=240
    )
    return chosen
