"""What is told in words: readings, comparisons, steps, plans and layers."""

from collections.abc import Mapping, Sequence
from textwrap import wrap
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from tonematch.logbook.core import Air, moment_of
from tonematch.measure.core import Comparison, Reading
from tonematch.measure.uncertainty.interval import half_width_95
from tonematch.toning.core import Plan, Proposal, Step, Trial
from tonematch.toning.layers.coats import say_coats
from tonematch.toning.layers.mix import USUAL_POT, say_coat
from tonematch.toning.planning.lustre_words import say_lustre_numbers, say_trial_lustre
from tonematch.toning.planning.plan_words import say_probability
from tonematch.toning.planning.telling import PlanTeller, asks_for_strips, plan_name

if TYPE_CHECKING:
    from tonematch.logbook.core import Piece, RecipeStep
    from tonematch.measure.appearance.look import SurfaceLook
    from tonematch.measure.appearance.lustre_comparison import LustreComparison
    from tonematch.measure.two_lights import TwoLights
    from tonematch.toning.core import Strip
    from tonematch.toning.layers.rules import Finding
    from tonematch.toning.planning.leaf import LeafChoice

# The 95 % interval, as it stands beside values that carry half its width.
WITHIN = "within ± 19 times of 20"
UNTAUGHT = "No trial has taught {} yet: this is the shelf's guess."


def say_lab(lab: NDArray[np.float64], covariance: NDArray[np.float64] | None = None) -> str:
    """CIELAB in a line; each value ± half its 95 % interval where the covariance is known.

    L* ends at white: what reads brighter is told to, and by how much is no measurement.
    """
    told = [f"{name} {value:.1f}" for name, value in zip(("L*", "a*", "b*"), lab, strict=True)]
    if covariance is not None:
        widths = half_width_95(covariance)
        told = [f"{one} ± {half:.1f}" for one, half in zip(told, widths, strict=True)]
    if lab[0] > 100.0:
        told[0] = "L* over 100 (brighter than white)"
    return ", ".join(told)


def say_reading(name: str, reading: Reading) -> str:
    """A reading in a line, with its 95 % interval."""
    return (
        f"{name}: {say_lab(reading.lab, reading.covariance)} ({WITHIN}; {reading.pixels} pixels, "
        f"{reading.left_out} left out)"
    )


def say_comparison(comparison: Comparison) -> str:
    """A comparison in a few lines: first which way and how far, then what was read."""
    low, high = comparison.interval
    return "\n".join(
        [
            comparison.words,
            f"CIEDE2000 {comparison.delta_e:.2f} (95 % interval {low:.2f} to {high:.2f}), "
            f"tolerance {comparison.tolerance:g}: {comparison.verdict}",
            say_reading("original", comparison.original),
            say_reading("repair", comparison.repair),
        ]
    )


def say_two_lights(found: "TwoLights") -> str:
    """The pair under a second light, and what changes from light to light."""
    return "\n".join(
        ["Under the second light:", say_comparison(found.second), found.words, found.numbers]
    )


def say_look(look: "SurfaceLook") -> str:
    """Evenness, and the look from each distance, a line each."""
    one, other = look.evenness.original.mottle, look.evenness.repair.mottle
    return "\n".join(
        [
            f"Evenness: {look.evenness.verdict} (mottling, mean CIEDE2000 from the area's own "
            f"mean: original {one:.1f}, repair {other:.1f}). {look.evenness.words}",
            *look.last_step,
            *(seen.words for seen in look.seen),
        ]
    )


def say_lustre_comparison(found: "LustreComparison") -> str:
    """Lustre and body colours in a few lines."""
    low, high = found.interval
    rise = ""
    if found.verdict != "not known":
        rise = f" ({found.stops:+.2f} stops, 95 % interval {low:+.2f} to {high:+.2f})"
    one, other = found.body.original.lustre, found.body.repair.lustre
    if one is not None and other is not None:
        rise += f", original {one:.2f} and repair {other:.2f} stops"
    lines = [
        f"Lustre: {found.verdict}{rise}. {found.words}",
        "Body colours, off the mirror direction:",
        say_comparison(found.body),
    ]
    return "\n".join([*lines, *filter(None, [found.mirror_words, found.parting_words])])


def say_step(step: Step) -> str:
    """A step of a plan in a line."""
    return (
        f"{step.layer}, strength {step.strength:g}, {say_coats(step.coats)}: "
        f"{say_lab(step.prediction.lab, step.prediction.covariance)} ({WITHIN})"
    )


def say_finding(finding: "Finding") -> str:
    """A rule that a layer touches, in a sentence."""
    asked = "Do not lay this" if finding.severity == "blocked" else "Mind"
    return f"{asked}: {finding.sentence}"


def say_gilding(piece: "Piece") -> str:
    """``water, burnished``, or what of it nobody knows."""
    if piece.technique == piece.finish == "unknown":
        return "not known yet"
    if piece.technique == "unknown":
        return f"{piece.finish}, and nobody knows which"
    return f"{piece.technique}, {'finish not known' if piece.finish == 'unknown' else piece.finish}"


def say_told(told: Mapping[str, str]) -> list[str]:
    """``Bole: red.``, a sentence each for what somebody said."""
    return [f"{label}: {words.rstrip('.')}." for label, words in told.items() if words]


