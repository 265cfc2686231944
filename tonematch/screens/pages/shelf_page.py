"""Shelf: the layers that are at hand, what each does, and changing what is said of them."""

from collections import Counter
from collections.abc import Mapping
from dataclasses import replace

import streamlit as st

from tonematch.logbook.store import Logbook
from tonematch.screens.asking.layer_form import ask_layer, ask_new_layer, checked
from tonematch.screens.keeping import keep_layer
from tonematch.screens.sections.layer_page import show_first_look, show_layer
from tonematch.screens.session import bench, go_to
from tonematch.screens.showing.plain import plain, tell
from tonematch.screens.showing.plain_numbers import say_times
from tonematch.toning.core import Layer
from tonematch.toning.layers.shelf import load_shelf

CHOSEN = "shelf-layer"


def shelf_page(logbook: Logbook) -> None:
    """The page of all layers, one of them shown in full."""
    trials = logbook.trials()
    shelf = logbook.known_layers()
    counts = Counter(trial.application.layer for trial in trials)
    at_hand = sum(layer.at_hand for layer in shelf.values())
    st.write(f"{len(shelf)} layers, {at_hand} of them at hand. Plans use those that are at hand.")
    layer = shelf[_choose(shelf, counts)]
    _say_state(layer)
    _offer_actions(logbook, layer)
    show_layer(layer, trials, shelf)
    with st.expander("Change what is said of it"):
        _change(logbook, layer)
    with st.expander("A new layer"):
        new = ask_new_layer(shelf)
        show_first_look(new)
        if st.button("Put it on the shelf", type="primary", width="stretch"):
            logbook.add_layer(checked(new))
            _show_next(new.name, f"{new.name} is on your shelf; what else is known of it is below.")


def _choose(shelf: Mapping[str, Layer], counts: Mapping[str, int]) -> str:
    names = sorted(shelf, key=lambda name: (not shelf[name].at_hand, name))
    held = bench().layer

    def say(name: str) -> str:
        layer = shelf[name]
        away = "" if layer.at_hand else ", not at hand"
        tried = f", laid {say_times(counts[name])}" if counts.get(name) else ""
        return f"{name} ({layer.kind}{tried}{away})"

    # Held by its key: an index that moves with each choice would lose every second one.
    if st.session_state.get(CHOSEN) not in names:
        st.session_state[CHOSEN] = held if held in names else names[0]
    bench().layer = st.selectbox("Layer", names, format_func=say, key=CHOSEN)
    return bench().layer


def _say_state(layer: Layer) -> None:
    if not layer.at_hand:
        tell("Not at hand: plans leave it out.")


def _offer_actions(logbook: Logbook, layer: Layer) -> None:
    """Marking it as at hand or not, retiring it, bringing it back: each is one button."""
    own = {kept.name for kept in logbook.own_layers()}
    retired = {kept.name for kept in logbook.own_layers(retired=True)} - own
    shipped = layer.name in load_shelf()
    if layer.name in retired and not shipped:
        if st.button("Put it back on the shelf", width="stretch"):
            logbook.bring_back_layer(layer.name)
            _show_next(layer.name, f"{layer.name} is on your shelf again.")
        return
    label = "Mark as not at hand" if layer.at_hand else "Mark as at hand"
    if st.button(label, width="stretch"):
        keep_layer(logbook, layer.name, replace(layer, at_hand=not layer.at_hand))
        words = "no longer at hand" if layer.at_hand else "at hand again"
        _show_next(layer.name, f"{layer.name} is {words}.")
    if layer.name not in own:
        return
    label = "Back to the entry that came with tonematch" if shipped else "Take it off the shelf"
    if st.button(label, width="stretch"):
        logbook.retire_layer(layer.name)
        _show_next(layer.name, f"Done: {layer.name}; what was laid of it and your entry are kept.")


def _change(logbook: Logbook, layer: Layer) -> None:
    shipped = layer.name in load_shelf()
    changed = ask_layer(layer, "Keep the changes", may_rename=not shipped)
    if changed is not None:
        keep_layer(logbook, layer.name, changed)
        _show_next(changed.name, f"{changed.name} is changed; what stood there before is kept.")
    if layer.name in {own.name for own in logbook.own_layers(retired=True)}:
        for change in logbook.layer_changes(layer.name):
            st.caption(plain(f"{change.made_at[:10]}: {change.words}. {change.reason}"))


def _show_next(name: str, message: str) -> None:
    bench().layer = name
    st.session_state.pop(CHOSEN, None)
    go_to("Shelf", message)
