"""A layer's own entry in the gilder's words, as every page says it, and what to mind."""

from datetime import datetime

import streamlit as st

from tonematch.logbook.core import LayerInProgress
from tonematch.measure.words import capital
from tonematch.record.page import cautions_card
from tonematch.screens.showing.plain import offer_file, plain
from tonematch.screens.showing.plain_numbers import say_drying
from tonematch.toning.core import Layer
from tonematch.toning.layers.mix import say_full_strength
from tonematch.toning.layers.rule_table import load_job_cautions
from tonematch.toning.layers.rules import job_rules, layer_cautions


def say_entry(layer: Layer) -> str:
    """What it is, how it is laid, and how it comes off, as Markdown in one paragraph."""
    drying, full, how = say_drying(layer), say_full_strength(layer), layer.technique
    if layer.kind == "lift":  # what it takes is how it is done, and is told beside
        full = how = ""
    told = [
        f"**{plain(layer.name)}**: {plain(layer.material)}."
        if layer.material
        else f"**{plain(layer.name)}**.",
        f"Full mix: {plain(full)}." if full else "",
        f"How: {plain(how)}." if how else "",
        f"Goes over: {plain(layer.over)}." if layer.over else "",
        f"{capital(drying)}.",
        f"Comes off: {plain(layer.reversible)}.",
    ]
    return " ".join(part for part in told if part)


def say_laid(laid: LayerInProgress) -> str:
    """Since when it lies there: ``umber glaze laid on 26 Nov 14:05, dry from 15:05``."""
    laid_at, dry_at = (
        datetime.fromisoformat(time).astimezone() for time in (laid.laid_at, laid.dry_at)
    )
    told = f"{laid.application.layer} laid on {_day(laid_at)} {laid_at:%H:%M}"
    if dry_at == laid_at:
        return f"{told}, nothing to dry"
    day = "" if dry_at.date() == laid_at.date() else f"{_day(dry_at)} "
    return f"{told}, dry from {day}{dry_at:%H:%M}"


def _day(time: datetime) -> str:
    return f"{time.day} {time:%b}"


def show_layer_words(layer: Layer) -> None:
    """The entry, and what to mind with this layer; what holds for the whole job is not among it."""
    st.write(say_entry(layer))
    job = {rule.reason for rule in job_rules(layer)}
    for caution in layer_cautions(layer):
        if caution not in job:
            st.markdown(f"- {plain(caution)}")


def show_job_cautions(heads: str = "") -> None:
    """The cautions for the whole job in one line that opens, with the card to print.

    `heads` are those that the layers of the page bring in, in a few words.
    """
    with st.expander(f"Mind through the whole job{': ' if heads else ''}{heads}"):
        for caution in load_job_cautions():
            st.markdown(f"- **{plain(capital(caution.head))}.** {plain(caution.sentence)}")
        offer_file("Save the card to print", cautions_card(), "cautions.html", "text/html")
