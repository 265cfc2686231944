"""The command line: parses, calls the rooms, prints. Nothing is computed here.

Exit status 0 when the job was done, 2 for bad input with one sentence on standard error.
"""

import json
import sys
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any, cast

import typer
from typer.main import get_command

from tonematch.errors import AreaError, CardError, TonematchError, ValueRefused

if TYPE_CHECKING:
    from tonematch.measure.areas import Box
    from tonematch.measure.chart import Chart
    from tonematch.measure.core import Area, CardValue
    from tonematch.measure.marked import Marked
    from tonematch.photo.core import Photo
    from tonematch.toning.chain import Coat
    from tonematch.toning.core import Finish, Layer, Technique, Trial

# Rooms are imported inside each command: comparing two areas need not wait for the model's library.

app = typer.Typer(
    name="tonematch",
    help="Measure new gilding against old, and plan the toning that makes them one.",
    no_args_is_help=True,
    add_completion=False,
    pretty_exceptions_enable=False,
    rich_markup_mode=None,
)
trials_app = typer.Typer(
    help="Trials in the logbook: take in, hand out, list.", no_args_is_help=True
)
app.add_typer(trials_app, name="trials")

BOX = "x,y,w,h in pixels of the upright picture"
AsJson = Annotated[bool, typer.Option("--json", help="Print one JSON object.")]
CardBox = Annotated[str, typer.Option("--card", help=f"The grey card: {BOX}.")]
Reflectance = Annotated[
    float | None, typer.Option(help="What the card reflects, 0 to 1; 0.18 unless given.")
]
CardLab = Annotated[str | None, typer.Option(help="Or the card's measured L*,a*,b* (D50, 2).")]
Neutral = Annotated[
    list[str] | None,
    typer.Option(help=f"BOX=REFLECTANCE of a further neutral, BOX as {BOX}; repeat for more."),
]
OtherCard = Annotated[
    list[str] | None,
    typer.Option(help="The same card elsewhere in the picture, for uneven light; repeat for more."),
]
EncodingName = Annotated[
    str, typer.Option(help="profile, or linear to take the file's values as linear light.")
]
FindChart = Annotated[bool, typer.Option("--chart", help="Find a 24-patch chart and use it.")]
Flat = Annotated[
    Path | None, typer.Option(help="A picture of a plain sheet in the same light and place.")
]
SavedProfile = Annotated[
    Path | None, typer.Option(help="A camera profile saved by 'tonematch profile'.")
]
TrialFile = Annotated[Path, typer.Option("--trials", help="Trials as CSV.")]
LogbookPath = Annotated[
    Path | None, typer.Option("--logbook", help="Another logbook than the usual one.")
]
Tolerance = Annotated[float, typer.Option(help="Greatest CIEDE2000 that counts as a match.")]
TechniqueName = Annotated[str, typer.Option(help="water, oil or unknown.")]
FinishName = Annotated[str, typer.Option(help="burnished, matte or unknown.")]


@app.command()
def demo(
    into: Annotated[
        Path | None, typer.Option(help="A new or empty folder for what the demonstration makes.")
    ] = None,
) -> None:
    """Run the whole job on the bundled photographs (invented)."""
    from tonematch.demonstration import run_demonstration

    run_demonstration(into, typer.echo)


@app.command()
def read(
    photo: Annotated[Path, typer.Argument(help="The photograph.")],
    card: CardBox,
    area: Annotated[list[str], typer.Option(help=f"NAME={BOX}; repeat for more areas.")],
    card_reflectance: Reflectance = None,
    card_lab: CardLab = None,
    neutral: Neutral = None,
    other_card: OtherCard = None,
    encoding: EncodingName = "profile",
    chart: FindChart = False,
    flat: Flat = None,
    camera_profile: SavedProfile = None,
    as_json: AsJson = False,
) -> None:
    """Read the colour of marked areas."""
    from tonematch.forms import readings_json, say_reading
    from tonematch.measure.areas import box_area, parse_box
    from tonematch.measure.marked import read_marked

    areas = {"card": box_area("card", parse_box(card), "card")}
    for text in area:
        name, box = _named_box(text)
        if name in areas:
            raise AreaError(f"Two areas are called '{name}': give each a name of its own.")
        areas[name] = box_area(name, box)
    marked = _aided(
        _marked(photo, areas), neutral, other_card, encoding, chart, flat, camera_profile
    )
    readings, warnings = read_marked(marked, _card_value(card_reflectance, card_lab))
    if as_json:
        _print_json(readings_json(readings, warnings))
        return
    for name, reading in readings.items():
        typer.echo(say_reading(name, reading))
    typer.echo("CIELAB for illuminant D50, 2 degree observer.")
    _print_warnings(warnings)


