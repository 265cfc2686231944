"""Which gold to lay, where none has been laid yet: leaf, bole and wear."""

from collections.abc import Sequence

import streamlit as st

from tonematch.in_words import say_in_numbers, say_lab
from tonematch.logbook.core import Piece
from tonematch.logbook.store import Logbook
from tonematch.measure.core import Reading
from tonematch.screens.planning import leaf_choices
from tonematch.screens.sections.plan_card import show_step
from tonematch.screens.session import bench, go_to
from tonematch.screens.showing.layer_words import show_job_cautions
from tonematch.screens.showing.plain import plain, tell
from tonematch.screens.showing.swatch import COLORIMETRY, in_numbers, show_swatches
from tonematch.toning.layers.mix import USUAL_POT
from tonematch.toning.layers.shelf import load_boles, load_leaves
from tonematch.toning.planning.body_colour import LaidLeaf, say_body
from tonematch.toning.planning.leaf import LeafChoice, say_doubt
from tonematch.toning.planning.plan_words import say_chance
from tonematch.toning.planning.telling import PlanTeller


def show_leaf(logbook: Logbook, piece: Piece, original: Reading) -> None:
    """The page of a piece whose repair has no gold yet."""
    st.write(
        "The gold is not laid yet. These are the ways to gild the repair that are likeliest to "
        "come near enough once toned."
    )
    show_swatches([("Original", original.lab)], small=True)
    known = {leaf.name: leaf for leaf in load_leaves()}
    names = list(known)
    boles = list(load_boles())
    with st.expander("Leaf and bole that you have"):
        leaves = st.multiselect("Leaf", names, [name for name in names if known[name].at_hand])
        kept_boles = st.multiselect("Bole", boles, boles)
    if not leaves or not kept_boles:
        tell("Choose at least one leaf and one bole.")
        return
    strip, spread, laid = bench().strip, original.covariance, None
    if strip is not None:
        # In one photograph what both readings share moves both alike.
        spread = original.own_covariance
        name = st.selectbox("The leaf of the strip in the picture", names)
        laid = LaidLeaf(known[name], strip.lab, strip.own_covariance)
    choices = leaf_choices(
        logbook.trials(),
        logbook.known_layers(),
        original.lab,
        spread,
        tuple(leaves),
        tuple(kept_boles),
        piece.tolerance,
        piece.surface(),
        laid,
    )
    doubt = say_doubt(choices)
    if doubt:
        tell(doubt)
    teller = PlanTeller(logbook.known_layers(), piece.surface(), bench().recall("pot", USUAL_POT))
    show_job_cautions(teller.job(choice.plan for choice in choices))
    _show(choices, original, teller)
    with in_numbers():
        st.caption(f"Original: {say_lab(original.lab, original.covariance)}.")
        for number, choice in enumerate(choices, start=1):
            gold = say_lab(choice.before.lab, choice.before.covariance)
            told = f"Way {number}: new gold {gold}; toned {say_in_numbers(choice.plan)}."
            st.caption(plain(told))
        st.caption(plain(f"{COLORIMETRY} {say_body(laid)}"))
    if st.button("The gold is laid: photograph it", type="primary", width="stretch"):
        go_to("Photograph")


def _show(choices: Sequence[LeafChoice], original: Reading, teller: PlanTeller) -> None:
    for number, choice in enumerate(choices, start=1):
        name = f"Way {number}"
        with st.container(border=True):
            st.subheader(f"{name}: {plain(choice.leaf.name)} leaf", anchor=False)
            st.write(plain(choice.words))
            show_swatches([("Original", original.lab), ("New gold", choice.before.lab)], small=True)
            st.write(f"Near enough once toned: **{say_chance(choice.plan.chance_read)}**.")
            for caution in teller.new((*choice.leaf.cautions, *choice.plan.cautions)):
                st.write(plain(caution))
            for place, step in enumerate(teller.steps(name.lower(), choice.plan), start=1):
                show_step(place, *step)
