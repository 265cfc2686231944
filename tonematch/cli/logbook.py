"""Commands around the job: demo, cautions, record, heading, cards, bench."""

from dataclasses import asdict, dataclass, replace
from pathlib import Path
from typing import Annotated, Literal

import typer

from tonematch.cli import typed
from tonematch.cli.grouped import grouped
from tonematch.cli.options import AsJson, LogbookPath, NewLogbookPath, ZoneName
from tonematch.cli.printing import print_json
from tonematch.errors import ValueRefused
from tonematch.logbook.letterhead import HEADING, Letterhead, keep_letterhead, logo_of
from tonematch.logbook.own_cards import OWN_CARDS, keep_cards
from tonematch.measure.words import capital
from tonematch.toning.layers.rule_table import load_job_cautions
from tonematch.toning.layers.shelf import find_layer, layers_from_trials
from tonematch.wholefile import read_whole

Paper = Literal["A4", "Letter"]


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
    for caution in load_job_cautions():
        typer.echo(f"{capital(caution.head)}. {caution.sentence}")


@dataclass(frozen=True)
class ToldOfRepair:
    """What was typed for the record of one gold; None is not told now."""

    damage: Annotated[str | None, typer.Option(help="What was damaged.")] = None
    condition: Annotated[str | None, typer.Option(help="In what condition it came.")] = None
    extent: Annotated[
        str | None, typer.Option(help="Where the repair lies, and how large it is.")
    ] = None


@grouped
def record(
    piece: Annotated[str, typer.Argument(help="Name of the piece.")],
    out: Annotated[Path, typer.Option(help="The file to write, a PDF or HTML by its name.")],
    *,
    of_repair: ToldOfRepair,
    zone: ZoneName = "",
    by: Annotated[str | None, typer.Option(help="Who did the work.")] = None,
    maker: Annotated[
        list[typed.Maker] | None, typed.maker(help="Maker and batch of a layer; repeat.")
    ] = None,
    logbook: LogbookPath = None,
) -> None:
    """Write a piece's record for its owner; what is told of it here is kept with the piece."""
    from tonematch.logbook.store import open_logbook
    from tonematch.record.document import write_record

    told = typed.told(**asdict(of_repair))
    with open_logbook(logbook) as book:
        known = book.piece(piece, zone) if told or zone else book.pieces(piece)[0]
        shelf = layers_from_trials(book.trials(), book.shelf()) if maker else {}
        said = known.with_makers({find_layer(shelf, name).name: of for name, of in maker or ()})
        said = replace(said, **told, done_by=known.done_by if by is None else by)
        if said != known:
            book.change_piece(piece, said, zone=known.zone)
        histories = book.histories(piece)
    typer.echo(f"The record of {piece} is written to {write_record(histories, out)}.")


def heading(
    line: Annotated[
        list[str] | None,
        typer.Option(metavar="WORDS", help="A line of it: a name, an address; repeat."),
    ] = None,
    logo: Annotated[Path | None, typer.Option(help="A picture, PNG or JPEG.")] = None,
    paper: Annotated[Paper | None, typer.Option(help="What a PDF is laid out for.")] = None,
    nothing: Annotated[bool, typer.Option("--nothing", help="Take back all of it first.")] = False,
) -> None:
    """Say once what stands above every record; or show what is kept."""
    known = said = Letterhead() if nothing else HEADING.value()
    said = replace(said, words="\n".join(line)) if line else said
    said = replace(said, paper=paper) if paper else said
    if logo is not None:
        try:
            said = replace(said, logo=logo_of(read_whole(logo)))
        except OSError as error:
            raise ValueRefused(
                f"{logo} cannot be read ({error.strerror}): give the path of a picture."
            ) from error
    if nothing or said != known:
        keep_letterhead(said)
        typer.echo(f"Kept in {HEADING.path}.")
    for words in said.lines:
        typer.echo(words)
    typer.echo(f"{'A' if said.logo else 'No'} logo; PDFs are laid out for {said.paper} paper.")


def cards(
    white: Annotated[
        float | None, typer.Option(help="What your white card reflects, 0 to 1.")
    ] = None,
    grey: Annotated[float | None, typer.Option(help="Likewise, the grey card.")] = None,
    grey_lab: Annotated[
        typed.Numbers | None, typed.three_numbers(help="Or its measured colour (D50, 2 degree).")
    ] = None,
    black: Annotated[float | None, typer.Option(help="Likewise, the black card.")] = None,
    as_json: AsJson = False,
) -> None:
    """Say once what your white, grey and black cards reflect; or show what is kept."""
    if grey is not None and grey_lab is not None:
        raise ValueRefused("The grey card's value is given twice: leave out one of the two.")
    changes = typed.told(white=white, grey=grey_lab if grey is None else grey, black=black)
    known = keep_cards(changes) if changes else OWN_CARDS.value()
    if as_json:
        print_json(known.values)
        return
    for name, value in known.values.items():
        typer.echo(f"{name} card: {value.words}")
    if known.stated:
        typer.echo(f"Kept in {OWN_CARDS.path}.")


def bench(
    logbook: NewLogbookPath = None,
    port: Annotated[
        int,
        typer.Option(
            metavar="NUMBER",
            min=0,
            max=65535,
            help="Port of this machine; any free one unless given.",
        ),
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
