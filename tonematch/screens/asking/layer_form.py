"""The forms of a layer: five fields for a new one of one's own, all of them for one held."""

from collections.abc import Mapping, Sequence
from dataclasses import replace
from difflib import get_close_matches
from typing import Any

import streamlit as st

from tonematch.errors import ShelfError
from tonematch.measure.words import capital
from tonematch.screens.showing.plain import plain
from tonematch.toning.core import SHELF_KINDS, Layer
from tonematch.toning.layers.layer_entry import MOST_COATS, layer_from_entry
from tonematch.toning.layers.mix import HOW_TO_WRITE, read_mix, say_mix
from tonematch.toning.layers.rule_table import load_vocabulary
from tonematch.toning.layers.shelf import load_boles
from tonematch.toning.layers.taking_back import ways_to_take_back
from tonematch.toning.model.prior import acting_like

KINDS = (
    "Seal: clear, isolates. Glaze: transparent colour. Wash: thin colour that covers a little. "
    "Dust: lies in specks. Wax: last, satin. Rub: wears the leaf through."
)

ALIKE = 0.88  # likeness of names, of 1, that may be one: a choice; those that ship have up to 0.82


def ask_new_layer(shelf: Mapping[str, Layer]) -> Layer:
    """A layer of one's own in five fields; what else is known of it comes from what it is like.

    It is not checked, since its name comes last to mind. What is true of a likeness in the same
    binder and solvent alone (how it comes off, how it dries) is taken over only with both.
    """
    name = st.text_input("Name of the layer", placeholder="weak tea wash", key="new-name")
    for near in get_close_matches(_as_name(name), shelf, n=1, cutoff=ALIKE):
        st.caption(
            f"{plain(capital(near))} is on the shelf already: choose it above if you mean it."
        )
    material = st.text_input(
        "What it is made of", placeholder="strong black tea, strained", key="new-material"
    )
    models = {f"any {kind}": Layer("", kind) for kind in SHELF_KINDS} | dict(shelf)
    like = st.selectbox(
        "Acts about like", list(models), index=SHELF_KINDS.index("wash"), help=KINDS
    )
    known = models[like]
    binder, solvent = _ask_binder(known, f"new-{like}")
    told = replace(known, mix=None, full_strength="", effect="", at_hand=True)
    if (binder, solvent) != (known.binder, known.solvent):
        kept = {field: getattr(known, field) for field in ("strengths", "most_coats", "beneath")}
        told = Layer("", known.kind, **kept)
    new = replace(
        told, name=_as_name(name), material=material.strip(), binder=binder, solvent=solvent
    )
    return acting_like(new, known) if known.name else new


def ask_layer(held: Layer, label: str, *, may_rename: bool = True) -> Layer | None:
    """The form of all that is said of a layer, filled with what is held.

    Gives the layer once the button, which has the label, is pressed. Raises ShelfError, which names
    the field that cannot be kept.
    """
    with st.form(f"layer-{held.name}", border=False):
        entry = _ask_what(held, may_rename)
        entry |= _ask_how(held)
        entry |= _ask_amount(held)
        if not st.form_submit_button(label, type="primary", width="stretch"):
            return None
    return checked(replace(held, **entry))


def checked(layer: Layer) -> Layer:
    """The layer itself; ShelfError, which names the field, where it cannot be kept."""
    return layer_from_entry({k: value for k, value in vars(layer).items() if value is not None})


def numbers_in(text: str) -> list[float]:
    """Numbers with commas, semicolons or blanks between; ShelfError where one is none."""
    try:
        return [float(part) for part in text.replace(",", " ").replace(";", " ").split()]
    except ValueError as error:
        raise ShelfError(
            f"The strengths {text!r} are not all numbers: write them like 0.25, 0.5, 1."
        ) from error


def _ask_what(held: Layer, may_rename: bool) -> dict[str, Any]:
    name = st.text_input(
        "Name of the layer",
        held.name,
        disabled=not may_rename,
        help=None
        if may_rename
        else "What came with tonematch keeps its name: add a layer of your own.",
    )
    kind = st.selectbox(
        "Kind: how it acts", SHELF_KINDS, index=SHELF_KINDS.index(held.kind), help=KINDS
    )
    material = st.text_input("What it is made of", held.material)
    binder, solvent = _ask_binder(held, held.name)
    return {
        "name": _as_name(name) if may_rename else held.name,
        "kind": kind,
        "material": material.strip(),
        "binder": binder,
        "solvent": solvent,
    }


def _ask_binder(held: Layer, place: str) -> tuple[str, str]:
    """Binder and solvent, as they are held until something else is said at this place."""

    def ask(label: str, options: Sequence[str], said: str) -> str:
        key = f"{label.lower()}-{place}-{said}"
        return st.selectbox(label, options, index=options.index(said), key=key, width=280)

    words = load_vocabulary()
    with st.container(horizontal=True):
        return (
            ask("Binder", words.binders, held.binder),
            ask("Solvent", words.solvents, held.solvent),
        )


def _as_name(typed: str) -> str:
    """As layers are named: in lower case, with single blanks."""
    return " ".join(typed.lower().split())


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
        least, most = (
            st.number_input(
                f"A coat dries, in hours, at {end}", 0.0, 1000.0, hours, format="%g", width=280
            )
            for end, hours in zip(("least", "most"), held.drying_hours, strict=True)
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
        "mix": read_mix(mix) if mix.strip() else None,
        "strengths": tuple(numbers_in(strengths)),
        "most_coats": int(coats),
        "drying_hours": (least, most),
        "beneath": beneath,
    }
