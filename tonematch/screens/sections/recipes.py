"""Recipes on the page where a layer is laid: one taken up by a press, its next step, a new one."""

from collections.abc import Mapping, Sequence

import streamlit as st

from tonematch.in_words import say_recipe_steps
from tonematch.logbook.core import Piece, Recipe, RecipeStep, RecipeUse
from tonematch.logbook.store import Logbook
from tonematch.screens.session import bench, go_to
from tonematch.screens.showing.plain import plain
from tonematch.screens.showing.ruler import how_far
from tonematch.toning.core import Layer

_SHOWN = 3  # those used last; more would push the layer that is laid out of sight


def show_recipes(logbook: Logbook, piece: Piece, shelf: Mapping[str, Layer]) -> None:
    """The recipe that is being laid here with its next step, or a short list to take one up."""
    begun = logbook.recipe_in_use(piece.name, piece.zone)
    if begun is not None:
        laid = begun.uses[-1].laid
        step = begun.steps[laid]
        st.write(f"**{plain(begun.name)}**: {laid} of {len(begun.steps)} laid.")
        if step.layer in shelf and st.button(
            f"Its next layer: {plain(step.layer)}", width="stretch"
        ):
            _lay(begun, laid)
    known = [one for one in logbook.recipes() if one.steps[0].layer in shelf]
    if begun is None:
        for recipe in known[:_SHOWN]:
            _offer(logbook, piece, recipe)
    steps = logbook.laid_steps(piece.name, piece.zone)
    if not (steps or known[_SHOWN:] or begun):
        return
    with st.expander("Recipes"):
        for recipe in known if begun else known[_SHOWN:]:
            _offer(logbook, piece, recipe)
        if steps:
            _keep(logbook, steps)


def _offer(logbook: Logbook, piece: Piece, recipe: Recipe) -> None:
    if st.button(f"Lay the recipe {plain(recipe.name)}", width="stretch"):
        logbook.use_recipe(recipe.name, piece.name, piece.zone)
        _lay(recipe, 0)
    landed = "".join(map(_landed, recipe.uses[-1:]))
    st.caption(plain(f"{say_recipe_steps(recipe.steps)}.{landed}"))


def _landed(use: RecipeUse) -> str:
    """Where it was laid last, and how far that ended from the old gold, by the ruler's words."""
    where = ", ".join(filter(None, (use.piece, use.zone)))
    if use.before is None or use.after is None:
        return f" Last laid on {where}."
    return f" Last laid on {where}, from {how_far(use.before)} to {how_far(use.after)}."


def _lay(recipe: Recipe, place: int) -> None:
    """Make a step what is asked for below, where the same page held another answer."""
    bench().lay_next(recipe.steps[place])
    for key in [key for key in st.session_state if str(key).startswith("laying")]:
        del st.session_state[key]
    go_to("Lay a layer")


def _keep(logbook: Logbook, steps: Sequence[RecipeStep]) -> None:
    st.write(plain(f"Laid here: {say_recipe_steps(steps)}."))
    name = st.text_input("Keep it as a recipe named", placeholder="north hall tone")
    if name.strip() and st.button("Keep the recipe", width="stretch"):
        logbook.add_recipe(name.strip(), steps)
        go_to("Lay a layer", f"{name.strip()} is kept as a recipe.")
