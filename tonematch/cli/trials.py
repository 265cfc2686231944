"""Trials: bring in, write out, list, put right, leave out, and those that look mistyped."""

from dataclasses import dataclass, replace
from itertools import zip_longest
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from tonematch.cli import typed
from tonematch.cli.grouped import grouped
from tonematch.cli.options import (
    AsJson,
    FinishName,
    LogbookPath,
    NewLogbookPath,
    Reason,
    TechniqueName,
    TrialFile,
    open_logbook,
)
from tonematch.cli.printing import print_if_new, print_json, working
from tonematch.errors import LogbookError, ValueRefused
from tonematch.in_words import say_added, say_trial
from tonematch.logbook.core import KeptTrial
from tonematch.logbook.layers_on_repair import put_trial_right
from tonematch.measure.colour.difference import NEAR
from tonematch.toning.core import Layer, Trial
from tonematch.toning.layers.shelf import find_layer, layers_from_trials, load_shelf
from tonematch.toning.model.layer_model import fit_trials
from tonematch.wholefile import write_new

if TYPE_CHECKING:
    from tonematch.logbook.store import Logbook
    from tonematch.logbook.stores.likeness import Found

trials_app = typer.Typer(
    help="Trials in the logbook: bring in, write out, list, put right, leave out.",
    no_args_is_help=True,
)

Number = Annotated[int, typer.Argument(help="The trial's number, as 'trials list' prints it.")]
OnlyPiece = Annotated[str | None, typer.Option(help="Only this piece.")]
OnlyZone = Annotated[str, typer.Option(help="Only this gold of the piece.")]
OnlyLayer = Annotated[str | None, typer.Option(help="Only this layer.")]


@trials_app.command("import")
def import_trials(
    file: Annotated[Path, typer.Argument(help="Trials as CSV.")], logbook: NewLogbookPath = None
) -> None:
    """Bring trials from a CSV file into the logbook.

    The file is taken whole or not at all. Its header: piece, date, technique, finish, step, layer,
    kind, strength, coats, before_L, before_a, before_b, after_L, after_a, after_b, note; layer,
    strength and the two colours are required. Columns zone, before_lustre and after_lustre (in
    stops), temperature and humidity of the workshop (in °C and %) and the bench where it was logged
    may follow. Strength 1 is the full-strength mix as the shelf defines it; a layer that is not on
    the shelf needs its kind: seal, glaze, wash, dust, wax or rub.
    What took a layer back is a layer "NAME, taken back" of kind lift.
    """
    from tonematch.logbook.trial_csv import read_trials

    with open_logbook(logbook) as book:
        found = read_trials(file, book.shelf())
        added = book.add_trials(found)
    print_if_new(book)
    typer.echo(say_added(added, len(found)))


@trials_app.command("export")
def export_trials(
    file: Annotated[Path, typer.Argument(help="A CSV file to write.")],
    logbook: LogbookPath = None,
    piece: OnlyPiece = None,
    zone: OnlyZone = "",
    layer: OnlyLayer = None,
) -> None:
    """Write the trials that are learned from to a CSV file."""
    from tonematch.logbook.trial_csv import trials_table

    with open_logbook(logbook) as book:
        found = book.trials(piece, layer and _laid(book, layer), zone)
    write_new(file, trials_table(found).encode(), "the file of trials")
    typer.echo(f"{len(found)} trials written to {file}.")


@dataclass(frozen=True)
class LookedFor:
    """What of a trial is looked for, beside its piece and layer."""

    like: Annotated[
        typed.Lab | None, typed.lab(help="Those that looked like this before or after.")
    ] = None
    before: Annotated[typed.Lab | None, typed.lab(help="Those laid on what looked so.")] = None
    after: Annotated[typed.Lab | None, typed.lab(help="Those that came out like this.")] = None
    words: Annotated[
        str, typer.Option(help="Words in the layer, its kind, piece, zone, bole or note.")
    ] = ""
    technique: TechniqueName | None = None
    finish: FinishName | None = None
    since: Annotated[str | None, typed.day(help="Those of this day and later.")] = None
    count: Annotated[
        int | None,
        typer.Option(
            metavar="NUMBER",
            min=1,
            help="At most so many: the nearest in colour (10), or the newest (500).",
        ),
    ] = None


