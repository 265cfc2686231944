"""Commands around the logbook: demo, trials, record, bench."""

from pathlib import Path
from typing import Annotated

import typer

from tonematch.cli.files import refuse_taken
from tonematch.cli.options import LogbookPath

trials_app = typer.Typer(
    help="Trials in the logbook: take in, hand out, list.", no_args_is_help=True
)


def demo(
    into: Annotated[
        Path | None, typer.Option(help="A new or empty folder for what the demonstration makes.")
    ] = None,
) -> None:
    """Run the whole job on the bundled photographs (invented)."""
    from tonematch.demonstration import run_demonstration

    run_demonstration(into, typer.echo)


@trials_app.command("import")
def import_trials(
    file: Annotated[Path, typer.Argument(help="Trials as CSV.")], logbook: LogbookPath = None
) -> None:
    """Take trials from a CSV file into the logbook."""
    from tonematch.logbook.store import open_logbook
    from tonematch.logbook.trial_csv import read_trials

    with open_logbook(logbook) as book:
        found = read_trials(file, book.shelf())
        added = book.add_trials(found)
    typer.echo(f"{added} of {len(found)} trials added; the others were in the logbook already.")


@trials_app.command("export")
def export_trials(
    file: Annotated[Path, typer.Argument(help="A CSV file to write.")],
    logbook: LogbookPath = None,
    piece: Annotated[str | None, typer.Option(help="Only this piece.")] = None,
    layer: Annotated[str | None, typer.Option(help="Only this layer.")] = None,
) -> None:
    """Write trials from the logbook to a CSV file."""
    from tonematch.logbook.store import open_logbook
    from tonematch.logbook.trial_csv import write_trials

    refuse_taken(file, "the file of trials")
    with open_logbook(logbook) as book:
        found = book.trials(piece, layer)
    write_trials(found, file)
    typer.echo(f"{len(found)} trials written to {file}.")


@trials_app.command("list")
def list_trials(
    logbook: LogbookPath = None,
    piece: Annotated[str | None, typer.Option(help="Only this piece.")] = None,
    layer: Annotated[str | None, typer.Option(help="Only this layer.")] = None,
) -> None:
    """List the trials in the logbook."""
    from tonematch.forms import say_trial
    from tonematch.logbook.store import open_logbook

    with open_logbook(logbook) as book:
        found = book.trials(piece, layer)
    for trial in found:
        typer.echo(say_trial(trial))
    typer.echo(f"{len(found)} trials; CIELAB for illuminant D50, 2 degree observer.")


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


def bench(logbook: LogbookPath = None) -> None:
    """Open the app in a browser on this machine."""
    from tonematch.screens.settings import run_bench

    raise typer.Exit(run_bench(logbook))
