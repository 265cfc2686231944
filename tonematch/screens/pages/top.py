"""The top of every page: the places of the bench, the steps of the job, and what was just said."""

import streamlit as st

from tonematch.logbook.standing import Standing, StepState
from tonematch.measure.words import capital
from tonematch.screens.session import Room, ask_for, bench
from tonematch.screens.showing.plain import in_sight, plain, warn
from tonematch.screens.showing.plain_numbers import say_piece

# Each state has a shape of its own, and the line below the steps says the next one in words.
SIGNS: dict[StepState, str] = {"done": "\u2713", "now": "\u25cf", "not yet": "\u25cb"}
_SHORT = {"Lay a layer": "Lay"}
_PLACES: tuple[Room, ...] = ("Today", "Logbook", "Shelf", "Help")


def start_at_top(room: Room) -> None:
    """Scroll to the top when the page is another one than before, or was asked for anew."""
    in_sight(key="top", data={"shown": f"{room} {bench().turned}", "block": "start"})


def show_ways(room: Room, standing: Standing | None) -> None:
    """The places of the bench and, for the piece on it, the steps of the job with their states."""
    piece: tuple[Room, ...] = () if standing is None else ("Piece",)
    with st.container(gap="xsmall"):
        with st.container(horizontal=True, gap=None, key="places"):
            for place in (*_PLACES, *piece):
                _way(place, place, room)
        if standing is None or room == "Today":
            return
        with st.container(horizontal=True, gap=None, key="steps"):
            for step, state in standing.steps().items():
                _way(step, f"{SIGNS[state]} {_SHORT.get(step, step)}", room)
        words = f"{say_piece(standing.piece)}. {capital(standing.words)}."
        st.caption(f"On the bench: {plain(words)}")


def say_message() -> None:
    """What the page before had to say.

    Its place is always there: as that came or went, the page below would be made anew.
    """
    held = bench()
    if not held.message and not held.cautions:
        st.empty()
        return
    with st.container():
        if held.message:
            st.success(plain(held.message), icon=":material/check:")
        for caution in held.cautions:
            warn(caution)


def _way(to: Room, label: str, shown: Room) -> None:
    here = to == shown
    st.button(
        label,
        key=f"to-{to}",
        type="primary" if here else "tertiary",
        on_click=ask_for,
        args=(to,),
    )
