"""The form in which a layer of one's own shelf is described."""

from collections.abc import Mapping
from typing import Any

import streamlit as st

from tonematch.errors import ShelfError
from tonematch.toning.core import SHELF_KINDS, Layer
from tonematch.toning.layers.layer_entry import MOST_COATS, layer_from_entry
from tonematch.toning.layers.mix import HOW_TO_WRITE, say_mix
from tonematch.toning.layers.rule_table import load_vocabulary
from tonematch.toning.layers.shelf import load_boles
from tonematch.toning.layers.taking_back import ways_to_take_back
from tonematch.toning.model.prior import acting_like

_NOBODY = "nothing: only its kind"


def ask_layer(
    held: Layer | None, shelf: Mapping[str, Layer], label: str, *, may_rename: bool = True
) -> Layer | None:
    """The form of a layer, filled with what is known of one that is held, or empty for a new one.

    A new one may be likened to a layer of the shelf. Gives a layer once the button, which has the
    label, is pressed. Raises ShelfError, which names the field that cannot be kept.
    """
    shown = held or Layer("", "wash")
    with st.form(f"layer-{shown.name}", border=False):
        entry = _ask_what(shown, may_rename)
        entry |= _ask_how(shown)
        entry |= _ask_amount(shown)
        like = None if held is not None else _ask_like(shelf)
        if not st.form_submit_button(label, type="primary", width="stretch"):
            return None
    kept = {field: value for field, value in vars(shown).items() if value is not None}
    layer = layer_from_entry(kept | entry)
    return layer if like is None else acting_like(layer, like)


def numbers_in(text: str) -> list[float]:
    """Numbers with commas, semicolons or blanks between; ShelfError where one is none."""
    try:
        return [float(part) for part in text.replace(",", " ").replace(";", " ").split()]
    except ValueError as error:
        raise ShelfError(
            f"The strengths {text!r} are not all numbers: write them like 0.25, 0.5, 1."
        ) from error


def _ask_what(held: Layer, may_rename: bool) -> dict[str, Any]:
    words = load_vocabulary()
    name = st.text_input(
        "Name of the layer",
        held.name,
        placeholder="for example: weak tea wash",
        disabled=not may_rename,
        help=None
        if may_rename
        else "What came with tonematch keeps its name: add a layer of your own.",
    )
    kind = st.selectbox(
        "Kind: how it acts",
        SHELF_KINDS,
        index=SHELF_KINDS.index(held.kind),
        help="Seal: clear, isolates. Glaze: transparent colour. Wash: thin colour that covers a "
        "little. Dust: lies in specks. Wax: last, satin. Rub: wears the leaf through.",
    )
    material = st.text_input("Material", held.material, placeholder="strong black tea, strained")
    with st.container(horizontal=True):
        binder = st.selectbox(
            "Binder", words.binders, index=words.binders.index(held.binder), width=280
        )
        solvent = st.selectbox(
            "Solvent", words.solvents, index=words.solvents.index(held.solvent), width=280
        )
    return {
        "name": " ".join(name.lower().split()) if may_rename else held.name,
        "kind": kind,
        "material": material.strip(),
        "binder": binder,
        "solvent": solvent,
    }


def _ask_how(held: Layer) -> dict[str, Any]:
    technique = st.text_input("How it is laid", held.technique, placeholder="soft brush, one pass")
    effect = st.text_input("What it does", held.effect, placeholder="cooler, a little duller")
    over = st.text_input("What it may go over", held.over, placeholder="a dry seal")
    reversible = st.text_input(
        "With what it comes off (or: not reversible)", held.reversible, placeholder="warm water"
    )
    ways = ("", *ways_to_take_back())
    taken_back_by = st.selectbox(
        "What takes it back once it is dry, harming nothing beneath",
        ways,
        index=ways.index(held.taken_back_by),
        format_func=lambda way: way or "nothing",
    )
    cautions = st.text_area("What to mind, one sentence a line", "\n".join(held.cautions))
    return {
        "technique": technique.strip(),
        "effect": effect.strip(),
        "over": over.strip(),
        "reversible": reversible.strip() or "unknown",
        "taken_back_by": taken_back_by,
        "cautions": tuple(line.strip() for line in cautions.splitlines() if line.strip()),
    }


def _ask_amount(held: Layer) -> dict[str, Any]:
    full = st.text_input(
        "What strength 1 means", held.full_strength, placeholder="dark as strong coffee"
    )
    mix = st.text_input(
        "The full mix, so that a plan can say what goes into the pot",
        say_mix(held.mix),
        placeholder="20 g black tea in 1 l hot water",
        help=f"Write {HOW_TO_WRITE}.",
    )
    strengths = st.text_input(
        "Strengths that you mix, 1 is the full mix", ", ".join(f"{s:g}" for s in held.strengths)
    )
    coats = st.number_input("Most coats", 1, MOST_COATS, held.most_coats)
    with st.container(horizontal=True):
        least = st.number_input(
            "A coat dries, in hours, at least",
            0.0,
            1000.0,
            held.drying_hours[0],
            format="%g",
            width=280,
        )
        most = st.number_input(
            "A coat dries, in hours, at most",
            0.0,
            1000.0,
            held.drying_hours[1],
            format="%g",
            width=280,
        )
    boles = ["", *load_boles()]
    beneath = st.selectbox(
        "For a rub: what shows through",
        boles,
        index=boles.index(held.beneath) if held.beneath in boles else 0,
        format_func=lambda name: name or "does not apply",
    )
    return {
        "full_strength": full.strip(),
        "mix": mix.strip() or None,
        "strengths": tuple(numbers_in(strengths)),
        "most_coats": int(coats),
        "drying_hours": (least, most),
        "beneath": beneath,
    }


def _ask_like(shelf: Mapping[str, Layer]) -> Layer | None:
    """The layer from whose first guess a new one may start."""
    known = [name for name, layer in shelf.items() if layer.absorption is not None]
    name = st.selectbox(
        "Acts about like",
        [_NOBODY, *known],
        help="A first guess for the plans; your own trials overrule it.",
    )
    return shelf.get(name)
