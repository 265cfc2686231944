"""The gilder's own shelf: list, add, rename, retire, bring back."""

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Annotated, Literal

import typer

from tonematch.cli import typed
from tonematch.cli.as_json import in_json
from tonematch.cli.grouped import grouped
from tonematch.cli.options import AsJson, LogbookPath, NewLogbookPath, Reason, open_logbook
from tonematch.cli.printing import print_if_new, print_json
from tonematch.errors import ShelfError
from tonematch.toning.core import Layer
from tonematch.toning.layers.layer_entry import layer_from_entry
from tonematch.toning.layers.shelf import find_layer, layers_from_trials, load_shelf
from tonematch.toning.model.prior import acting_like

shelf_app = typer.Typer(help="Layers: what is known, and those of your own.", no_args_is_help=True)

OwnLayer = Annotated[str, typer.Argument(help="A layer of your own.")]


@shelf_app.command("list")
def list_layers(
    own: Annotated[bool, typer.Option("--own", help="Only your own, retired ones too.")] = False,
    logbook: LogbookPath = None,
    as_json: AsJson = False,
) -> None:
    """List the layers that came with tonematch, your own, and those that only trials tell of."""
    with open_logbook(logbook) as book:
        trials = book.trials()
        shelf = layers_from_trials(trials, book.shelf())
        mine = {layer.name for layer in book.own_layers(retired=True)}
    tried = Counter(trial.application.layer for trial in trials)
    shown = [layer for layer in shelf.values() if not own or layer.name in mine]
    if as_json:
        layers = [
            in_json(one) | {"own": one.name in mine, "trials": tried[one.name]} for one in shown
        ]
        print_json({"layers": layers})
        return
    for one in shown:
        typer.echo(_say_layer(one, one.name in mine, tried[one.name]))
    typer.echo(f"{len(shown)} layers, {sum(one.at_hand for one in shown)} of them at hand.")


@dataclass(frozen=True)
class TypedEntry:
    """What was typed of a layer, by the keys of an entry in swatches/layers.toml."""

    material: Annotated[str | None, typer.Option(help="What it is made of.")] = None
    binder: Annotated[str | None, typer.Option(help="Such as shellac, gum, oil or wax.")] = None
    solvent: Annotated[str | None, typer.Option(help="Such as water, alcohol or dry.")] = None
    technique: Annotated[str | None, typer.Option("--laid-with", help="How it is laid.")] = None
    effect: Annotated[str | None, typer.Option(help="What it does.")] = None
    full_strength: Annotated[str | None, typer.Option(help="What strength 1 means.")] = None
    mix: Annotated[
        str | None,
        typer.Option(help="The full mix, such as '20 g black tea in 1 l hot water'."),
    ] = None
    strengths: Annotated[
        typed.Numbers | None, typed.numbers(help="Those you mix, such as 0.5,1.")
    ] = None
    most_coats: Annotated[int | None, typer.Option(help="How many coats at most.")] = None
    drying_hours: Annotated[
        typed.Numbers | None,
        typed.numbers(help="Hours that a coat dries, LEAST,MOST, such as 0.5,2."),
    ] = None
    reversible: Annotated[str | None, typer.Option(help="With what it comes off.")] = None
    taken_back_by: Annotated[
        str | None, typer.Option(help="What takes it back once dry, such as water or dry brush.")
    ] = None
    over: Annotated[str | None, typer.Option(help="What it may go over.")] = None
    beneath: Annotated[str | None, typed.bole("--shows", help="For a rub: the bole beneath.")] = (
        None
    )
    cautions: Annotated[
        list[str] | None, typer.Option("--caution", metavar="WORDS", help="What to mind; repeat.")
    ] = None


@shelf_app.command()
@grouped
def add(
    name: Annotated[str, typer.Argument(help="What you call it.")],
    kind: Annotated[
        Literal["seal", "glaze", "wash", "dust", "wax", "rub"], typer.Option(help="How it acts.")
    ],
    like: Annotated[
        str | None, typer.Option(help="A known layer that it acts about like; a first guess.")
    ] = None,
    *,
    said: TypedEntry,
    logbook: NewLogbookPath = None,
) -> None:
    """Put a layer of your own on the shelf."""
    layer = layer_from_entry(typed.told(name=_plain(name), kind=kind, **vars(said)))
    if layer.name in load_shelf():
        raise ShelfError(f"{layer.name!r} comes with tonematch: give your layer another name.")
    with open_logbook(logbook) as book:
        if like is not None:
            layer = acting_like(layer, find_layer(book.shelf(), like))
        book.add_layer(layer)
    print_if_new(book)
    typer.echo(f"{layer.name} is on your shelf.")


@shelf_app.command()
def rename(
    name: OwnLayer,
    new: Annotated[str, typer.Argument(help="What it shall be called.")],
    reason: Reason = "",
    logbook: LogbookPath = None,
) -> None:
    """Rename a layer of your own; its trials follow."""
    with open_logbook(logbook) as book:
        layer = _own_layer(name, book.own_layers())
        if layer.name in load_shelf():
            raise ShelfError(f"{layer.name!r} comes with tonematch and keeps its name.")
        renamed = replace(layer, name=_plain(new))
        book.change_layer(layer.name, renamed, reason)
    typer.echo(f"{layer.name} is now called {renamed.name}.")


@shelf_app.command()
def retire(name: OwnLayer, reason: Reason = "", logbook: LogbookPath = None) -> None:
    """Take a layer of your own off the shelf; its entry and its trials are kept."""
    with open_logbook(logbook) as book:
        layer = _own_layer(name, book.own_layers())
        book.retire_layer(layer.name, reason)
    typer.echo(f"{layer.name} is off the shelf; its entry and its trials are kept.")


@shelf_app.command("bring-back")
def bring_back(name: OwnLayer, reason: Reason = "", logbook: LogbookPath = None) -> None:
    """Put a retired layer on the shelf again."""
    with open_logbook(logbook) as book:
        layer = _own_layer(name, book.own_layers(retired=True))
        book.bring_back_layer(layer.name, reason)
    typer.echo(f"{layer.name} is on your shelf.")


def _own_layer(name: str, own: Sequence[Layer]) -> Layer:

    known = {layer.name: layer for layer in own}
    if _plain(name) in load_shelf().keys() - known.keys():
        raise ShelfError(
            f"{_plain(name)!r} comes with tonematch and stays as it is: add a layer of your own."
        )
    return find_layer(known, name)


def _plain(name: str) -> str:
    plain = " ".join(name.lower().split())
    if not plain or not plain.isprintable():
        raise ShelfError("A layer needs a name: call it by what you lay, such as 'weak tea wash'.")
    return plain


def _say_layer(layer: Layer, own: bool, trials: int) -> str:
    """A layer of the shelf in a line."""
    facts = [layer.kind, *(["your own"] if own else []), f"trials: {trials}"]
    return f"{layer.name} ({', '.join(facts + ([] if layer.at_hand else ['not at hand']))})"
