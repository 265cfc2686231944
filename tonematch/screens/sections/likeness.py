"""What trials are looked for: by colour, words, layer, piece, gilding and day."""

from collections.abc import Sequence
from datetime import date
from typing import TypeVar, get_args

import numpy as np
import streamlit as st

from tonematch.arrays import Vector3
from tonematch.logbook.core import KeptTrial
from tonematch.logbook.stores.likeness import Asked
from tonematch.screens.session import bench
from tonematch.toning.core import Finish, Technique

Name = TypeVar("Name", bound=str)

MOST_ROWS = 200
_AXES = {"L*": (0.0, 100.0), "a*": (-150.0, 150.0), "b*": (-150.0, 150.0)}
_WHEN = {"after": "after the layer", "before": "before it", "like": "before or after"}


def ask_for_trials(kept: Sequence[KeptTrial]) -> Asked:
    """Ask what is looked for; an empty field asks nothing."""
    words = st.text_input("Search by words", placeholder="layer, piece, bole, note")
    _offer_original()
    with st.expander("Search by colour, layer, piece, gilding or day"):
        colour = _ask_for_colour()
        with st.container(horizontal=True):
            layer = _choose(
                "Layer that was laid", sorted({k.trial.application.layer for k in kept})
            )
            places = {k.trial.where: (k.trial.piece, k.trial.zone) for k in kept if k.trial.piece}
            piece, zone = places.get(_choose("Piece it is on", sorted(places)) or "", (None, ""))
            technique: Technique | None = _choose("Technique", get_args(Technique))
            finish: Finish | None = _choose("Finish", get_args(Finish))
            since: date | None = st.date_input("Since", None, format="YYYY-MM-DD", width=200)
    return Asked(
        **colour,
        words=words,
        piece=piece,
        zone=zone,
        layer=layer,
        technique=technique,
        finish=finish,
        since=None if since is None else since.isoformat(),
        count=None if colour else MOST_ROWS,
    )


def _offer_original() -> None:
    """Look for what came out like the old gold, in one press."""
    held = bench()
    reading = held.original if held.comparison is None else held.comparison.original
    if reading is not None:
        st.button(
            "Like the original on my bench",
            on_click=_look_for,
            args=(reading.lab,),
            width="stretch",
        )


def _look_for(lab: Vector3) -> None:
    for axis, value in zip(_AXES, lab, strict=True):
        st.session_state[f"like-{axis}"] = float(value)
    st.session_state["like-when"] = "after"


def _ask_for_colour() -> dict[str, Vector3]:
    """The colour that is looked for, by when the surface had it; empty where none is."""
    with st.container(horizontal=True, key="typed-like"):
        lab = [
            st.number_input(
                axis, least, most, None, step=0.1, format="%.2f", key=f"like-{axis}", width=150
            )
            for axis, (least, most) in _AXES.items()
        ]
    when = st.radio(
        "Looked like this", _WHEN, format_func=_WHEN.get, key="like-when", horizontal=True
    )
    typed = [value for value in lab if value is not None]
    if len(typed) == len(lab):
        return {when: np.array(typed)}
    if typed:
        st.warning("A colour is looked for by all three: give L*, a* and b*.")
    return {}


def _choose(label: str, names: Sequence[Name]) -> Name | None:
    chosen: Name | None = st.selectbox(
        label, names, None, placeholder="any", key=f"search-{label}", width=240
    )
    return chosen
