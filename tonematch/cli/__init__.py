"""The command line: parses, calls the rooms, prints. Nothing is computed here.

Exit status 0 when the job was done, 2 for bad input with one sentence on standard error, 130 when
it was stopped by Ctrl-C.

Rooms are imported inside each command: comparing two areas need not wait for the model's library.
"""

import sys
from collections.abc import Sequence

import typer
from typer.main import get_command

from tonematch.cli import logbook, measuring, pieces, shelf, strips, toning, trials
from tonematch.cli.refusals import one_line, say_usage
from tonematch.errors import TonematchError

app = typer.Typer(
    name="tonematch",
    help="Measure new gilding against old, and plan the toning that makes them one.",
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
    toning.predict,
    toning.suggest,
    toning.leaf,
    toning.check_model,
    toning.doubts,
    logbook.record,
    logbook.bench,
):
    app.command()(command)
app.add_typer(trials.trials_app, name="trials")
app.add_typer(shelf.shelf_app, name="shelf")
app.add_typer(strips.strips_app, name="strips")
app.add_typer(pieces.pieces_app, name="pieces")


def main(arguments: Sequence[str] | None = None) -> None:
    """Run a command; every fault is one sentence on standard error.

    Parameters
    ----------
    arguments : sequence of str, optional
        Those of this process unless given.
    """
    sys.exit(_run(list(sys.argv[1:] if arguments is None else arguments)))


def _run(arguments: list[str]) -> int:
    try:
        status = get_command(app).main(arguments, "tonematch", standalone_mode=False)
    except TonematchError as error:
        typer.echo(one_line(str(error)), err=True)
        return 2
    except UnicodeEncodeError:
        typer.echo("What was typed holds a character that no text has: type it anew.", err=True)
        return 2
    except typer.TyperException as error:
        if error.message.startswith("Usage:"):  # a command with others below it, typed alone
            typer.echo(error.message)
            return 0
        typer.echo(say_usage(error), err=True)
        return 2
    except typer.Abort:
        status = 130
    if status == 130:  # by Ctrl-C, or the end of the input where something was asked
        typer.echo("Stopped before the end.", err=True)
    return status if isinstance(status, int) else 0