@app.command()
def compare(
    photo: Annotated[Path, typer.Argument(help="The photograph, or that of the original.")],
    card: CardBox,
    original: Annotated[str, typer.Option(help=f"The old gold: {BOX}.")],
    repair: Annotated[str, typer.Option(help=f"The new gold: {BOX}.")],
    photo2: Annotated[Path | None, typer.Argument(help="A photograph of the repair.")] = None,
    card2: Annotated[
        str | None, typer.Option(help="The card in the second photograph; as --card unless given.")
    ] = None,
    tolerance: Tolerance = 2.0,
    card_reflectance: Reflectance = None,
    card_lab: CardLab = None,
    neutral: Neutral = None,
    neutral2: Neutral = None,
    other_card: OtherCard = None,
    other_card2: OtherCard = None,
    encoding: EncodingName = "profile",
    chart: FindChart = False,
    flat: Flat = None,
    camera_profile: SavedProfile = None,
    as_json: AsJson = False,
) -> None:
    """Compare a repair with the original, in one photograph or two."""
    from tonematch.forms import comparison_json, say_comparison
    from tonematch.measure.difference import check_tolerance
    from tonematch.measure.marked import compare_marked

    check_tolerance(tolerance)
    if photo2 is None and (card2 is not None or neutral2 or other_card2):
        raise AreaError(
            "--card2, --neutral2 and --other-card2 need a second photograph: give it, or leave "
            "them out."
        )
    if photo2 is None:
        first = second = _aided(
            _with_roles(photo, card=card, original=original, repair=repair),
            neutral, other_card, encoding, chart, flat, camera_profile,
        )  # fmt: skip
    else:
        first = _aided(
            _with_roles(photo, card=card, original=original),
            neutral, other_card, encoding, chart, flat, camera_profile,
        )  # fmt: skip
        second = _aided(
            _with_roles(photo2, card=card2 or card, repair=repair),
            neutral2, other_card2, encoding, chart, flat, camera_profile,
        )  # fmt: skip
    comparison = compare_marked(first, second, _card_value(card_reflectance, card_lab), tolerance)
    warnings = list(dict.fromkeys([*first.photo.notes, *second.photo.notes, *comparison.warnings]))
    if as_json:
        _print_json(comparison_json(comparison, warnings))
        return
    typer.echo(say_comparison(comparison))
    _print_warnings(warnings)


@app.command()
def profile(
    photo: Annotated[Path, typer.Argument(help="A photograph with a 24-patch chart.")],
    card: CardBox,
    out: Annotated[Path, typer.Option(help="The JSON file to write.")],
    lamp: Annotated[str, typer.Option(help="Which lamp lit it, in your words.")] = "",
    card_reflectance: Reflectance = None,
    card_lab: CardLab = None,
) -> None:
    """Save a camera profile from a chart, for pictures of this camera under this lamp."""
    from tonematch.measure.areas import box_area, parse_box
    from tonematch.measure.camera_profile import write_profile
    from tonematch.measure.marked import profile_marked

    areas = {"card": box_area("card", parse_box(card), "card")}
    marked = _aided(_marked(photo, areas), None, None, "profile", True, None, None)
    saved = profile_marked(marked, _card_value(card_reflectance, card_lab), lamp)
    typer.echo(f"{saved.words}; written to {write_profile(saved, out)}.")


@app.command()
def predict(
    trials: TrialFile,
    start: Annotated[str, typer.Option("--from", help="The surface now: L,a,b (D50, 2).")],
    layer: Annotated[list[str], typer.Option(help="NAME:STRENGTH[:COATS]; repeat, in order.")],
    technique: TechniqueName = "unknown",
    finish: FinishName = "unknown",
    as_json: AsJson = False,
) -> None:
    """Say what layers would do to a surface."""
    from tonematch.forms import say_step, step_json
    from tonematch.toning.chain import predict_steps
    from tonematch.toning.model import fit_trials

    before = _lab("--from", start)
    known, shelf = _trials_and_shelf(trials)
    coats = [_coat(text, shelf) for text in layer]
    model = fit_trials(known, shelf)
    steps = predict_steps(model, before, coats, _technique(technique), _finish(finish))
    if as_json:
        _print_json({"steps": [step_json(step) for step in steps]})
        return
    for number, step in enumerate(steps, start=1):
        typer.echo(f"{number}. {say_step(step)}")


