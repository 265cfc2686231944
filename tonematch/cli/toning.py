"""Commands that learn and plan: predict, suggest, check-model, doubts."""

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from tonematch.cli.options import AsJson, FinishName, TechniqueName, Tolerance, TrialFile
from tonematch.cli.printing import print_json
from tonematch.cli.typed import coat, finish_named, lab, technique_named

if TYPE_CHECKING:
    from tonematch.toning.core import Layer, Trial


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

    before = lab("--from", start)
    known, shelf = _trials_and_shelf(trials)
    coats = [coat(text, shelf) for text in layer]
    model = fit_trials(known, shelf)
    steps = predict_steps(model, before, coats, technique_named(technique), finish_named(finish))
    if as_json:
        print_json({"steps": [step_json(step) for step in steps]})
        return
    for number, step in enumerate(steps, start=1):
        typer.echo(f"{number}. {say_step(step)}")


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

    before, target = lab("--from", start), lab("--to", to)
    known, entries = _trials_and_shelf(trials)
    if shelf is None:
        usable = layers_with_trials(known, entries)
    else:
        usable = [find_layer(entries, name) for name in shelf.split(",")]
    surface = Surface(
        technique=technique_named(technique),
        finish=finish_named(finish),
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
        print_json(proposal_json(proposal))
        return
    typer.echo(say_proposal(proposal))


def check_model(trials: TrialFile, as_json: AsJson = False) -> None:
    """Hold the layer model against plainer ways of predicting, on pieces left out."""
    from tonematch.forms import check_json, say_check
    from tonematch.toning.validation import check_model as check

    found = check(*_trials_and_shelf(trials))
    if as_json:
        print_json(check_json(found))
        return
    typer.echo(say_check(found))


def doubts(trials: TrialFile, as_json: AsJson = False) -> None:
    """Point out trials that look mistyped, by row, with the likely slip."""
    from tonematch.toning.doubts import find_doubts
    from tonematch.toning.model import fit_trials

    known, entries = _trials_and_shelf(trials)
    found = find_doubts(fit_trials(known, entries), known)
    if as_json:
        print_json({"doubts": [{"row": d.index + 1, "words": d.sentence} for d in found]})
        return
    for doubt in found:
        typer.echo(doubt.sentence)
    typer.echo(f"{len(found)} of {len(known)} trials look mistyped.")


def _trials_and_shelf(file: Path) -> "tuple[list[Trial], dict[str, Layer]]":
    from tonematch.logbook.trial_csv import read_trials
    from tonematch.toning.shelf import layers_from_trials, load_shelf

    shelf = load_shelf()
    trials = read_trials(file, shelf)
    return trials, layers_from_trials(trials, shelf)
