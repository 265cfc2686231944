"""The surface as it is today: what the rules of layering need to know beyond the piece."""

from collections.abc import Mapping
from dataclasses import replace
from itertools import groupby

import streamlit as st

from tonematch.logbook.core import Piece
from tonematch.logbook.layers_on_repair import layers_on
from tonematch.logbook.store import Logbook
from tonematch.screens.session import bench
from tonematch.toning.core import Layer, Surface


def ask_surface(logbook: Logbook, piece: Piece, shelf: Mapping[str, Layer]) -> Surface:
    """Ask how fresh the gilding is and how damp the air; the layers beneath are known."""
    held = bench()
    trials = [kept.trial for kept in logbook.kept_trials(piece.name)]
    with st.expander("The surface today"):
        first = _ask_laid_before(logbook, piece, shelf)
        laid = layers_on(replace(piece, laid_before=first), trials, shelf)
        names = ", then ".join(name for name, _ in groupby(layer.name for layer in laid))
        st.write(f"On the repair now: {names or 'nothing yet'}.")
        held.hours_since_gilding = st.number_input(
            "Hours since the gilding (leave empty when it is cured)",
            min_value=0.0,
            value=held.hours_since_gilding,
            step=12.0,
            format="%.0f",
            key=f"hours-{piece.name}",
        )
        held.humidity = st.number_input(
            "Relative humidity in the workshop, in % (leave empty when not known)",
            min_value=0.0,
            max_value=100.0,
            value=held.humidity,
            step=5.0,
            format="%.0f",
            key=f"humidity-{piece.name}",
        )
        held.unknown_coating = st.checkbox(
            "An old coating that nobody can name lies on it", held.unknown_coating
        )
    return replace(
        piece.surface(laid),
        unknown_coating=held.unknown_coating,
        hours_since_gilding=held.hours_since_gilding,
        humidity=held.humidity,
    )


def _ask_laid_before(logbook: Logbook, piece: Piece, shelf: Mapping[str, Layer]) -> tuple[str, ...]:
    """Names of what lay there before the first trial, kept with the piece."""
    known = [name for name in piece.laid_before if name in shelf]
    chosen = st.multiselect(
        "What lay on the repair before its first trial, the lowest first",
        list(shelf),
        default=known,
        placeholder="nothing: bare gold",
        key=f"laid-before-{piece.name}",
    )
    if chosen != known:
        logbook.change_piece(piece.name, replace(piece, laid_before=tuple(chosen)))
    return tuple(chosen)
