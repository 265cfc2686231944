"""The logbook as a whole: out and in as one file, backed up and put back, checked."""

from pathlib import Path
from typing import Annotated

import typer

from tonematch.cli.options import LogbookPath, NewLogbookPath, Reason, open_logbook
from tonematch.cli.printing import print_if_new
from tonematch.wholefile import refuse_taken

Shrunken = Annotated[
    bool, typer.Option("--may-shrink", help="It is meant to hold less than it did.")
]

logbook_app = typer.Typer(
    help="The logbook as a whole: out and in, backup and restore, undo, check.",
    no_args_is_help=True,
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
    from tonematch.logbook.database.opening import place_of

    path = place_of(logbook).file
    typer.echo(say_put_back(put_back(path, source, shrunken=shrunken)))


@logbook_app.command()
def undo(
    number: Annotated[
        int | None, typer.Argument(help="Another change than the last, as --list numbers it.")
    ] = None,
    show: Annotated[bool, typer.Option("--list", help="Only list what can be undone.")] = False,
    count: Annotated[
        int, typer.Option(metavar="NUMBER", min=1, help="How many to list, the newest first.")
    ] = 10,
    reason: Reason = "",
    logbook: LogbookPath = None,
) -> None:
    """Undo the last thing that was altered, put right, left out, retired or removed.

    It leaves a trace like every change: what, when, and at which bench (TONEMATCH_BENCH names it,
    else the machine's name).
    """
    from tonematch.logbook.archive.words import say_act

    with open_logbook(logbook) as book:
        if not show:
            typer.echo(f"Undone: {say_act(book.undo(number, reason))}.")
            return
        acts = book.acts(count)
    for act in acts:
        typer.echo(f"{act.number}: {say_act(act)}")
    typer.echo(
        "'tonematch logbook undo' undoes the first of these." if acts else "Nothing to undo."
    )


@logbook_app.command("empty")
def empty_logbook(
    sure: Annotated[bool, typer.Option("--yes", help="Do it, and do not only say what.")] = False,
    logbook: LogbookPath = None,
) -> None:
    """Let go for good of pieces and recipes that were removed, with all that belongs to them."""
    from tonematch.logbook.archive.emptying import empty, removed_rows
    from tonematch.logbook.archive.words import say_emptied
    from tonematch.logbook.database.copies import say_counts

    with open_logbook(logbook) as book:
        with book.reading() as session:
            removed = say_counts(removed_rows(session))
        if sure and removed:
            typer.echo(say_emptied(empty(book)))
            return
    typer.echo(f"To be emptied (--yes): {removed}." if removed else "Nothing was removed.")


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

    with open_logbook(logbook) as book:
        checked = checking.check_logbook(book)
        typer.echo(say_checked(checked))
        if mend:
            typer.echo(say_mended(checked, checking.mend(book, checked)))
    if checked.wrong:
        raise typer.Exit(2)