@trials_app.command("list")
@grouped
def list_trials(
    logbook: LogbookPath = None,
    piece: OnlyPiece = None,
    zone: OnlyZone = "",
    layer: OnlyLayer = None,
    *,
    looked_for: LookedFor,
) -> None:
    """List the trials in the logbook with their numbers; those left out, too.

    By a colour, too (D50, 2 degree): the nearest first, each with its CIEDE2000.
    """
    from tonematch.logbook.stores.likeness import Asked

    with open_logbook(logbook) as book:
        named = layer and _laid(book, layer)
        asked = Asked(piece=piece, zone=zone, layer=named, **vars(looked_for))
        found = book.find_trials(asked)
        corrected = book.corrected_trials()
    for kept, away in zip_longest(found.trials, found.away):
        told = "" if away is None else f"CIEDE2000 {away:.1f}: "
        typer.echo(told + say_kept_trial(kept, kept.id in corrected))
    colorimetry = "; CIELAB for illuminant D50, 2 degree observer" if found.trials else ""
    typer.echo(f"{say_found(found)}{colorimetry}.")


def _laid(book: "Logbook", layer: str) -> str:
    """The name of a layer that the shelf or a trial knows, so that a misspelt one is told."""
    return find_layer(book.known_layers(left_out=True), layer).name


@trials_app.command("put-right")
def put_right(
    number: Number,
    layer: Annotated[str | None, typer.Option(help="The layer that was laid.")] = None,
    strength: Annotated[
        float | None, typer.Option(help="Its strength; 1 is the full-strength mix.")
    ] = None,
    coats: Annotated[int | None, typer.Option(help="How many coats.")] = None,
    before: Annotated[
        typed.Lab | None, typed.lab(help="The surface before it (D50, 2 degree).")
    ] = None,
    after: Annotated[
        typed.Lab | None, typed.lab(help="The surface after it (D50, 2 degree).")
    ] = None,
    lustre_before: Annotated[float | None, typer.Option(help="Lustre before it, in stops.")] = None,
    lustre_after: Annotated[float | None, typer.Option(help="Lustre after it, in stops.")] = None,
    reason: Reason = "",
    logbook: LogbookPath = None,
) -> None:
    """Put right what was mistyped in a trial; what it said before is kept."""
    amounts = typed.told(strength=strength, coats=coats, before=before)
    found = typed.told(after=after, before_lustre=lustre_before, after_lustre=lustre_after)
    if layer is None and not amounts | found:
        raise ValueRefused(
            "Nothing was said to put right: give --layer, --strength, --coats, --before, --after, "
            "--lustre-before or --lustre-after."
        )
    with open_logbook(logbook) as book:
        kept = book.kept_trial(number)
        shelf = book.known_layers()
        if layer is not None:
            named = find_layer(shelf, layer)
            amounts |= {"layer": named.name, "kind": named.kind}
        trial = replace(kept.trial, application=replace(kept.trial.application, **amounts), **found)
        put_trial_right(book, kept, trial, shelf, reason)
        typer.echo(say_kept_trial(book.kept_trial(number), corrected=True))
    typer.echo(f"What it said before is kept: 'tonematch trials put-back {number}' undoes this.")


@trials_app.command("put-back")
def put_back(number: Number, reason: Reason = "", logbook: LogbookPath = None) -> None:
    """Take back the last time that a trial was put right."""
    with open_logbook(logbook) as book:
        book.put_back_trial(number, reason)
        typer.echo(say_kept_trial(book.kept_trial(number), number in book.corrected_trials()))


