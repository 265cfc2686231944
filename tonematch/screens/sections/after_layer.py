"""After a layer was laid: it dries, is photographed, and becomes a trial."""

from collections.abc import Mapping
from datetime import UTC, datetime

import streamlit as st
from streamlit.delta_generator import DeltaGenerator

from tonematch.in_words import say_lab
from tonematch.logbook.core import LayerInProgress, Piece
from tonematch.logbook.store import Logbook
from tonematch.measure.core import Comparison
from tonematch.measure.marked import Marked, compare_after
from tonematch.measure.words import capital
from tonematch.screens.asking.card import ask_for_card
from tonematch.screens.asking.shots import ask_for_marked
from tonematch.screens.keeping import keep_trial, remembered_card
from tonematch.screens.marking import CARD, ORIGINAL, REPAIR
from tonematch.screens.planning import learned_model
from tonematch.screens.session import LastLayer, bench, go_to
from tonematch.screens.showing.layer_words import say_laid, show_job_cautions, show_layer_words
from tonematch.screens.showing.plain import plain, tell
from tonematch.screens.showing.swatch import COLORIMETRY, in_numbers, show_swatches
from tonematch.toning.core import Coat, Layer, Prediction
from tonematch.toning.layers.mix import USUAL_POT, say_coat
from tonematch.toning.layers.shelf import find_layer
from tonematch.toning.layers.taking_back import with_beneath
from tonematch.toning.planning.plan_words import say_job
from tonematch.toning.validation.lessons import taught

NOTE = "laying-note"  # forgotten with what else was said of the layer


def show_after(logbook: Logbook, piece: Piece, laid: LayerInProgress) -> None:
    """A layer in progress: since when, what it should read, its photograph, and its end."""
    st.subheader(plain(capital(say_laid(laid))), anchor=False)
    layer, before = laid.application, laid.before
    shelf = logbook.known_layers()
    if datetime.now(UTC) < datetime.fromisoformat(laid.dry_at):
        tell("Let it dry before you photograph it: wet, it teaches wrong.")
    picture, going_on = st.container(), st.container()
    value = ask_for_card(remembered_card(logbook, piece))
    rest = st.container()
    with picture:
        marked = _photographed(logbook, laid, rest)
    with going_on:
        if marked is not None:
            note = st.text_input(
                "Note",
                bench().recall(NOTE, ""),
                placeholder="streaks, dull, wants a second day",
                key=NOTE,
            )
            bench().remember(NOTE, note)
            if st.button("Log this layer", type="primary", width="stretch"):
                with st.spinner("Reading the areas"):
                    after = compare_after(before, marked, value, before.tolerance)
                bench().aids[marked.photo.sha256] = marked.aids
                _log(logbook, laid, after, shelf, note)
    coat = Coat(find_layer(shelf, layer.layer), layer.strength, layer.coats)
    st.write(f"{plain(capital(say_coat(coat, bench().recall('pot', USUAL_POT))))}.")
    show_expected(before, "Before", laid.prediction)
    show_should_read(laid.prediction)
    show_layer_words(coat.layer)
    show_job_cautions(say_job([coat.layer]))
    if st.button("Not laid after all", width="stretch"):
        logbook.call_off_layer(laid.id)
        bench().laid = None
        go_to("Lay a layer", f"Called off: {layer.layer}. Nothing is learned from it.")


def show_expected(gap: Comparison, now: str, expected: Prediction) -> None:
    """Both golds, the repair by the name that it has `now`, and what a layer should make of it."""
    colours = ("Original", gap.original.lab), (now, gap.repair.lab), ("Expected", expected.lab)
    show_swatches(colours, small=True)


def show_should_read(expected: Prediction) -> None:
    """What a layer should read once it is dry, in its fold."""
    with in_numbers():
        said = say_lab(expected.lab, expected.covariance)
        st.caption(f"Should read {said} once dry. {COLORIMETRY}")


def _photographed(logbook: Logbook, laid: LayerInProgress, rest: DeltaGenerator) -> Marked | None:
    """The photograph after the layer with its areas, or None until all are marked.

    Where original and repair were photographed apart, the original keeps its reading.
    """
    before = laid.before
    together = before.original.photo_sha256 == before.repair.photo_sha256
    wanted = (CARD, ORIGINAL, REPAIR) if together else (CARD, REPAIR)
    place = f"after-{laid.id}"
    words = "card, original and repair" if together else "the card and the repair"
    label = f"Photograph after the layer, with {words}"
    return ask_for_marked(place, label, wanted, logbook, before, rest)


def _log(
    logbook: Logbook,
    laid: LayerInProgress,
    after: Comparison,
    shelf: Mapping[str, Layer],
    note: str,
) -> None:
    known = logbook.trials()
    *_, trial = with_beneath([*known, keep_trial(logbook, laid, after, note)])
    models = learned_model(known, shelf), learned_model(logbook.trials(), shelf)
    lesson = taught(*models, trial, laid.prediction)
    bench().last = LastLayer(trial, laid.prediction, lesson)
    go_to(
        "Plan",
        f"Logged: {laid.application.layer}. The plan is made anew from here.",
        after.warnings,
    )