def say_known_gilding(piece: "Piece") -> str:
    """What the rules of layering ask of a piece's gilding, in a few sentences."""
    told = [f"Gilding: {say_gilding(piece)}.", *say_told({"Bole": piece.bole, "Leaf": piece.leaf})]
    if piece.historic:
        told.append("The gold itself is old.")
    if piece.gilded_at:
        told.append(f"Laid on {moment_of(piece.gilded_at):%Y-%m-%d at %H:%M}.")
    if piece.unknown_coating:
        told.append("An old coating that nobody can name lies on it.")
    if piece.glass.endswith("mirror"):
        told.append(f"It frames a mirror: {piece.glass}.")
    if air := Air(piece.temperature, piece.humidity).words:
        told.append(f"Workshop at {air}.")
    return " ".join(told)


WIDTH = 100
READ_CARD = "First read 'tonematch cautions', what to mind through the whole job"
MAKE_STRIPS = "'tonematch strips choose' says which strips, and prints their sheet."


def _say_plan(teller: PlanTeller, name: str, plan: Plan) -> list[str]:
    """A plan as lines of text."""
    if not plan.steps:
        return _filled(plan.words) + _say_cautions(teller, plan)
    kind = f"{plan.words[:1].lower()}{plan.words[1:].rstrip('.')}"
    title = ", ".join(filter(None, [name, plan.virtue, teller.chance(plan)]))
    lines = _filled(f"{title}: {kind}.")
    for place, (said, mind) in enumerate(teller.steps(name.lower(), plan), start=1):
        lines += _filled(" ".join([f"  {place}. {said}", *mind]), "     ")
    return lines + _say_cautions(teller, plan)


def _say_cautions(teller: PlanTeller, plan: Plan) -> list[str]:
    return [line for one in teller.new(plan.cautions) for line in _filled(f"  {one}")]


def _filled(text: str, indent: str = "  ") -> list[str]:
    return wrap(text, WIDTH, subsequent_indent=indent, break_on_hyphens=False)


def say_proposal(proposal: Proposal, teller: PlanTeller, *, numbers: bool = False) -> str:
    """All plans as text, with the numbers of each at the end if they are asked for."""
    lines = []
    for note in filter(None, [proposal.missing, *proposal.notes]):
        lines += _filled(note)
    if asks_for_strips(proposal):
        lines += _filled(MAKE_STRIPS)
    job = teller.job(proposal.plans)
    if job:
        lines += _filled(f"{READ_CARD}: {job}.")
    missing = proposal.missing
    named = [(plan_name(n, plan, missing), plan) for n, plan in enumerate(proposal.plans, start=1)]
    for name, plan in named:
        lines += _say_plan(teller, name, plan)
    if any(plan.steps for plan in proposal.plans):
        lines += _filled(say_what_chance(f" (CIEDE2000 {proposal.tolerance:g})"))
    for name, plan in named if numbers else []:
        lines += _filled(f"{name} in numbers: {say_in_numbers(plan)}.")
    return "\n".join(lines)


def say_what_chance(within: str = "") -> str:
    """What the chance of a plan is of; `within` says how near is near enough."""
    return (
        f"Chances are of coming near enough{within}, with a photograph and a new plan after each "
        "dry layer. Compare the lustre too."
    )


def say_in_numbers(plan: Plan) -> str:
    """Strengths of a plan, 1 being the full mix, its end, and the chance if it is laid blind."""
    steps = "".join(f"{step.layer} {step.strength:g}, " for step in plan.steps)
    end = f"CIEDE2000 {plan.delta_e:.2f}, {'blind' if steps else 'now'}"
    lustre = "" if plan.lustre is None else f", {say_lustre_numbers(plan.lustre)}"
    return f"{steps}{end} {say_probability(plan.chance)}{lustre}"


def say_leaf_choice(name: str, choice: "LeafChoice", teller: PlanTeller) -> str:
    """New gilding with the toning that is left, in a few lines."""
    lines = [
        *_filled(f"{name}. {choice.words}"),
        f"  new gold: {say_lab(choice.before.lab, choice.before.covariance)}",
        *(_say_plan(teller, f"{name} toned", choice.plan) if choice.plan.steps else []),
        *_say_cautions(teller, choice.plan),
        f"  In numbers: {say_in_numbers(choice.plan)}.",
    ]
    return "\n".join([*lines, *(f"  - {one}" for one in teller.new(choice.leaf.cautions))])


def say_strip(strip: "Strip", pot: float = USUAL_POT) -> str:
    """A test strip to make in a line, with what goes into a pot of so many ml."""
    coats = (say_coat(coat, pot) for coat in strip.steps)
    return "; then ".join([*(seal.name for seal in strip.first), *coats])


def say_trial(trial: Trial) -> str:
    """A trial in a line."""
    laid = trial.application
    where = ", ".join(part for part in (trial.where, trial.date) if part)
    lustre, air = say_trial_lustre(trial), Air(trial.temperature, trial.humidity).words
    return (
        f"{where or 'no piece'}: {laid.layer} ({laid.kind}), strength {laid.strength:g}, "
        f"{say_coats(laid.coats)}: {say_lab(laid.before)} to {say_lab(trial.after)}"
        + (f"; {lustre}" if lustre else "")
        + (f"; laid at {air}" if air else "")
        + (f" ({trial.note})" if trial.note else "")
    )


def say_added(added: int, of: int) -> str:
    """How many of some trials are new in the logbook."""
    others = "" if added == of else "; the others were in the logbook already"
    return f"{added} of {of} trials added{others}."


def say_recipe_steps(steps: "Sequence[RecipeStep]") -> str:
    """Layers in order, each with what was mixed: ``umber glaze 0.5, then dark wax 1, 2 coats``."""
    coats = (f", {say_coats(step.coats)}" if step.coats > 1 else "" for step in steps)
    told = (f"{s.layer} {s.strength:g}{more}" for s, more in zip(steps, coats, strict=True))
    return ", then ".join(told)
