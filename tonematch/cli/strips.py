"""Test strips: which to make, their sheet, and the photographed sheet read back into trials."""

from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from tonematch.cli import typed
from tonematch.cli.as_json import in_json
from tonematch.cli.grouped import grouped
from tonematch.cli.marking import TypedCard
from tonematch.cli.of_piece import asked_gap
from tonematch.cli.options import AsJson, LogbookPath, ZoneName, open_logbook
from tonematch.cli.printing import print_json, print_warnings, working
from tonematch.cli.typed import layers_named
from tonematch.errors import LogbookError, ReadingError, ShelfError, ValueRefused
from tonematch.in_words import say_added, say_strip, say_trial
from tonematch.logbook.core import KeptStrips, Piece, bench_name
from tonematch.logbook.layers_on_repair import ground_of
from tonematch.measure.area.areas import shape_area
from tonematch.photo.decode import load_photo
from tonematch.record.strip_reading import keep_sheet, layers_read, read_strips, strips_name
from tonematch.toning.layers.shelf import at_hand, layers_from_trials
from tonematch.toning.model.layer_model import fit_trials
from tonematch.toning.planning.gap import Workshop
from tonematch.toning.planning.ground import say_lying, say_no_strip
from tonematch.toning.planning.strips import choose_strips
from tonematch.wholefile import refuse_ending, refuse_taken, write_new

if TYPE_CHECKING:
    from tonematch.logbook.store import Logbook

strips_app = typer.Typer(
    help="Test strips: which to make, and the photographed sheet read back.", no_args_is_help=True
)


@strips_app.command()
def choose(
    piece: Annotated[str, typer.Argument(help="The piece, as the logbook has it.")],
    out: Annotated[Path, typer.Option(help="The HTML file to write: a sheet to print.")],
    start: Annotated[
        typed.Lab | None,
        typed.lab("--from", help="The repair now; of the last comparison unless given."),
    ] = None,
    to: Annotated[
        typed.Lab | None,
        typed.lab(help="What it should become; of the last comparison unless given."),
    ] = None,
    number: Annotated[int, typer.Option(help="How many strips at most, 1 to 20.")] = 12,
    zone: ZoneName = "",
    shelf: Annotated[
        str | None, typer.Option(help="Layers to try, NAME,NAME,...; those at hand unless given.")
    ] = None,
    logbook: LogbookPath = None,
    as_json: AsJson = False,
) -> None:
    """Choose the strips that teach most for a gap, and write the sheet to make them on.

    The best plans as stacks, read after every layer, and a strip of each layer without a trial.
    """
    from tonematch.record.strip_sheet import strip_sheet

    refuse_ending(out, "the sheet", ".html", ".htm")
    refuse_taken(out, "the sheet")
    with open_logbook(logbook) as book:
        job = book.piece(piece, zone)
        trials = book.trials()
        known = layers_from_trials(trials, book.shelf())
        layers = at_hand(known) if shelf is None else layers_named(shelf, known)
        ground = ground_of(job, [kept.trial for kept in book.kept_trials(piece, zone=zone)], known)
        with working(f"Learning from {len(trials)} trials and looking for strips"):
            model = fit_trials(trials, known, bench=bench_name())
            gap = asked_gap(job, book.last_comparison(piece, zone), start, to, model)
            strips = choose_strips(gap, Workshop(model, layers, ground.surface), ground, number)
        if not strips:
            raise ShelfError(say_no_strip(ground, job.title))
        write_new(out, strip_sheet(strips, ground, job.title).encode(), "the sheet")
        try:
            sheet = book.keep_strips(piece, strips, ground, zone)
        except LogbookError:
            out.unlink()  # a sheet that the logbook does not know could not be read back
            raise
    if as_json:
        told = [{"strip": place} | in_json(strip) for place, strip in enumerate(strips, start=1)]
        print_json({"sheet": sheet, "out": str(out), "ground": ground, "strips": told})
        return
    for lying in ground.laid:
        typer.echo(f"On every strip: {say_lying(lying)}.")
    for place, strip in enumerate(strips, start=1):
        typer.echo(f"{place}. {say_strip(strip)}")
    typer.echo(f"Sheet {sheet} of {job.title} is written to {out}.")


@strips_app.command()
@grouped
def read(
    photo: Annotated[Path, typer.Argument(help="A photograph of the whole sheet, card in place.")],
    piece: Annotated[str, typer.Option(help="The piece that the sheet was made for.")],
    frame: Annotated[
        typed.Corners,
        typed.corners(
            help="Corners of the black frame: the sheet's upper left first, then clockwise."
        ),
    ],
    zone: ZoneName = "",
    sheet: Annotated[
        int | None, typer.Option(help="Number of the sheet, where the piece has more than one.")
    ] = None,
    made: Annotated[
        typed.WholeNumbers | None,
        typed.whole_numbers(help="Strips on which the layer lies as it should; all unless given."),
    ] = None,
    layers: Annotated[
        typed.WholeNumbers | None,
        typed.whole_numbers(help="Layers of the stacks to read; the next one unless given."),
    ] = None,
    card: Annotated[
        typed.Shape | None, typed.shape(help="The card, where it lies elsewhere on the sheet.")
    ] = None,
    *,
    grey: TypedCard,
    made_on: Annotated[
        str | None, typed.day("--date", help="Of the trials; today unless given.")
    ] = None,
    logbook: LogbookPath = None,
    as_json: AsJson = False,
) -> None:
    """Read every strip of a photographed sheet, and keep them as trials: one photograph a layer."""
    value = grey.value()
    picture = load_photo(photo)
    with open_logbook(logbook) as book:
        job = book.piece(piece, zone)
        kept = _sheet(book, job, sheet)
        read_so_far = max(layers_read(book.trials(), job, kept))
        last = max(len(strip.steps) for strip in kept.strips)
        found = read_strips(
            picture,
            frame,
            kept.strips,
            kept.ground,
            value,
            card=None if card is None else shape_area("card", card, "card"),
            piece=strips_name(job, kept),
            date=made_on or date.today().isoformat(),
            made=made,
            layers=layers or (min(read_so_far + 1, last),),
        )
        if not found.trials:
            raise ReadingError(f"No strip of the sheet could be read. {found.refused[0]}")
        added = keep_sheet(book, job, kept, found, photo.read_bytes(), photo.name)
    warnings = [*found.refused, *dict.fromkeys([*picture.notes, *found.warnings])]
    if as_json:
        told = {"sheet": kept.id, "added": added, "trials": found.trials, "warnings": warnings}
        print_json(told)
        return
    for trial in found.trials:
        typer.echo(say_trial(trial))
    typer.echo(say_added(added, len(found.trials)))
    print_warnings(warnings)


def _sheet(book: "Logbook", piece: Piece, number: int | None) -> KeptStrips:
    """The one that is meant: a wrong one would give wrong trials, so none is guessed."""
    sheets = {sheet.id: sheet for sheet in book.strip_sheets(piece.name, piece.zone)}
    if not sheets:
        raise LogbookError(
            f"No sheet of strips was made for {piece.title}: make one with 'tonematch strips "
            "choose'."
        )
    if number is None and len(sheets) == 1:
        number = next(iter(sheets))
    if number not in sheets:
        told = "; ".join(
            f"sheet {sheet.id} of {sheet.made_at[:10]} with {len(sheet.strips)} strips"
            for sheet in sheets.values()
        )
        raise ValueRefused(f"Of {piece.title} there is {told}: say which with --sheet.")
    return sheets[number]
