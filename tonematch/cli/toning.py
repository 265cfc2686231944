"""Commands that learn and plan: predict, suggest, leaf, check-model, doubts."""

from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from tonematch.cli import typed
from tonematch.cli.grouped import grouped
from tonematch.cli.of_piece import asked_gap
from tonematch.cli.options import (
    USUAL_TOLERANCE,
    AsJson,
    FinishName,
    Humidity,
    LogbookPath,
    PieceName,
    PieceTolerance,
    PotVolume,
    ShelfNames,
    SurfaceNow,
    TechniqueName,
    Temperature,
    Tolerance,
    TrialFile,
    ZoneName,
)
from tonematch.cli.printing import print_json
from tonematch.cli.progress import working
from tonematch.cli.surface import TypedGilding, known_surface, told_of
from tonematch.cli.typed import coat, layers_named
from tonematch.errors import LogbookError, ValueRefused

if TYPE_CHECKING:
    from tonematch.toning.core import Layer, Trial


@grouped
def predict(
    start: SurfaceNow,
    layer: Annotated[
        list[str],
        typer.Option(metavar="NAME:STRENGTH[:COATS]", help="What is laid; repeat, in order."),
    ],
    trials: TrialFile = None,
    logbook: LogbookPath = None,
    piece: PieceName = None,
    zone: ZoneName = "",
    *,
    gilding: TypedGilding,
    as_json: AsJson = False,
) -> None:
    """Say what layers would do to a surface, and which rules of layering they touch."""
    from tonematch.in_words import UNTAUGHT, say_finding, say_step
    from tonematch.logbook.core import bench_name
    from tonematch.toning.layers.rules import check_layering
    from tonematch.toning.model.chain import predict_steps
    from tonematch.toning.model.layer_model import fit_trials

    known, shelf = _trials_and_shelf(trials, logbook)
    _, known_of_it, _ = known_surface(piece, zone, trials, logbook, shelf)
    surface = told_of(known_of_it, shelf, gilding)
    coats = [coat(text, shelf) for text in layer]
    with working(f"Learning from {len(known)} trials"):
        model = fit_trials(known, shelf, bench=bench_name())
        steps = predict_steps(model, start, coats, surface)
    findings = check_layering(surface, [one.layer for one in coats])
    if as_json:
        print_json({"steps": steps, "findings": findings})
        return
    told: set[str] = set()
    for number, step in enumerate(steps):
        typer.echo(f"{number + 1}. {say_step(step)}")
        said = [say_finding(finding) for finding in findings if finding.step == number]
        if step.layer not in model.tried:
            said.insert(0, UNTAUGHT.format(step.layer))
        said += [f"Mind: {caution}" for caution in coats[number].layer.cautions]
        for sentence in (one for one in dict.fromkeys(said) if one not in told):
            typer.echo(f"  - {sentence}")
        told.update(said)


@grouped
def suggest(
    start: Annotated[
        typed.Lab | None,
        typed.lab("--from", help="The surface now (D50, 2 degree); as compared last with --piece."),
    ] = None,
    to: Annotated[
        typed.Lab | None, typed.lab(help="What it should become; as compared last with --piece.")
    ] = None,
    trials: TrialFile = None,
    logbook: LogbookPath = None,
    layers: Annotated[int, typer.Option(help="Most layers in a plan, 1 to 4.")] = 3,
    tolerance: PieceTolerance = None,
    shelf: ShelfNames = None,
    piece: PieceName = None,
    zone: ZoneName = "",
    *,
    gilding: TypedGilding,
    lustre_from: Annotated[
        float | None, typer.Option(help="Lustre of the surface now, in stops; with --lustre-to.")
    ] = None,
    lustre_to: Annotated[
        float | None, typer.Option(help="Lustre of the old gold beside it, in stops.")
    ] = None,
    pot: PotVolume = None,
    numbers: Annotated[
        bool, typer.Option("--numbers", help="Strengths, ends and blind chances too, at the end.")
    ] = False,
    as_json: AsJson = False,
) -> None:
    """Propose plans: which layers to lay, in which order, and what goes into the pot."""
    from tonematch.in_words import say_proposal
    from tonematch.logbook.core import bench_name
    from tonematch.toning.layers.mix import USUAL_POT
    from tonematch.toning.layers.shelf import layers_with_trials
    from tonematch.toning.model.layer_model import fit_trials
    from tonematch.toning.model.lustre import learn_lustre
    from tonematch.toning.planning.gap import Workshop
    from tonematch.toning.planning.plan import plan_for
    from tonematch.toning.planning.telling import PlanTeller

    lustres = None
    if lustre_from is not None and lustre_to is not None:
        lustres = lustre_from, lustre_to
    elif lustre_from is not None or lustre_to is not None:
        raise ValueRefused(
            "Lustre is planned for two surfaces: give both --lustre-from and --lustre-to."
        )
    known, entries = _trials_and_shelf(trials, logbook)
    usable = layers_with_trials(known, entries) if shelf is None else layers_named(shelf, entries)
    job, known_of_it, last = known_surface(piece, zone, trials, logbook, entries)
    surface = told_of(known_of_it, entries, gilding)
    with working(f"Learning from {len(known)} trials and looking for plans"):
        model = fit_trials(known, entries, bench=bench_name())
        gap = asked_gap(job, last, start, to, model)
        gap = replace(
            gap,
            tolerance=gap.tolerance if tolerance is None else tolerance,
            lustres=lustres or gap.lustres,
        )
        lustre = learn_lustre(known, entries) if gap.lustres else None
        proposal = plan_for(gap, Workshop(model, usable, surface, lustre, layers))
    if as_json:
        print_json(proposal)
        return
    teller = PlanTeller(entries, surface, pot or USUAL_POT)
    typer.echo(say_proposal(proposal, teller, numbers=numbers))


