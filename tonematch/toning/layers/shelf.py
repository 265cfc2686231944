"""The shelf: which layers there are, read from a file and checked field by field."""

import re
from collections.abc import Iterable, Mapping
from difflib import get_close_matches
from functools import cache

import numpy as np

from tonematch.arrays import Vector3
from tonematch.errors import ShelfError
from tonematch.swatchbook import swatch_table
from tonematch.toning.core import Layer, Trial
from tonematch.toning.layers.layer_entry import layer_from_entry
from tonematch.toning.layers.taking_back import TAKEN_BACK, lift_of

NEAR = 0.65  # likeness of two names from which one may be meant for the other, of 1; a choice


def load_shelf() -> dict[str, Layer]:
    """Layers that ship, by name, in the order of their file."""
    return dict(_shipped_shelf())


@cache
def _shipped_shelf() -> Mapping[str, Layer]:
    layers = map(layer_from_entry, swatch_table("layers.toml")["layer"])
    return {layer.name: layer for layer in layers}


@cache
def load_boles() -> Mapping[str, Vector3]:
    """CIELAB (D50, 2 degree) of what lies beneath the leaf, by name; it is only to be read."""
    return {entry["name"]: np.array(entry["lab"]) for entry in swatch_table("boles.toml")["bole"]}


def boles_named(words: str) -> tuple[str, ...]:
    """The boles of swatches/boles.toml that a description of a piece speaks of, if any.

    Such as "red", or "yellow in the hollows, black on the high points".
    """
    said = _words(words)
    named = []
    for entry in swatch_table("boles.toml")["bole"]:
        colours = [entry["name"].removesuffix(" bole"), *entry.get("also", ())]
        if entry["name"] != "gesso" and any(_words(colour) <= said for colour in colours):
            named.append(entry["name"])
    return tuple(named)


def find_layer(shelf: Mapping[str, Layer], name: str) -> Layer:
    """The layer of that name, whatever its capitals and the spaces around it.

    "NAME, taken back" is what takes that layer back. Raises ShelfError where the shelf has none: it
    names the nearest one where that is near.
    """
    plain = " ".join(name.lower().split())
    if plain in shelf:
        return shelf[plain]
    if plain.endswith(TAKEN_BACK):
        return lift_of(find_layer(shelf, plain.removesuffix(TAKEN_BACK)))
    if not shelf:
        raise ShelfError(f"No layer {name!r} is on the shelf, which is empty: add the layer first.")
    # Trials may have added layers under names with capitals.
    plain_names = {known.lower(): known for known in shelf}
    if plain in plain_names:
        return shelf[plain_names[plain]]
    near = get_close_matches(plain, plain_names, n=1, cutoff=NEAR)
    remedy = f"did you mean {plain_names[near[0]]!r}?" if near else "choose one that is, or add it."
    raise ShelfError(f"No layer {name!r} is on the shelf: {remedy}")


def at_hand(shelf: Mapping[str, Layer]) -> list[Layer]:
    """The layers that a plan may use unless a gilder says otherwise."""
    return [layer for layer in shelf.values() if layer.at_hand]


def layers_from_trials(trials: Iterable[Trial], shelf: Mapping[str, Layer]) -> dict[str, Layer]:
    """The shelf, then the layers that only trials know, by name and kind alone.

    Strengths and coats of an added layer are those of its trials. Raises ShelfError when two trials
    give one layer different kinds.
    """
    known = dict(shelf)
    strengths: dict[str, set[float]] = {}
    coats: dict[str, int] = {}
    for trial in trials:
        laid = trial.application
        if laid.kind == "lift":  # known by what it takes back
            continue
        layer = known.setdefault(laid.layer, Layer(laid.layer, laid.kind))
        if layer.kind != laid.kind:
            raise ShelfError(
                f"Layer {laid.layer!r} is a {layer.kind} in one place and a {laid.kind} in a "
                "trial: give one of the two another name."
            )
        strengths.setdefault(laid.layer, set()).add(laid.strength)
        coats[laid.layer] = max(coats.get(laid.layer, 1), laid.coats)
    for name in known.keys() - shelf.keys():
        known[name] = Layer(
            name,
            known[name].kind,
            strengths=tuple(sorted(strengths[name])),
            most_coats=coats[name],
            source="trials",
        )
    return known


def layers_with_trials(trials: Iterable[Trial], shelf: Mapping[str, Layer]) -> list[Layer]:
    """The layers that a gilder evidently has: those laid in trials, and the usual seals.

    The shelf must hold every layer of the trials (`layers_from_trials`). Seals come unasked:
    without one between, the rules of layering let little be laid. Without trials it is all that are
    at hand.
    """
    laid = {trial.application.layer for trial in trials}
    usual = at_hand(shelf)
    if not laid:
        return usual
    return [
        layer
        for layer in shelf.values()
        if layer.name in laid or (layer.kind == "seal" and layer in usual)
    ]


def _words(text: str) -> set[str]:
    return set(re.findall(r"[a-z]+", text.lower()))
