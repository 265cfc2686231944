"""Recipes: what was mixed and laid under a name, laid again on another piece."""

from typing import Annotated

import typer

from tonematch.cli import typed
from tonematch.cli.options import (
    LogbookPath,
    NewLogbookPath,
    PotVolume,
    Reason,
    ZoneName,
    open_logbook,
)
from tonematch.cli.printing import print_if_new
from tonematch.errors import ValueRefused
from tonematch.in_words import say_finding, say_recipe_steps
from tonematch.logbook.core import Recipe, RecipeStep, RecipeUse
from tonematch.logbook.layers_on_repair import surface_of
from tonematch.toning.layers.coats import say_coats
from tonematch.toning.layers.mix import USUAL_POT, say_pot
from tonematch.toning.layers.rules import check_layering
from tonematch.toning.layers.shelf import find_layer
from tonematch.toning.planning.plan_words import say_work

recipes_app = typer.Typer(
    help="Recipes: what was mixed and laid, kept under a name and laid again.",
    no_args_is_help=True,
)

Name = Annotated[str, typer.Argument(help="The recipe's name.")]


@recipes_app.command("list")
def list_recipes(logbook: LogbookPath = None) -> None:
    """List the recipes, each with the pieces that it was laid on and how that landed."""
    with open_logbook(logbook) as book:
        recipes = book.recipes()
    for recipe in recipes:
        typer.echo(_say_recipe(recipe))
        for use in recipe.uses:
            typer.echo(f"  {_say_recipe_use(recipe, use)}")
    typer.echo(f"Recipes: {len(recipes)}.")


@recipes_app.command()
def add(
    name: Name,
    layers: Annotated[
        list[str] | None,
        typer.Option(
            "--layer",
            metavar="NAME:STRENGTH[:COATS]",
            help="A layer on the shelf; repeat, in order.",
        ),
    ] = None,
    laid_on: Annotated[str | None, typer.Option(help="Or all that was laid on this piece.")] = None,
    zone: ZoneName = "",
    note: Annotated[str, typer.Option(help="Whatever else should be known.")] = "",
    logbook: NewLogbookPath = None,
) -> None:
    """Keep what was mixed and laid under a name."""
    if bool(layers) == (laid_on is not None):
        raise ValueRefused("Say what the recipe lays: --layer for each, or --laid-on PIECE.")
    with open_logbook(logbook) as book:
        shelf = book.known_layers()
        coats = [typed.coat(text, shelf) for text in layers or ()]
        steps = [RecipeStep(c.layer.name, c.layer.kind, c.strength, c.coats) for c in coats]
        if laid_on is not None:
            steps = book.laid_steps(laid_on, zone)
        book.add_recipe(name.strip(), steps, note)
    print_if_new(book)
    typer.echo(f"{name.strip()} is kept: {say_recipe_steps(steps)}.")


@recipes_app.command()
def use(
    name: Name,
    piece: Annotated[str, typer.Argument(help="The piece that it is laid on.")],
    zone: ZoneName = "",
    pot: PotVolume = None,
    logbook: LogbookPath = None,
) -> None:
    """Take a recipe up for a piece: what to mix and to mind; how it lands is kept with it."""
    with open_logbook(logbook) as book:
        shelf = book.known_layers()
        lying = [kept.trial for kept in book.kept_trials(piece, zone=zone)]
        surface = surface_of(book.piece(piece, zone), lying, shelf)
        recipe = book.recipe(name)
        layers = [find_layer(shelf, step.layer) for step in recipe.steps]
        book.use_recipe(name, piece, zone)
    for place, (step, layer) in enumerate(zip(recipe.steps, layers, strict=True), start=1):
        mixed = say_pot(layer, step.strength, pot or USUAL_POT, step.coats)
        how = say_work(layer, step.coats, surface)
        typer.echo(f"{place}. {layer.name}, {say_coats(step.coats)}: {mixed}; {how}.")
    for finding in check_layering(surface, layers, coats=[step.coats for step in recipe.steps]):
        typer.echo(say_finding(finding))
    typer.echo(f"{recipe.name} is taken up for {piece}: let each dry, and photograph it.")


@recipes_app.command()
def remove(name: Name, reason: Reason = "", logbook: LogbookPath = None) -> None:
    """Take a recipe out of sight; 'tonematch logbook undo' brings it back."""
    with open_logbook(logbook) as book:
        book.remove_recipe(name, reason)
    typer.echo(f"{name} is removed: 'tonematch logbook undo' brings it back.")


def _say_recipe(recipe: Recipe) -> str:
    """A recipe in a line."""
    note = f" ({recipe.note})" if recipe.note else ""
    return f"{recipe.name}{note}: {say_recipe_steps(recipe.steps)}"


def _say_recipe_use(recipe: Recipe, use: RecipeUse) -> str:
    """Where a recipe was laid, how much of it, and how far from the old gold that ended."""
    where = ", ".join(filter(None, (use.piece, use.zone, use.made_at[:10])))
    told = f"{where}: {use.laid} of {len(recipe.steps)} laid"
    told += ", then something else" if use.left else ""
    if use.before is None:
        return told
    ended = "" if use.after is None else f", {use.after:.1f} after"
    return f"{told}; CIEDE2000 from the old gold {use.before:.1f} before{ended}"