@trials_app.command("leave-out")
def leave_out(number: Number, reason: Reason = "", logbook: LogbookPath = None) -> None:
    """Learn nothing from a trial any more; it stays in the logbook."""
    with open_logbook(logbook) as book:
        book.exclude_trial(number, reason)
    typer.echo(
        f"Nothing is learned from trial {number} any more: 'tonematch trials learn-again {number}' "
        "undoes this."
    )


@trials_app.command("learn-again")
def learn_again(number: Number, reason: Reason = "", logbook: LogbookPath = None) -> None:
    """Learn again from a trial that was left out."""
    with open_logbook(logbook) as book:
        book.include_trial(number, reason)
    typer.echo(f"Trial {number} is learned from again.")


def doubts(trials: TrialFile = None, logbook: LogbookPath = None, as_json: AsJson = False) -> None:
    """Point out trials that look mistyped, with the likely slip."""
    from tonematch.toning.validation.outliers import find_outliers

    known, entries = learned_from(trials, logbook)
    with working(f"Holding each of {len(known)} trials against the others"):
        found = find_outliers(fit_trials(known, entries), known)
    # In a file a trial is known by its row, in the logbook by its number.
    place, numbers = "row", list(range(1, len(known) + 1))
    if trials is None:
        with open_logbook(logbook) as book:
            place = "trial"
            numbers = [kept.id for kept in book.kept_trials() if not kept.excluded]
    told = [(numbers[doubt.index], doubt.words) for doubt in found]
    if as_json:
        print_json({"doubts": [{place: number, "words": words} for number, words in told]})
        return
    for number, words in told:
        typer.echo(f"{place.capitalize()} {number}: {words}")
    typer.echo(f"{len(found)} of {len(known)} trials look mistyped.")
    if found and trials is None:
        typer.echo("'tonematch trials put-right' and 'trials leave-out' take their numbers.")


def learned_from(file: Path | None, logbook: str | None) -> tuple[list[Trial], dict[str, Layer]]:
    """Trials and shelf, of a file or else of a logbook that holds any."""
    trials, shelf = trials_and_shelf(file, logbook)
    if not trials:
        raise LogbookError(
            "The logbook holds no trial to learn from yet: lay a layer and photograph it, or give "
            "a file of trials with --trials."
        )
    return trials, shelf


def trials_and_shelf(
    file: Path | None, logbook: str | None
) -> tuple[list[Trial], dict[str, Layer]]:
    """Trials and shelf, of a file or else of a logbook."""
    if file is not None and logbook is not None:
        raise ValueRefused("Trials come from a file or from a logbook: leave out one of the two.")
    if file is not None:
        from tonematch.logbook.trial_csv import read_trials

        shelf = load_shelf()
        trials = read_trials(file, shelf)
    else:
        with open_logbook(logbook) as book:
            trials, shelf = book.trials(), dict(book.shelf())
    return trials, layers_from_trials(trials, shelf)


def say_kept_trial(kept: KeptTrial, corrected: bool) -> str:
    """A trial of the logbook in a line, with its number and what was done about it."""
    states = ["put right"] * corrected + ["left out"] * kept.excluded
    told = f" ({', '.join(states)})" if states else ""
    return f"Trial {kept.id}{told}, {say_trial(kept.trial)}"


def say_found(found: "Found") -> str:
    """How many trials are as they were asked for, and which of them are shown."""
    shown, number = len(found.trials), "1 trial" if found.met == 1 else f"{found.met} trials"
    if not found.of:
        return "The logbook holds no trials yet: lay a layer and photograph it first"
    if not shown:
        return f"No trial of {found.of} is like that: ask for fewer things at once"
    if not found.met:
        return (
            f"Nothing that you laid looked like this: the nearest is CIEDE2000 {found.away[0]:.1f} "
            "away"
        )
    if found.away:
        some = f", {shown} shown" if shown < found.met else ""
        return f"{number} within CIEDE2000 {NEAR:g}{some}, the nearest first"
    some = f", the newest {shown} shown" if shown < found.met else ""
    left_out = sum(kept.excluded for kept in found.trials)
    return f"{number}{some}{f', {left_out} of them left out' if left_out else ''}"
