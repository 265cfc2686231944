"""Lay a layer: what is laid, the photograph after it, and the trial that comes of both."""

from collections.abc import Mapping
from datetime import date

import streamlit as st

from tonematch.logbook.core import Piece
from tonematch.logbook.store import Logbook
from tonematch.measure.core import Comparison
from tonematch.measure.marked import Marked, compare_after
from tonematch.screens.card import ask_for_card
from tonematch.screens.keeping import (
    current_piece,
    keep_comparison,
    keep_trial,
    known_layers,
    remembered_card,
)
from tonematch.screens.layer_words import show_layer_words
from tonematch.screens.marking import CARD, ORIGINAL, REPAIR
from tonematch.screens.planning import foretell, learned_model
from tonematch.screens.session import LastLayer, bench, go_to
from tonematch.screens.shots import ask_for_shot, mark_shot
from tonematch.screens.surface import ask_surface
from tonematch.screens.swatch import COLORIMETRY, lab_words, show_swatches
from tonematch.toning.core import Application, Layer, Prediction, Trial
from tonematch.toning.layers.rules import Finding, check_layering, layer_cautions
from tonematch.toning.validation.lessons import taught


def lay_page(logbook: Logbook) -> None:
    """The page where a layer that was laid becomes a trial."""
    st.header("Lay a layer", anchor=False)
    piece = current_piece(logbook)
    gap = bench().comparison
    if piece is None or gap is None:
        st.info(
            "First photograph the piece and compare: a trial needs a reading before the layer.",
            icon=":material/info:",
        )
        return
    keep_comparison(logbook, piece)
    shelf = known_layers(logbook)
    application = _ask_what(piece, gap, shelf)
    layer = shelf[application.layer]
    show_layer_words(layer)
    surface = ask_surface(logbook, piece, shelf)
    findings = check_layering(surface, [layer], coats=[application.coats])
    _say_findings(findings, layer)
    prediction = foretell(logbook.trials(), shelf, application, gap.repair.own_covariance)
    show_swatches(
        [
            ("Original", gap.original.lab),
            ("Repair now", gap.repair.lab),
            ("Expected", prediction.lab),
        ],
        small=True,
    )
    st.caption(
        f"Should read {lab_words(prediction.lab, prediction.covariance)} once dry. {COLORIMETRY}"
    )
    st.subheader("The photograph after it, once dry", anchor=False)
    value = ask_for_card(remembered_card(logbook, piece))
    marked = _after(gap)
    if marked is None:
        return
    note = st.text_input("Note", placeholder="what you saw: streaks, dull, needs a second day")
    if st.button("Log this layer", type="primary", width="stretch"):
        with st.spinner("Reading the areas"):
            after = compare_after(gap, marked, value, gap.tolerance)
        bench().aids[marked.photo.sha256] = marked.aids
        _log(logbook, piece, application, note, findings, prediction, gap, after)


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
    )
    held.remember("laying", name)
    strength_key, coats_key = f"laying-strength-{name}", f"laying-coats-{name}"
    with st.container(horizontal=True):
        strength = st.number_input(
            "Strength, 1 is the full mix",
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
            st.error(f"Do not lay this: {finding.sentence}", icon=":material/error:")
        elif finding.sentence not in said:
            st.warning(f"Mind: {finding.sentence}", icon=":material/warning:")


def _after(gap: Comparison) -> Marked | None:
    """The photograph after the layer with its areas, or None until all are marked.

    Where original and repair were photographed apart, the original keeps its reading.
    """
    together = gap.original.photo_sha256 == gap.repair.photo_sha256
    wanted = (CARD, ORIGINAL, REPAIR) if together else (CARD, REPAIR)
    place = f"after-{bench().layers_logged}"
    words = "card, original and repair" if together else "the card and the repair"
    shot = ask_for_shot(place, f"Photograph after the layer, with {words}")
    if shot is None:
        return None
    marked = mark_shot(place, shot, wanted)
    return marked if len(marked.areas) == len(wanted) else None


def _log(
    logbook: Logbook,
    piece: Piece,
    application: Application,
    note: str,
    findings: list[Finding],
    prediction: Prediction,
    before: Comparison,
    after: Comparison,
) -> None:
    trial = Trial(
        application,
        after.repair.lab,
        piece.name,
        date.today().isoformat(),
        len(logbook.kept_trials(piece.name)) + 1,
        note,
    )
    shelf = known_layers(logbook)
    known = logbook.trials()
    keep_trial(logbook, trial, prediction, before, after, [f.sentence for f in findings])
    then, now = learned_model(known, shelf), learned_model(logbook.trials(), shelf)
    lesson = taught(then, now, trial, prediction)
    bench().last = LastLayer(trial, prediction, lesson)
    bench().lay_next(None)
    bench().layers_logged += 1
    go_to("Plan", f"Logged: {application.layer}. The plan is made anew from here.")
