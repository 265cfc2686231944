"""The commands, their help in the words of the bench, and how each of them ends."""

from typing import Any

import typer
from typer.main import get_command

from tonematch.cli import (
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
    logbook.cards,
    toning.predict,
    toning.suggest,
    toning.leaf,
    toning.check_model,
    trials.doubts,
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


def _list_whole_sentences(command: Any) -> None:
    """In the list of commands each says all that it does, where the parser would cut it short."""
    command.short_help = command.help.partition("\n\n")[0]
    for inner in getattr(command, "commands", {}).values():
        _list_whole_sentences(inner)


_list_whole_sentences(COMMANDS)


def run_and_tell(arguments: list[str]) -> int:
    """Run a command to its exit status, also where what it says cannot be written."""
    with unfailing_output() as out:
        status = run(arguments)
        out.flush()
        if out.fault is not None and status == 0:
            status = 1
            if not isinstance(out.fault, BrokenPipeError):  # a reader that had enough
                typer.echo(
                    "What the command had to do is done, but what it says could not be written "
                    f"({out.fault.strerror}): send it elsewhere.",
                    err=True,
                )
    return status


def run(arguments: list[str]) -> int:
    """Run a command to its exit status; a fault is one sentence on standard error."""
    try:
        status = COMMANDS.main(arguments, "tonematch", standalone_mode=False)
    except typer.Abort:
        status = 130
    except (TonematchError, typer.TyperException, MemoryError, UnicodeEncodeError) as error:
        if str(error).startswith("Usage:"):  # a command with others below it, typed alone
            typer.echo(str(error))
            return 0
        typer.echo(say_refusal(error, _named_in(arguments)), err=True)
        return 2
    if status == 130:  # by Ctrl-C, or the end of the input where something was asked
        typer.echo("Stopped before the end.", err=True)
    return status if isinstance(status, int) else 0


def _named_in(arguments: list[str]) -> str:
    """The command that arguments begin with, and those above it: ``tonematch trials list``."""
    words, below = ["tonematch"], getattr(COMMANDS, "commands", {})
    for word in arguments:
        if word not in below:
            break
        words.append(word)
        below = getattr(below[word], "commands", {})
    return " ".join(words)
