"""Lay a layer: what is laid, and that it was laid; then it waits for the photograph after it."""

from collections.abc import Mapping
from dataclasses import replace

import streamlit as st

from tonematch.logbook.core import Air, Piece
from tonematch.logbook.store import Logbook
from tonematch.measure.core import Comparison
from tonematch.screens.asking.surface import air_was_said, ask_surface
from tonematch.screens.keeping import (
    current_piece,
    is_behind,
    keep_comparison,
    take_up,
)
from tonematch.screens.planning import foretell, learned_model
from tonematch.screens.sections.after_layer import show_after, show_expected, show_should_read
from tonematch.screens.sections.recipes import show_recipes
from tonematch.screens.session import bench, go_to
from tonematch.screens.showing.layer_words import show_job_cautions, show_layer_words
from tonematch.screens.showing.plain import plain, refuse, tell, warn
from tonematch.toning.core import Application, Layer
from tonematch.toning.layers.coats import drying_hours
from tonematch.toning.layers.mix import USUAL_POT, say_pot
from tonematch.toning.layers.rules import Finding, check_layering, layer_cautions
from tonematch.toning.model.chain import bared_by_lifts
from tonematch.toning.planning.plan_words import say_job

BEHIND = (
    "Another page laid, logged or compared something on this piece since this one was shown, so "
    "nothing was kept from here: below is how it stands now."
)


def lay_page(logbook: Logbook) -> None:
    """The page where a layer is laid, and where it becomes a trial."""
    piece = current_piece(logbook)
    laid = None if piece is None else logbook.layer_in_progress(piece.name, piece.zone)
    if piece is not None and is_behind(logbook, piece, laid):
        take_up(logbook, piece.name, piece.zone)
        go_to("Lay a layer", cautions=[BEHIND])  # anew, so that what was pressed is not done
    gap = bench().comparison
    if piece is not None and laid is not None:
        show_after(logbook, piece, laid)
    elif piece is not None and gap is not None:
        _choose(logbook, piece, gap)
    else:
        tell("First photograph the piece and compare: what a layer does is learned from before it.")


def _choose(logbook: Logbook, piece: Piece, gap: Comparison) -> None:
    """Choose what is laid; one press says that it was."""
    keep_comparison(logbook, piece)
    shelf = logbook.known_layers()
    colours = st.container()  # the golds come first, and what is to be told below them
    show_recipes(logbook, piece, shelf)
    surface = ask_surface(logbook, piece, shelf, laying=True)
    model = learned_model(logbook.trials(), shelf)
    bared = bared_by_lifts(model.predict_layer, gap.repair.lab, surface)
    # Only what lies on top comes off: the first.
    shelf = shelf | {lift.name: lift for lift in list(bared)[:1]}
    application = replace(_ask_what(piece, gap, shelf), over=surface.over)
    layer = shelf[application.layer]
    if layer in bared:
        application = replace(application, under=bared[layer].lab)
    pot = bench().recall("pot", USUAL_POT)
    takes = say_pot(layer, application.strength, pot, application.coats)
    st.write(f"**What it takes: {plain(takes)}.**")
    show_layer_words(layer)
    show_job_cautions(say_job([layer]))
    findings = check_layering(surface, [layer], coats=[application.coats])
    _say_findings(findings, layer)
    prediction = foretell(logbook.trials(), shelf, application, gap.repair.own_covariance)
    with colours:
        show_expected(gap, "Repair now", prediction)
    show_should_read(prediction)
    if st.button("I have laid it", type="primary", width="stretch"):
        hours = drying_hours(layer, surface)[1]  # the longest, so that nothing is read while wet
        air = Air(surface.temperature, surface.humidity)
        cautions, held = [finding.sentence for finding in findings], bench()
        assert held.kept_comparison is not None  # since this page keeps it
        held.laid = logbook.begin_layer(
            held.kept_comparison, application, prediction, hours, cautions, air
        )
        air_was_said()
        held.lay_next(None)
        go_to("Lay a layer")


def _ask_what(piece: Piece, gap: Comparison, shelf: Mapping[str, Layer]) -> Application:
    """Layer, strength and coats, as a plan's step or an earlier look at this page left them."""
    held = bench()
    names = list(shelf)
    laying = held.recall("laying", names[0])
    name = st.selectbox(
        "Layer",
        names,
        index=names.index(laying) if laying in shelf else 0,
        format_func=lambda n: f"{n} ({shelf[n].kind})",
        key="laying",  # without one a second choice is lost, since the first moves the index
    )
    held.remember("laying", name)
    strength_key, coats_key = f"laying-strength-{name}", f"laying-coats-{name}"
    with st.container(horizontal=True):
        strength = st.number_input(
            "How much of the full mix",
            min_value=0.01,
            max_value=10.0,
            value=held.recall(strength_key, 0.5),
            step=0.05,
            format="%g",
            key=strength_key,
            width=200,
        )
        coats = st.number_input(
            "Coats",
            min_value=1,
            max_value=20,
            value=held.recall(coats_key, 1),
            key=coats_key,
            width=200,
        )
    held.remember(strength_key, strength)
    held.remember(coats_key, coats)
    return Application(
        gap.repair.lab, name, shelf[name].kind, strength, coats, piece.technique, piece.finish
    )


def _say_findings(findings: list[Finding], layer: Layer) -> None:
    said = layer_cautions(layer)
    for finding in findings:
        if finding.severity == "blocked":
            refuse(f"Do not lay this: {finding.sentence}")
        elif finding.sentence not in said:
            warn(f"Mind: {finding.sentence}")