def leaf(
    to: Annotated[typed.Lab, typed.lab(help="The old gold beside it (D50, 2 degree).")],
    uncertainty: Annotated[
        typed.Numbers | None,
        typed.deviations(
            help="Standard uncertainty of --to, half of what 'read' prints behind ±; that "
            "of a reading on one grey card unless given."
        ),
    ] = None,
    laid: Annotated[
        typed.LaidLeaf | None,
        typed.laid_leaf(
            help="A strip of leaf as it reads in one photograph with --to: the colour of all new "
            "gold is told from it."
        ),
    ] = None,
    trials: TrialFile = None,
    logbook: LogbookPath = None,
    leaf: Annotated[
        list[str] | None, typed.leaf(help="Leaf that you have; repeat. All unless given.")
    ] = None,
    bole: Annotated[
        list[str] | None, typed.bole(help="Bole that you have; repeat. All unless given.")
    ] = None,
    shelf: ShelfNames = None,
    tolerance: Tolerance = USUAL_TOLERANCE,
    technique: TechniqueName = "unknown",
    finish: FinishName = "unknown",
    humidity: Humidity = None,
    temperature: Temperature = None,
    pot: PotVolume = None,
    as_json: AsJson = False,
) -> None:
    """Propose which gold to lay, where none is laid yet, so that little is left to tone."""
    from tonematch.in_words import READ_CARD, say_leaf_choice
    from tonematch.logbook.core import bench_name
    from tonematch.measure.colour.difference import check_tolerance
    from tonematch.toning.core import Surface
    from tonematch.toning.layers.mix import USUAL_POT
    from tonematch.toning.layers.rules import surface_cautions
    from tonematch.toning.layers.shelf import layers_with_trials, load_boles, load_leaves
    from tonematch.toning.model.layer_model import fit_trials
    from tonematch.toning.planning.body_colour import LaidLeaf, say_body
    from tonematch.toning.planning.gap import Workshop
    from tonematch.toning.planning.leaf import (
        IN_ONE_PHOTOGRAPH,
        ON_ONE_CARD,
        propose_leaf,
        say_doubt,
        spread_of,
    )
    from tonematch.toning.planning.telling import PlanTeller

    known_to = uncertainty or (IN_ONE_PHOTOGRAPH if laid else ON_ONE_CARD)
    spread = spread_of(known_to)
    known_leaf = {one.name: one for one in load_leaves()}
    strip = LaidLeaf(known_leaf[laid[0]], laid[1], spread) if laid else None
    check_tolerance(tolerance)
    known, entries = _trials_and_shelf(trials, logbook)
    usable = layers_with_trials(known, entries) if shelf is None else layers_named(shelf, entries)
    surface = told_of(
        Surface(),
        entries,
        TypedGilding(
            technique=technique, finish=finish, humidity=humidity, temperature=temperature
        ),
    )
    with working(f"Learning from {len(known)} trials and looking for leaf"):
        choices = propose_leaf(
            Workshop(fit_trials(known, entries, bench=bench_name()), usable, surface),
            to,
            spread,
            laid=strip,
            leaves=[known_leaf[name] for name in dict.fromkeys(leaf)] if leaf else None,
            boles=list(dict.fromkeys(bole or load_boles())),
            tolerance=tolerance,
        )
    doubt = say_doubt(choices)
    notes = surface_cautions(surface)
    if as_json:
        print_json({"uncertainty": known_to, "ways": choices, "doubt": doubt, "notes": notes})
        return
    teller = PlanTeller(entries, surface, pot or USUAL_POT)
    job = teller.job(choice.plan for choice in choices)
    for number, choice in enumerate(choices, start=1):
        typer.echo(say_leaf_choice(f"Way {number}", choice, teller))
    for note in (*notes, *([f"{READ_CARD}: {job}."] if job else [])):
        typer.echo(note)
    if uncertainty is None:
        L, a, b = known_to
        typer.echo(
            f"Of --to the standard uncertainty was taken as {L:g}, {a:g}, {b:g} (L*, a*, b*), "
            f"that of a reading {'beside a strip' if laid else 'on one grey card'}: give yours "
            "with --uncertainty."
        )
    if doubt:
        typer.echo(doubt)
    typer.echo(say_body(strip))


