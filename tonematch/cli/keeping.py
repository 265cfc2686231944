"""The logbook as a whole: out and in as one file."""

from pathlib import Path
from typing import Annotated

import typer

from tonematch.cli.files import refuse_taken
from tonematch.cli.options import LogbookPath, NewLogbookPath
from tonematch.cli.printing import print_if_new

logbook_app = typer.Typer(help="The logbook as a whole: out and in.", no_args_is_help=True)


@logbook_app.command("export")
def export_logbook(
    file: Annotated[Path, typer.Argument(help="A zip file to write.")],
    piece: Annotated[str | None, typer.Option(help="Only this piece, and your own shelf.")] = None,
    logbook: LogbookPath = None,
) -> None:
    """Write all rows and original photographs into one file, which tells what it holds."""
    from tonematch.logbook.archive.words import say_written
    from tonematch.logbook.archive.writing import write_archive
    from tonematch.logbook.store import open_logbook

    refuse_taken(file, "the archive")
    with open_logbook(logbook) as book:
        written = write_archive(book, file, piece)
    typer.echo(say_written(written, file))


@logbook_app.command("import")
def import_logbook(
    file: Annotated[Path, typer.Argument(help="A zip file that 'logbook export' wrote.")],
    logbook: NewLogbookPath = None,
) -> None:
    """Bring in what such a file holds and this logbook does not, or nothing where it is not sound.

    A row that is here already, by what it said when it was first written, stays as it is here. A
    piece, or a layer of your own shelf, is the same where it has the same name.
    """
    from tonematch.logbook.archive.bringing_in import bring_in
    from tonematch.logbook.archive.words import say_brought_in
    from tonematch.logbook.store import open_logbook

    with open_logbook(logbook) as book:
        brought = bring_in(book, file)
    print_if_new(book)
    typer.echo(say_brought_in(brought, file))
