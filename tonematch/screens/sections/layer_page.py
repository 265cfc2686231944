"""What one layer does, as learned from trials and as its entry first guessed."""

from collections import Counter
from collections.abc import Mapping, Sequence

import numpy as np
import streamlit as st

from tonematch.measure.colour.convert import lab_to_srgb_hex
from tonematch.screens.planning import learned_lustre, learned_model
from tonematch.screens.showing.layer_words import show_job_cautions, show_layer_words
from tonematch.screens.showing.plain import plain
from tonematch.screens.showing.plain_numbers import say_part, say_times
from tonematch.screens.showing.swatch import in_numbers, swatches_html
from tonematch.toning.core import Layer, Trial
from tonematch.toning.model.layer_model import LayerModel
from tonematch.toning.model.lustre import LustreModel
from tonematch.toning.planning.lustre_words import say_layer_lustre
from tonematch.toning.planning.plan_words import say_job
from tonematch.toning.validation.curves import (
    Backdrop,
    Curve,
    first_guess,
    load_grounds,
    strength_curve,
)
from tonematch.toning.validation.lessons import layer_scatter

LUSTRE_NOTE = (
    "Lustre is how far the gleam rises above the body as the lamp is moved, in photographic stops; "
    "the Compare page measures it. A trial teaches it where it was measured before and after."
)
_LEARNED, _GUESSED, _STRENGTH = "As learned", "First guess", "Strength"
_MOVED = "How far one coat moves it: CIEDE2000 from the bare ground"
_MOVE, _KNOWN = "CIEDE2000", "How it is known"
# The two lines differ in their dashes, which print and every eye can tell apart.
_CURVES = {
    "mark": {"type": "line", "strokeWidth": 2.5},
    "encoding": {
        "x": {"field": _STRENGTH, "type": "quantitative", "title": "Strength, 1 is the full mix"},
        "y": {"field": _MOVE, "type": "quantitative"},
        "strokeDash": {
            "field": _KNOWN,
            "type": "nominal",
            "scale": {"domain": [_LEARNED, _GUESSED], "range": [[1, 0], [4, 6]]},
            "legend": {"title": None, "orient": "bottom", "symbolSize": 900},
        },
    },
    "config": {
        "axis": {"labelColor": "currentColor", "titleColor": "currentColor", "labelFontSize": 16,
                 "titleFontSize": 16},
        "legend": {"labelColor": "currentColor", "labelFontSize": 16},
    },
}  # fmt: skip


def show_layer(layer: Layer, trials: Sequence[Trial], shelf: Mapping[str, Layer]) -> None:
    """The page of a layer: its words, what is known of it, and how it looks on usual grounds."""
    model = learned_model(trials, shelf)
    show_layer_words(layer)
    show_job_cautions(say_job([layer]))
    st.write(plain(_known_of(layer, trials, model)))
    guess = first_guess(layer)
    grounds = load_grounds()
    for ground in grounds:
        st.subheader(f"On {plain(ground.name)}", anchor=False)
        for title, knows in ((_LEARNED, model), (_GUESSED, guess)):
            st.caption(title)
            st.html(_row(ground, strength_curve(knows, layer, ground, np.array(layer.strengths))))
    st.caption(
        "One coat, by parts of the full mix. The grounds are usual colours of new and of toned "
        "gold, and the first guess is what the shelf supposed before you laid any; nobody measured "
        "either."
    )
    with in_numbers():
        for ground in grounds:
            _show_curves(layer, ground, model, guess)
        guessed = LustreModel(shelf).known(layer)
        st.write(plain(say_layer_lustre(learned_lustre(trials, shelf).known(layer), guessed)))
        st.caption(LUSTRE_NOTE)


def show_first_look(layer: Layer) -> None:
    """What a layer that nobody tried yet is guessed to do to new gold, the lightest ground."""
    ground = load_grounds()[0]
    guessed = strength_curve(first_guess(layer), layer, ground, np.array(layer.strengths))
    st.html(_row(ground, guessed))
    st.caption(f"On {plain(ground.name)}, by parts of the full mix: a guess until you tried it.")


def _known_of(layer: Layer, trials: Sequence[Trial], model: LayerModel) -> str:
    """How often it was laid, and how much it varies."""
    count = Counter(trial.application.layer for trial in trials)[layer.name]
    if count == 0:
        return (
            "You have not laid it yet: what is shown as learned comes from other layers of its "
            "kind, and from its entry."
        )
    return f"Laid and read {say_times(count)}. {layer_scatter(model, layer.name)}".rstrip()


def _show_curves(layer: Layer, ground: Backdrop, model: LayerModel, guess: LayerModel) -> None:
    learned = strength_curve(model, layer, ground)
    guessed = strength_curve(guess, layer, ground)
    st.caption(f"{_MOVED}, {plain(ground.name)}")
    points = [
        {_STRENGTH: float(strength), _MOVE: float(moved), _KNOWN: title}
        for title, curve in ((_LEARNED, learned), (_GUESSED, guessed))
        for strength, moved in zip(curve.strengths, curve.moved, strict=True)
    ]
    chart = {"data": {"values": points}, **_CURVES}
    shown = (
        f"{_MOVED}. At its strongest {learned.moved[-1]:.1f} as learned, {guessed.moved[-1]:.1f} "
    )
    st.vega_lite_chart(chart, width="stretch", height=280, alt=f"{shown}as first guessed.")


def _row(ground: Backdrop, curve: Curve) -> str:
    """Swatches that touch: the ground, then each strength."""
    colours = [("bare", lab_to_srgb_hex(ground.lab))]
    colours += [
        (say_part(strength), lab_to_srgb_hex(lab))
        for strength, lab in zip(curve.strengths, curve.lab, strict=True)
    ]
    return swatches_html(colours, small=True)
