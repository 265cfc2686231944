"""The command for the workshop's own cards."""

from typing import Annotated

import typer

from tonematch.cli import typed
from tonematch.cli.options import AsJson
from tonematch.cli.printing import print_json
from tonematch.errors import ValueRefused
from tonematch.logbook.own_cards import OWN_CARDS, keep_cards


def cards(
    white: Annotated[
        float | None, typer.Option(help="What your white card reflects, 0 to 1.")
    ] = None,
    grey: Annotated[float | None, typer.Option(help="Likewise, the grey card.")] = None,
    grey_lab: Annotated[
        typed.Numbers | None, typed.three_numbers(help="Or its measured colour (D50, 2 degree).")
    ] = None,
    black: Annotated[float | None, typer.Option(help="Likewise, the black card.")] = None,
    as_json: AsJson = False,
) -> None:
    """Say once what your white, grey and black cards reflect; or show what is kept."""

    if grey is not None and grey_lab is not None:
        raise ValueRefused("The grey card's value is given twice: leave out one of the two.")
    said = {"white": white, "grey": grey_lab if grey is None else grey, "black": black}
    changes = {name: value for name, value in said.items() if value is not None}
    known = keep_cards(changes) if changes else OWN_CARDS.value()
    if as_json:
        print_json(known.values)
        return
    for name, value in known.values.items():
        typer.echo(f"{name} card: {value.words}")
    if known.stated:
        typer.echo(f"Kept in {OWN_CARDS.path}.")
