"""The logbook as a whole: out and in as one file, backed up and put back, checked."""

from pathlib import Path
from typing import Annotated

import typer

from tonematch.cli.files import refuse_taken
from tonematch.cli.options import LogbookPath, NewLogbookPath
from tonematch.cli.printing import print_if_new

Shrunken = Annotated[
    bool, typer.Option("--may-shrink", help="It is meant to hold less than it did.")
]

logbook_app = typer.Typer(
    help="The logbook as a whole: out and in, backup and restore, check.", no_args_is_help=True
)


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


@logbook_app.command("backup")
def back_up_logbook(
    into: Annotated[
        Path | None,
        typer.Argument(metavar="FOLDER", help="A folder, on another disk if there is one."),
    ] = None,
    shrunken: Shrunken = False,
    logbook: LogbookPath = None,
) -> None:
    """Copy the logbook and its photographs into a folder; without one, its rows beside it.

    The rows are copied beside it before the first change of each day as well. Of the copies in a
    folder the last 14 are kept, and any that holds more than the newest.
    """
    from tonematch.logbook.archive.restoring import back_up
    from tonematch.logbook.archive.words import say_backed_up
    from tonematch.logbook.store import open_logbook

    with open_logbook(logbook) as book:
        typer.echo(say_backed_up(back_up(book, into, shrunken=shrunken)))


@logbook_app.command("restore")
def restore_logbook(
    source: Annotated[
        Path | None,
        typer.Argument(
            metavar="COPY", help="A copy, or a folder of them; those beside the logbook if not."
        ),
    ] = None,
    shrunken: Shrunken = False,
    logbook: NewLogbookPath = None,
) -> None:
    """Put the logbook back from its newest copy, or from the one that is named.

    The logbook may be damaged or gone. As it was it is kept among the copies.
    """
    from tonematch.logbook.archive.restoring import put_back
    from tonematch.logbook.archive.words import say_put_back
    from tonematch.logbook.database.opening import usual_path

    path = usual_path() if logbook is None else logbook
    typer.echo(say_put_back(put_back(path, source, shrunken=shrunken)))


@logbook_app.command()
def check(
    mend: Annotated[bool, typer.Option(help="Sweep what a stopped program left over.")] = False,
    logbook: LogbookPath = None,
) -> None:
    """Look at every row and photograph, and at what is left over; exit status 2 if any is wrong.

    Rows are held against the newest copy, too: one that is gone, or reads otherwise without a
    change that says why, is told.
    """
    from tonematch.logbook.archive import checking
    from tonematch.logbook.archive.words import say_checked, say_mended
    from tonematch.logbook.store import open_logbook

    with open_logbook(logbook) as book:
        checked = checking.check_logbook(book)
        typer.echo(say_checked(checked))
        if mend:
            typer.echo(say_mended(checked, checking.mend(book, checked)))
    if checked.wrong:
        raise typer.Exit(2)