def check_model(
    trials: TrialFile = None, logbook: LogbookPath = None, as_json: AsJson = False
) -> None:
    """Hold the layer model against plainer ways of predicting, on pieces left out."""
    from tonematch.in_words import say_check
    from tonematch.toning.validation.held_out import check_model as check

    known, entries = _learned_from(trials, logbook)
    with working(f"Learning from {len(known)} trials, time and again without some of the pieces"):
        found = check(known, entries)
    if as_json:
        print_json(found)
        return
    typer.echo(say_check(found))


def doubts(trials: TrialFile = None, logbook: LogbookPath = None, as_json: AsJson = False) -> None:
    """Point out trials that look mistyped, with the likely slip."""
    from tonematch.toning.model.layer_model import fit_trials
    from tonematch.toning.validation.outliers import find_outliers

    known, entries = _learned_from(trials, logbook)
    with working(f"Holding each of {len(known)} trials against the others"):
        found = find_outliers(fit_trials(known, entries), known)
    # In a file a trial is known by its row, in the logbook by its number.
    place, numbers = "row", list(range(1, len(known) + 1))
    if trials is None:
        place, numbers = "trial", _numbers_in_logbook(logbook)
    told = [(numbers[doubt.index], doubt.words) for doubt in found]
    if as_json:
        print_json({"doubts": [{place: number, "words": words} for number, words in told]})
        return
    for number, words in told:
        typer.echo(f"{place.capitalize()} {number}: {words}")
    typer.echo(f"{len(found)} of {len(known)} trials look mistyped.")
    if found and trials is None:
        typer.echo("'tonematch trials put-right' and 'trials leave-out' take their numbers.")


def _learned_from(file: Path | None, logbook: str | None) -> "tuple[list[Trial], dict[str, Layer]]":
    """Trials and shelf, of a file or else of a logbook that holds any."""
    trials, shelf = _trials_and_shelf(file, logbook)
    if not trials:
        raise LogbookError(
            "The logbook holds no trial to learn from yet: lay a layer and photograph it, or give "
            "a file of trials with --trials."
        )
    return trials, shelf


def _trials_and_shelf(
    file: Path | None, logbook: str | None
) -> "tuple[list[Trial], dict[str, Layer]]":
    from tonematch.toning.layers.shelf import layers_from_trials, load_shelf

    if file is not None and logbook is not None:
        raise ValueRefused("Trials come from a file or from a logbook: leave out one of the two.")
    if file is not None:
        from tonematch.logbook.trial_csv import read_trials

        shelf = load_shelf()
        trials = read_trials(file, shelf)
    else:
        from tonematch.logbook.store import open_logbook

        with open_logbook(logbook) as book:
            trials, shelf = book.trials(), dict(book.shelf())
    return trials, layers_from_trials(trials, shelf)


def _numbers_in_logbook(logbook: str | None) -> list[int]:
    """Numbers of the trials that are learned from, in their order."""
    from tonematch.logbook.store import open_logbook

    with open_logbook(logbook) as book:
        return [kept.id for kept in book.kept_trials() if not kept.excluded]