@app.command()
def suggest(
    trials: TrialFile,
    start: Annotated[str, typer.Option("--from", help="The surface now: L,a,b (D50, 2).")],
    to: Annotated[str, typer.Option(help="What it should become: L,a,b (D50, 2).")],
    layers: Annotated[int, typer.Option(help="Most layers in a plan, 1 to 4.")] = 3,
    tolerance: Tolerance = 2.0,
    shelf: Annotated[
        str | None,
        typer.Option(help="Layers at hand, NAME,NAME,...; those with trials unless given."),
    ] = None,
    technique: TechniqueName = "unknown",
    finish: FinishName = "unknown",
    laid: Annotated[
        list[str] | None, typer.Option(help="A layer that lies there already; repeat, in order.")
    ] = None,
    as_json: AsJson = False,
) -> None:
    """Propose plans: which layers to lay, in which order."""
    from tonematch.forms import proposal_json, say_proposal
    from tonematch.toning.model import fit_trials
    from tonematch.toning.plan import propose
    from tonematch.toning.rules import Surface
    from tonematch.toning.shelf import find_layer, layers_with_trials

    before, target = _lab("--from", start), _lab("--to", to)
    known, entries = _trials_and_shelf(trials)
    if shelf is None:
        usable = layers_with_trials(known, entries)
    else:
        usable = [find_layer(entries, name) for name in shelf.split(",")]
    surface = Surface(
        technique=_technique(technique),
        finish=_finish(finish),
        beneath=tuple(find_layer(entries, name) for name in laid or ()),
    )
    model = fit_trials(known, entries)
    proposal = propose(
        model,
        usable,
        before,
        target,
        tolerance=tolerance,
        most_layers=layers,
        before_covariance=model.reading_covariance_,
        target_covariance=model.reading_covariance_,
        reading_covariance=model.reading_covariance_,
        surface=surface,
        tried={trial.application.layer for trial in known},
    )
    if as_json:
        _print_json(proposal_json(proposal))
        return
    typer.echo(say_proposal(proposal))


@app.command("check-model")
def check_model(trials: TrialFile, as_json: AsJson = False) -> None:
    """Hold the layer model against plainer ways of predicting, on pieces left out."""
    from tonematch.forms import check_json, say_check
    from tonematch.toning.validation import check_model as check

    found = check(*_trials_and_shelf(trials))
    if as_json:
        _print_json(check_json(found))
        return
    typer.echo(say_check(found))


@app.command()
def doubts(trials: TrialFile, as_json: AsJson = False) -> None:
    """Point out trials that look mistyped, by row, with the likely slip."""
    from tonematch.toning.doubts import find_doubts
    from tonematch.toning.model import fit_trials

    known, entries = _trials_and_shelf(trials)
    found = find_doubts(fit_trials(known, entries), known)
    if as_json:
        _print_json({"doubts": [{"row": d.index + 1, "words": d.sentence} for d in found]})
        return
    for doubt in found:
        typer.echo(doubt.sentence)
    typer.echo(f"{len(found)} of {len(known)} trials look mistyped.")


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


@app.command()
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


@app.command()
def bench(logbook: LogbookPath = None) -> None:
    """Open the app in a browser on this machine."""
    from tonematch.screens.settings import run_bench

    raise typer.Exit(run_bench(logbook))


def _marked(photo: Path, areas: dict[str, Any]) -> "Marked":
    from tonematch.measure.marked import Marked
    from tonematch.photo.decode import load_photo

    return Marked(load_photo(photo), areas)


def _with_roles(photo: Path, **boxes: str) -> "Marked":
    from tonematch.measure.areas import box_area, parse_box
    from tonematch.measure.core import Role

    areas = {role: box_area(role, parse_box(box), cast(Role, role)) for role, box in boxes.items()}
    return _marked(photo, areas)


def _aided(
    marked: "Marked",
    neutrals: list[str] | None,
    other_cards: list[str] | None,
    encoding: str,
    chart: bool,
    flat: Path | None,
    camera_profile: Path | None,
) -> "Marked":
    from tonematch.measure.areas import box_area, parse_box
    from tonematch.measure.camera_profile import read_profile
    from tonematch.measure.marked import Aids
    from tonematch.photo.decode import load_photo

    aids = Aids(
        neutrals=tuple(_neutral(text) for text in neutrals or ()),
        encoding=cast(Any, _one_of("--encoding", encoding, ("profile", "linear"))),
        chart=_chart_in(marked.photo) if chart else None,
        profile=None if camera_profile is None else read_profile(camera_profile),
        flat=None if flat is None else load_photo(flat),
        cards=tuple(
            box_area(f"card {number}", parse_box(box))
            for number, box in enumerate(other_cards or (), start=2)
        ),
    )
    return replace(marked, aids=aids)


