"""A page that was chosen is shown from its top."""

from pathlib import Path

import streamlit as st

from tonematch.screens.session import Room

_top = st.components.v2.component(
    "tonematch_top",
    html="<span></span>",
    css="span { display: block; scroll-margin-top: 6rem; }",
    js=(Path(__file__).parents[1] / "canvas" / "top.js").read_text(encoding="utf-8"),
)


def start_at_top(room: Room) -> None:
    """Scroll to the top when the page is another one than before."""
    _top(key="top", data={"room": room})
