"""Commands that learn and plan: predict, suggest, leaf, check-model."""

from collections.abc import Mapping
from dataclasses import replace
from typing import Annotated

import typer

from tonematch.cli import typed
from tonematch.cli.grouped import grouped
from tonematch.cli.of_piece import TypedGilding, asked_gap, known_surface, told_of
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
from tonematch.cli.printing import print_json, working
from tonematch.cli.trials import learned_from, trials_and_shelf
from tonematch.cli.typed import coat, layers_named
from tonematch.errors import ValueRefused
from tonematch.in_words import (
    READ_CARD,
    UNTAUGHT,
    say_finding,
    say_leaf_choice,
    say_proposal,
    say_step,
)
from tonematch.logbook.core import bench_name
from tonematch.measure.colour.difference import check_tolerance
from tonematch.toning.core import ModelCheck, Surface
from tonematch.toning.layers.leaf import load_leaves
from tonematch.toning.layers.mix import USUAL_POT
from tonematch.toning.layers.rules import check_layering, surface_cautions
from tonematch.toning.layers.shelf import (
    layers_with_trials,
    load_boles,
)
from tonematch.toning.model.chain import predict_steps
from tonematch.toning.model.layer_model import fit_trials
from tonematch.toning.model.lustre import learn_lustre
from tonematch.toning.planning.body_colour import LaidLeaf, say_body
from tonematch.toning.planning.gap import Workshop
from tonematch.toning.planning.leaf import (
    IN_ONE_PHOTOGRAPH,
    ON_ONE_CARD,
    propose_leaf,
    say_doubt,
    spread_of,
)
from tonematch.toning.planning.plan import plan_for
from tonematch.toning.planning.telling import PlanTeller


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
    known, shelf = trials_and_shelf(trials, logbook)
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
    lustres = None
    if lustre_from is not None and lustre_to is not None:
        lustres = lustre_from, lustre_to
    elif lustre_from is not None or lustre_to is not None:
        raise ValueRefused(
            "Lustre is planned for two surfaces: give both --lustre-from and --lustre-to."
        )
    known, entries = trials_and_shelf(trials, logbook)
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
    known_to = uncertainty or (IN_ONE_PHOTOGRAPH if laid else ON_ONE_CARD)
    spread = spread_of(known_to)
    known_leaf = {one.name: one for one in load_leaves()}
    strip = LaidLeaf(known_leaf[laid[0]], laid[1], spread) if laid else None
    check_tolerance(tolerance)
    known, entries = trials_and_shelf(trials, logbook)
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
    from tonematch.toning.validation.held_out import check_model as check

    known, entries = learned_from(trials, logbook)
    with working(f"Learning from {len(known)} trials, time and again without some of the pieces"):
        found = check(known, entries)
    if as_json:
        print_json(found)
        return
    typer.echo(_say_check(found))


def _say_check(check: ModelCheck) -> str:
    """A table of errors."""
    lines = [f"{check.trials} trials; mean CIEDE2000 on pieces that were left out:"]
    lines += _say_errors(check.mean_delta_e_2000)
    lines.append(
        "Left-out readings inside the layer model's 50 % and 90 % regions: "
        f"{100 * check.coverage_50:.0f} % and {100 * check.coverage_90:.0f} %"
    )
    if check.in_new_orders:
        lines.append(f"The {check.in_new_orders} of them in an order of layers never seen before:")
        lines += _say_errors(check.in_new_orders_delta_e_2000)
    return "\n".join(lines)


def _say_errors(errors: Mapping[str, float]) -> list[str]:
    return [f"  {name:18}{error:7.2f}" for name, error in errors.items()]
