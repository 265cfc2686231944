"""Pieces in the logbook: add one, list them."""

from typing import Annotated

import typer

from tonematch.cli.options import (
    FinishName,
    LogbookPath,
    NewLogbookPath,
    TechniqueName,
    Tolerance,
)
from tonematch.cli.printing import print_if_new
from tonematch.cli.typed import finish_named, technique_named

pieces_app = typer.Typer(help="Pieces in the logbook: add, list.", no_args_is_help=True)


@pieces_app.command()
def add(
    name: Annotated[str, typer.Argument(help="What you call the piece.")],
    technique: TechniqueName = "unknown",
    finish: FinishName = "unknown",
    bole: Annotated[str, typer.Option(help="Colour of the bole.")] = "",
    leaf: Annotated[str, typer.Option(help="Carat or colour of the leaf.")] = "",
    hangs_in: Annotated[str, typer.Option(help="Where it will hang, and in what light.")] = "",
    wish: Annotated[str, typer.Option(help="What the owner wants: bright, or aged in.")] = "",
    tolerance: Tolerance = 2.0,
    seen_from: Annotated[
        float | None, typer.Option(help="From how far it will be seen, in metres.")
    ] = None,
    laid: Annotated[
        list[str] | None,
        typer.Option(help="A layer that lies on the repair already; repeat, lowest first."),
    ] = None,
    notes: Annotated[str, typer.Option(help="Whatever else should be known.")] = "",
    logbook: NewLogbookPath = None,
) -> None:
    """Put a piece into the logbook."""
    from tonematch.logbook.core import Piece
    from tonematch.logbook.store import open_logbook
    from tonematch.toning.layers.shelf import find_layer, layers_from_trials

    with open_logbook(logbook) as book:
        shelf = layers_from_trials(book.trials(), book.shelf())
        beneath = tuple(find_layer(shelf, layer).name for layer in laid or ())
        piece = Piece(
            name.strip(),
            technique_named(technique),
            finish_named(finish),
            bole,
            leaf,
            hangs_in,
            wish,
            tolerance=tolerance,
            viewing_distance_m=seen_from,
            notes=notes,
            laid_before=beneath,
        )
        book.add_piece(piece)
    print_if_new(book)
    typer.echo(f"{piece.name} is in the logbook.")


@pieces_app.command("list")
def list_pieces(logbook: LogbookPath = None) -> None:
    """List the pieces in the logbook."""
    from tonematch.logbook.store import open_logbook

    with open_logbook(logbook) as book:
        pieces = book.pieces()
    for piece in pieces:
        invented = ", invented" if piece.invented and "invented" not in piece.name else ""
        typer.echo(
            f"{piece.name}{invented}: gilding {piece.technique}, {piece.finish}; tolerance "
            f"CIEDE2000 {piece.tolerance:g}"
        )
    typer.echo(f"Pieces: {len(pieces)}.")
