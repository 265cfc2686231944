"""Colours and readings as they stand on the page: swatches, a table of readings."""

from collections.abc import Sequence
from html import escape

import numpy as np
import streamlit as st
from numpy.typing import NDArray
from streamlit.delta_generator import DeltaGenerator

from tonematch.in_words import say_lab
from tonematch.measure.colour.convert import lab_to_srgb, lab_to_srgb_hex
from tonematch.measure.core import Reading

COLORIMETRY = (
    "CIELAB for D50, 2\u00b0 observer. \u00b1 is the 95 % interval: within it 19 times of 20."
)


def in_numbers() -> DeltaGenerator:
    """The fold for colour science; all that stands outside it is in the gilder's words."""
    return st.expander("In numbers, for specialists")


def swatches_html(colours: Sequence[tuple[str, str]], small: bool = False) -> str:
    """Swatches that touch, each of a name, escaped below it, and an sRGB colour as ``#rrggbb``.

    Small ones are lower, for a step of a plan.
    """
    fields = "".join(f'<div style="background:{escape(code)}"></div>' for _, code in colours)
    names = "".join(f"<span>{escape(name)}</span>" for name, _ in colours)
    said = escape(" beside ".join(name for name, _ in colours))
    size = " tm-small" if small else ""
    return (
        f'<div class="tm-swatches{size}"><div class="tm-pair" role="img" '
        f'aria-label="Colours: {said}">{fields}</div><div class="tm-names">{names}</div></div>'
    )


def show_swatches(colours: Sequence[tuple[str, NDArray[np.float64]]], small: bool = False) -> None:
    """Show colours side by side, given as (name, CIELAB)."""
    st.html(swatches_html([(name, lab_to_srgb_hex(lab)) for name, lab in colours], small))


def show_picture(
    place: str, lab: NDArray[np.float64], words: str, lamp: str = "D50", caption: str = ""
) -> None:
    """A picture, CIELAB (h, w, 3), under a lamp; its place is kept until it has come.

    Over a wireless network it comes late, and would move what a hand is about to press.
    """
    height, width = lab.shape[:2]
    with st.container(key=place):
        st.html(f"<style>.st-key-{place} img {{ aspect-ratio: {width} / {height}; }}</style>")
        st.image(lab_to_srgb(lab, lamp), caption or None, width="stretch", alt=words)


def readings_html(readings: Sequence[tuple[str, Reading]]) -> str:
    """Readings with uncertainty, evenness and the pixels behind them, one below the other."""
    told = "".join(
        f"<dt>{escape(name)}</dt><dd>{say_lab(r.lab, r.covariance)}</dd>"
        f"<dd>Evenness (standard deviation): L* {r.spread_L:.1f}, C* {r.spread_C:.1f}</dd>"
        f"<dd>{r.pixels} pixels read, {r.left_out} left out as glare or specks</dd>"
        for name, r in readings
    )
    return f'<dl class="tm-readings">{told}</dl><p class="tm-note">{COLORIMETRY}</p>'
