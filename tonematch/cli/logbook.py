"""Commands around the logbook: demo, record, bench."""

from pathlib import Path
from typing import Annotated

import typer

from tonematch.cli.options import LogbookPath, NewLogbookPath


def demo(
    into: Annotated[
        Path | None, typer.Option(help="A new or empty folder for what the demonstration makes.")
    ] = None,
) -> None:
    """Run the whole job on the bundled photographs (invented)."""
    from tonematch.demonstration import run_demonstration

    run_demonstration(into, typer.echo)


def record(
    piece: Annotated[str, typer.Argument(help="Name of the piece.")],
    out: Annotated[Path, typer.Option(help="The HTML file to write.")],
    logbook: LogbookPath = None,
) -> None:
    """Write a piece's record for its owner."""
    from tonematch.logbook.store import open_logbook
    from tonematch.record.document import write_record

    with open_logbook(logbook) as book:
        history = book.history(piece)
    typer.echo(f"The record of {piece} is written to {write_record(history, out)}.")


def bench(logbook: NewLogbookPath = None) -> None:
    """Open the app in a browser on this machine."""
    from tonematch.screens.settings import run_bench

    typer.echo("The bench opens in your browser. Stop it here with Ctrl and C.")
    raise typer.Exit(run_bench(logbook))
