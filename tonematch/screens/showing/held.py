"""What each marked box holds, as soon as it is marked: its colour, how even it is, its faults."""

from collections.abc import Iterable
from dataclasses import replace
from html import escape

import streamlit as st

from tonematch.errors import AreaError
from tonematch.measure.appearance.glance import glance
from tonematch.measure.colour.convert import lab_to_srgb_hex
from tonematch.measure.core import Area
from tonematch.photo.core import Photo


def show_held(photo: Photo, areas: Iterable[Area], cards: Iterable[Area]) -> None:
    """A chip and a few words for each marked area; cards are to be even."""
    every = (*areas, *(replace(card, role="card") for card in cards))
    told = "".join(_told(photo, area) for area in every)
    if told:
        st.html(f'<ul class="tm-held" aria-live="polite">{told}</ul>')


@st.cache_data(max_entries=64, show_spinner=False, hash_funcs={Photo: lambda one: one.sha256})
def _told(photo: Photo, area: Area) -> str:
    try:
        seen = glance(photo, area)
    except AreaError as error:
        return f"<li>\u26a0 {escape(str(error))}</li>"
    colour = "transparent" if seen.lab is None else lab_to_srgb_hex(seen.lab)
    words = " ".join(seen.faults) or seen.evenness
    name = "" if area.name.lower() in words.lower() else f"<b>{escape(area.name)}</b> "
    sign = "\u26a0 " if seen.faults else ""
    return f'<li><span style="background:{colour}"></span>{sign}{name}{escape(words)}</li>'
