"""The command line: parses, calls the rooms, prints. Nothing is computed here.

Exit status 0 when the job was done, 1 when it was done but could not be told, 2 for bad input with
one sentence on standard error, 130 when it was stopped by Ctrl-C.

Rooms are imported inside each command: comparing two areas need not wait for the model's library.
"""

import sys
from collections.abc import Sequence

import typer
from typer.main import get_command

from tonematch.cli import (
    cards,
    keeping,
    logbook,
    measuring,
    pieces,
    recipes,
    shelf,
    strips,
    toning,
    trials,
)
from tonematch.cli.printing import unfailing_output
from tonematch.cli.refusals import say_refusal
from tonematch.errors import TonematchError
from tonematch.logbook.photo_folder import usual_folder

app = typer.Typer(
    name="tonematch",
    help="Measure new gilding against old, and plan the toning that makes them one.",
    epilog=f"\b\nThe logbook lies, with its photographs beside it, in\n  {usual_folder()}",
    no_args_is_help=True,
    add_completion=False,
    pretty_exceptions_enable=False,
    rich_markup_mode=None,
)
for command in (
    logbook.demo,
    measuring.read,
    measuring.compare,
    measuring.lustre,
    measuring.profile,
    cards.cards,
    toning.predict,
    toning.suggest,
    toning.leaf,
    toning.check_model,
    toning.doubts,
    logbook.cautions,
    logbook.record,
    logbook.heading,
    logbook.bench,
):
    app.command()(command)
app.add_typer(trials.trials_app, name="trials")
app.add_typer(shelf.shelf_app, name="shelf")
app.add_typer(strips.strips_app, name="strips")
app.add_typer(pieces.pieces_app, name="pieces")
app.add_typer(recipes.recipes_app, name="recipes")
app.add_typer(keeping.logbook_app, name="logbook")
COMMANDS = get_command(app)


def main(arguments: Sequence[str] | None = None) -> None:
    """Run a command (this process's by default); a fault is one sentence on standard error."""
    with unfailing_output() as out:
        status = _run(list(sys.argv[1:] if arguments is None else arguments))
        out.flush()
        if out.fault is not None and status == 0:
            status = 1
            if not isinstance(out.fault, BrokenPipeError):  # a reader that had enough
                typer.echo(
                    "What the command had to do is done, but what it says could not be written "
                    f"({out.fault.strerror}): send it elsewhere.",
                    err=True,
                )
    sys.exit(status)


def _run(arguments: list[str]) -> int:
    try:
        status = COMMANDS.main(arguments, "tonematch", standalone_mode=False)
    except typer.Abort:
        status = 130
    except (TonematchError, typer.TyperException, MemoryError, UnicodeEncodeError) as error:
        if str(error).startswith("Usage:"):  # a command with others below it, typed alone
            typer.echo(str(error))
            return 0
        typer.echo(say_refusal(error), err=True)
        return 2
    if status == 130:  # by Ctrl-C, or the end of the input where something was asked
        typer.echo("Stopped before the end.", err=True)
    return status if isinstance(status, int) else 0
