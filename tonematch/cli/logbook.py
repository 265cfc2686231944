"""Commands around the job: demo, cautions, record, bench."""

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


def cautions() -> None:
    """Say what to mind through the whole job, to read before it and to print."""
    from tonematch.measure.words import capital
    from tonematch.toning.layers.rule_table import load_job_cautions

    for caution in load_job_cautions():
        typer.echo(f"{capital(caution.head)}. {caution.sentence}")


def record(
    piece: Annotated[str, typer.Argument(help="Name of the piece.")],
    out: Annotated[Path, typer.Option(help="The HTML file to write.")],
    logbook: LogbookPath = None,
) -> None:
    """Write a piece's record for its owner."""
    from tonematch.logbook.store import open_logbook
    from tonematch.record.document import write_record

    with open_logbook(logbook) as book:
        histories = book.histories(piece)
    typer.echo(f"The record of {piece} is written to {write_record(histories, out)}.")


def bench(
    logbook: NewLogbookPath = None,
    port: Annotated[
        int, typer.Option(min=0, max=65535, help="Port of this machine; any free one unless given.")
    ] = 0,
    browser: Annotated[bool, typer.Option(help="Open it in the browser.")] = True,
    share: Annotated[
        bool,
        typer.Option(
            "--share",
            help="Open it to phones in the home network for a day, by a code to scan or a "
            "passcode.",
        ),
    ] = False,
    watch: Annotated[
        Path | None, typer.Option(help="A folder whose new pictures are offered in the app.")
    ] = None,
) -> None:
    """Open the app in a browser on this machine."""
    from tonematch.screens.server.run import run_bench

    try:
        run_bench(logbook, port, in_browser=browser, say=typer.echo, share=share, watch=watch)
    except KeyboardInterrupt:
        typer.echo("The bench is closed.")
