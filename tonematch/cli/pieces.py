"""Pieces in the logbook: add one, say more of its gilding, list them, remove one."""

from dataclasses import replace
from typing import Annotated

import typer

from tonematch.cli import typed
from tonematch.cli.grouped import grouped
from tonematch.cli.of_piece import TypedCircumstances
from tonematch.cli.options import (
    USUAL_TOLERANCE,
    FinishName,
    LogbookPath,
    NewLogbookPath,
    Reason,
    TechniqueName,
    Tolerance,
    ZoneName,
    open_logbook,
)
from tonematch.cli.printing import print_if_new
from tonematch.in_words import say_gilding, say_known_gilding
from tonematch.logbook.core import Piece
from tonematch.toning.layers.rules import surface_cautions
from tonematch.toning.layers.shelf import find_layer

pieces_app = typer.Typer(
    help="Pieces in the logbook: add, say more of the gilding, list, remove.", no_args_is_help=True
)


@pieces_app.command()
@grouped
def add(
    name: Annotated[str, typer.Argument(help="What you call the piece.")],
    technique: TechniqueName = "unknown",
    finish: FinishName = "unknown",
    bole: Annotated[str, typer.Option(help="Colour of the bole.")] = "",
    leaf: Annotated[str, typer.Option(help="Carat or colour of the leaf.")] = "",
    hangs_in: Annotated[str, typer.Option(help="Where it will hang, and in what light.")] = "",
    wish: Annotated[str, typer.Option(help="What the owner wants: bright, or aged in.")] = "",
    tolerance: Tolerance = USUAL_TOLERANCE,
    seen_from: Annotated[
        float | None, typer.Option(help="From how far it will be seen, in metres.")
    ] = None,
    laid: Annotated[
        list[str] | None,
        typer.Option(
            metavar="LAYER", help="What lies on the repair already; lowest first, repeat."
        ),
    ] = None,
    *,
    circumstances: TypedCircumstances,
    notes: Annotated[str, typer.Option(help="Whatever else should be known.")] = "",
    zone: ZoneName = "",
    logbook: NewLogbookPath = None,
) -> None:
    """Put a piece into the logbook, or with --zone another gold of one."""
    with open_logbook(logbook) as book:
        shelf = book.known_layers()
        beneath = tuple(find_layer(shelf, layer).name for layer in laid or ())
        piece = Piece(
            name.strip(),
            technique,
            finish,
            bole,
            leaf,
            hangs_in,
            wish,
            tolerance=tolerance,
            viewing_distance_m=seen_from,
            notes=notes,
            laid_before=beneath,
            zone=zone.strip(),
            **circumstances.of_piece(),
        )
        book.add_piece(piece)
    print_if_new(book)
    typer.echo(f"{piece.title} is in the logbook.")
    _print_cautions(piece)


@pieces_app.command()
@grouped
def gilding(
    name: Annotated[str, typer.Argument(help="The piece, as the logbook has it.")],
    technique: TechniqueName = "unknown",
    finish: FinishName = "unknown",
    bole: Annotated[str | None, typer.Option(help="Colour of the bole.")] = None,
    leaf: Annotated[str | None, typer.Option(help="Carat or colour of the leaf.")] = None,
    zone: ZoneName = "",
    call: Annotated[str | None, typer.Option(help="A name for this gold of the piece.")] = None,
    *,
    circumstances: TypedCircumstances,
    reason: Reason = "",
    logbook: LogbookPath = None,
) -> None:
    """Say what is known of a piece's gilding now; what stood there before is kept."""
    told = circumstances.of_piece() | typed.told(
        bole=bole,
        leaf=leaf,
        technique=typed.known(technique),
        finish=typed.known(finish),
        zone=call and call.strip(),
    )
    with open_logbook(logbook) as book:
        piece = book.piece(name, zone)
        if told:
            piece = replace(piece, **told)
            book.change_piece(name, piece, reason, zone)
    typer.echo(f"{piece.title}. {say_known_gilding(piece)}")
    _print_cautions(piece)


@pieces_app.command()
def remove(
    name: Annotated[str, typer.Argument(help="The piece, as the logbook has it.")],
    zone: ZoneName = "",
    reason: Reason = "",
    logbook: LogbookPath = None,
) -> None:
    """Take a piece out of sight; nothing is learned from its trials."""
    with open_logbook(logbook) as book:
        book.remove_piece(name, reason, zone)
    typer.echo(
        f"{name} is removed: 'tonematch logbook undo' brings it back, 'tonematch logbook empty' "
        "lets go of it for good."
    )


@pieces_app.command("list")
def list_pieces(logbook: LogbookPath = None) -> None:
    """List the pieces in the logbook, and where each stands."""
    with open_logbook(logbook) as book:
        standings = book.standings()
    if not standings:
        typer.echo("The logbook holds no pieces yet: 'tonematch pieces add' begins one.")
        return
    for standing in standings:
        piece = standing.piece
        invented = ", invented" if piece.invented and "invented" not in piece.name else ""
        typer.echo(
            f"{piece.title}{invented}: gilding {say_gilding(piece)}; tolerance "
            f"CIEDE2000 {piece.tolerance:g}; {standing.words}"
        )
    typer.echo(f"Pieces: {len({standing.piece.name for standing in standings})}.")


def _print_cautions(piece: Piece) -> None:
    """What is to be minded of the gilding, whatever is laid on it."""
    for caution in surface_cautions(piece.surface()):
        typer.echo(f"- {caution}")