def _chart_in(photo: "Photo") -> "Chart":
    from tonematch.measure.chart import find_chart

    found = find_chart(photo)
    if found is None:
        raise CardError(
            f"No 24-patch chart is found in {photo.name}: photograph it flat, whole and larger."
        )
    return found


def _neutral(text: str) -> "tuple[Area, float]":
    from tonematch.measure.areas import box_area, parse_box

    box, _, reflectance = text.partition("=")
    try:
        value = float(reflectance)
    except ValueError as error:
        raise AreaError(
            f"'{text}' is not a neutral: write x,y,w,h=REFLECTANCE, such as 10,20,30,30=0.9."
        ) from error
    return box_area(f"neutral of {value:g}", parse_box(box)), value


def _card_value(reflectance: float | None, lab: str | None) -> "CardValue":
    from tonematch.measure.card import (
        card_from_lab,
        card_from_reflectance,
        usual_card,
    )

    if reflectance is not None and lab is not None:
        raise ValueRefused("The card's value is given twice: leave out one of the two.")
    if lab is not None:
        return card_from_lab(_numbers("--card-lab", lab))
    return usual_card() if reflectance is None else card_from_reflectance(reflectance)


def _named_box(text: str) -> "tuple[str, Box]":
    from tonematch.measure.areas import parse_box

    name, equals, box = text.rpartition("=")
    if not equals:
        raise AreaError(f"'{text}' names no area: write NAME=x,y,w,h, such as old=120,80,60,40.")
    return name, parse_box(box)


def _trials_and_shelf(file: Path) -> "tuple[list[Trial], dict[str, Layer]]":
    from tonematch.logbook.trial_csv import read_trials
    from tonematch.toning.shelf import layers_from_trials, load_shelf

    shelf = load_shelf()
    trials = read_trials(file, shelf)
    return trials, layers_from_trials(trials, shelf)


def _coat(text: str, shelf: "dict[str, Layer]") -> "Coat":
    from tonematch.toning.chain import Coat
    from tonematch.toning.shelf import check_amount, find_layer

    name, *amounts = text.split(":")
    try:
        strength = float(amounts[0])
        coats = int(amounts[1]) if len(amounts) > 1 else 1
    except (IndexError, ValueError):
        amounts = []
    if len(amounts) not in (1, 2):
        raise ValueRefused(
            f"'{text}' is not a layer with its strength: write NAME:STRENGTH or "
            "NAME:STRENGTH:COATS, such as 'raw umber wash:0.5'."
        )
    layer = find_layer(shelf, name)
    check_amount(layer.name, strength, coats)
    return Coat(layer, strength, coats)


def _numbers(option: str, text: str) -> list[float]:
    try:
        numbers = [float(part) for part in text.split(",")]
    except ValueError:
        numbers = []
    if len(numbers) != 3:
        raise ValueRefused(f"{option} {text}: give three numbers, such as 80.5,6.2,33.")
    return numbers


def _lab(option: str, text: str) -> Any:
    from tonematch.measure.convert import check_lab

    return check_lab(f"surface given with {option}", _numbers(option, text))


def _technique(text: str) -> "Technique":
    return cast("Technique", _one_of("--technique", text, ("water", "oil", "unknown")))


def _finish(text: str) -> "Finish":
    return cast("Finish", _one_of("--finish", text, ("burnished", "matte", "unknown")))


def _one_of(option: str, text: str, allowed: Sequence[str]) -> str:
    if text not in allowed:
        raise ValueRefused(f"{option} {text} is not known: give {', '.join(allowed)}.")
    return text


def _print_json(value: dict[str, Any]) -> None:
    typer.echo(json.dumps(value, ensure_ascii=False, allow_nan=False))


def _print_warnings(warnings: Sequence[str]) -> None:
    for warning in warnings:
        typer.echo(f"Note: {warning}")


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
        typer.echo(_one_line(str(error)), err=True)
        return 2
    except typer.TyperException as error:
        words = _one_line(error.format_message()).rstrip(".")
        typer.echo(f"{words}: see 'tonematch --help'.", err=True)
        return 2
    except typer.Abort:
        return 130
    return status if isinstance(status, int) else 0


def _one_line(words: str) -> str:
    # What a person typed is quoted in the sentence and may hold line breaks.
    return " ".join(words.split())


if __name__ == "__main__":
    main()
