"""What the command line prints: readings, comparisons, steps and plans, as JSON or as text."""

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from tonematch.measure.core import ILLUMINANT, OBSERVER, Comparison, Reading
from tonematch.toning.core import ModelCheck, Plan, Proposal, Step, Trial

if TYPE_CHECKING:
    from tonematch.measure.looking import SurfaceLook
    from tonematch.measure.lustre_comparison import LustreComparison

Json = dict[str, Any]


def reading_json(reading: Reading) -> Json:
    """A reading as the command line's JSON has it."""
    return {
        "lab": rounded(reading.lab),
        "covariance": rounded(reading.covariance, 6),
        "pixels": reading.pixels,
        "left_out": reading.left_out,
        "spread": {"L": rounded(reading.spread_L), "C": rounded(reading.spread_C)},
    }


def readings_json(readings: Mapping[str, Reading], warnings: Sequence[str]) -> Json:
    """Several readings with what they are readings of."""
    return {
        "areas": {name: reading_json(reading) for name, reading in readings.items()},
        "warnings": list(warnings),
        "illuminant": ILLUMINANT,
        "observer": OBSERVER,
    }


def comparison_json(comparison: Comparison, warnings: Sequence[str]) -> Json:
    """A comparison as the command line's JSON has it."""
    return {
        "delta_e_2000": rounded(comparison.delta_e),
        "interval_95": [rounded(value) for value in comparison.interval],
        "delta": {
            "L": rounded(comparison.delta_L),
            "C": rounded(comparison.delta_C),
            "h": rounded(comparison.delta_h),
            "H": rounded(comparison.delta_H),
        },
        "tolerance": comparison.tolerance,
        "verdict": comparison.verdict,
        "words": comparison.words,
        "original": reading_json(comparison.original),
        "repair": reading_json(comparison.repair),
        "warnings": list(warnings),
        "illuminant": ILLUMINANT,
        "observer": OBSERVER,
    }


def look_json(look: "SurfaceLook") -> Json:
    """Two surfaces beside each other, and as they look from afar, as JSON has it."""
    even = look.evenness
    return {
        "evenness": {
            "verdict": even.verdict,
            "earth_movers_distance": rounded(even.distance),
            "of_two_halves_95": rounded(even.halves),
            "mottle": {
                "original": rounded(even.original.mottle),
                "repair": rounded(even.repair.mottle),
            },
            "words": even.words,
        },
        "seen_from": [
            {
                "metres": seen.metres,
                "delta_e_2000": rounded(seen.delta_e),
                "evenness": seen.evenness,
                "as_one": seen.as_one,
                "words": seen.words,
            }
            for seen in look.seen
        ],
    }


def lustre_json(found: "LustreComparison", warnings: Sequence[str]) -> Json:
    """A comparison of lustre as JSON has it; null for what too few pictures cannot tell."""
    return {
        "verdict": found.verdict,
        "stops": _known(found.stops),
        "stops_interval_95": [_known(value) for value in found.interval],
        "share": _known(found.share),
        "share_interval_95": [_known(value) for value in found.share_interval],
        "words": found.words,
        "body": comparison_json(found.body, found.body.warnings),
        "by_light": [
            None if one is None else {"delta_e_2000": rounded(one.delta_e), "verdict": one.verdict}
            for one in found.by_light
        ],
        "colours_part": found.parts,
        "parting_words": found.parting_words,
        "warnings": list(warnings),
    }


def _known(value: float) -> float | None:
    return None if np.isnan(value) else float(rounded(value))


def step_json(step: Step) -> Json:
    """One layer with what the surface should read after it."""
    return {
        "layer": step.layer,
        "kind": step.kind,
        "strength": step.strength,
        "coats": step.coats,
        "lab": rounded(step.prediction.lab),
        "covariance": rounded(step.prediction.covariance, 6),
    }


def plan_json(plan: Plan) -> Json:
    """A plan as the command line's JSON has it."""
    return {
        "steps": [step_json(step) for step in plan.steps],
        "delta_e_2000": rounded(plan.delta_e),
        "chance_within_tolerance": rounded(plan.chance),
        "cautions": list(plan.cautions),
        "words": plan.words,
    }


def proposal_json(proposal: Proposal) -> Json:
    """All plans for one gap."""
    return {
        "plans": [plan_json(plan) for plan in proposal.plans],
        "missing": proposal.missing,
        "notes": list(proposal.notes),
    }


def check_json(check: ModelCheck) -> Json:
    """How well each way of predicting did."""
    return {
        "trials": check.trials,
        "mean_delta_e_2000": {
            name: rounded(error) for name, error in check.mean_delta_e_2000.items()
        },
        "coverage_50": rounded(check.coverage_50),
        "coverage_90": rounded(check.coverage_90),
        "in_new_orders": check.in_new_orders,
        "in_new_orders_delta_e_2000": {
            name: rounded(error) for name, error in check.in_new_orders_delta_e_2000.items()
        },
    }


def rounded(value: float | NDArray[np.float64], digits: int = 4) -> Any:
    """A number or an array as plain numbers that JSON can carry."""
    return np.round(value, digits).tolist()


def say_lab(lab: NDArray[np.float64]) -> str:
    """CIELAB in a line."""
    return "L* {:.1f}, a* {:.1f}, b* {:.1f}".format(*lab)


def say_reading(name: str, reading: Reading) -> str:
    """A reading in a line, with its standard uncertainties."""
    sd = np.sqrt(np.diag(reading.covariance))
    return (
        f"{name}: {say_lab(reading.lab)} (standard uncertainty {sd[0]:.2f}, {sd[1]:.2f}, "
        f"{sd[2]:.2f}; {reading.pixels} pixels, {reading.left_out} left out)"
    )


def say_comparison(comparison: Comparison) -> str:
    """A comparison in a few lines."""
    low, high = comparison.interval
    return "\n".join(
        [
            say_reading("original", comparison.original),
            say_reading("repair", comparison.repair),
            f"CIEDE2000 {comparison.delta_e:.2f} (95 % interval {low:.2f} to {high:.2f}), "
            f"tolerance {comparison.tolerance:g}: {comparison.verdict}",
            comparison.words,
        ]
    )


def say_look(look: "SurfaceLook") -> str:
    """Evenness, and the look from each distance, a line each."""
    one, other = look.evenness.original.mottle, look.evenness.repair.mottle
    return "\n".join(
        [
            f"Evenness: {look.evenness.verdict} (mottling, mean CIEDE2000 from the area's own "
            f"mean: original {one:.1f}, repair {other:.1f}). {look.evenness.words}",
            *(seen.words for seen in look.seen),
        ]
    )


def say_lustre(found: "LustreComparison") -> str:
    """Lustre and body colours in a few lines."""
    low, high = found.interval
    rise = ""
    if found.verdict != "not known":
        rise = f" ({found.stops:+.2f} stops, 95 % interval {low:+.2f} to {high:+.2f})"
    lines = [
        f"Lustre: {found.verdict}{rise}. {found.words}",
        "Body colours, off the mirror direction:",
        say_comparison(found.body),
    ]
    return "\n".join([*lines, *([found.parting_words] if found.parts else [])])


def say_step(step: Step) -> str:
    """A step of a plan in a line."""
    coats = "1 coat" if step.coats == 1 else f"{step.coats} coats"
    sd = np.sqrt(np.diag(step.prediction.covariance))
    return (
        f"{step.layer}, strength {step.strength:g}, {coats}: {say_lab(step.prediction.lab)} "
        f"(standard uncertainty {sd[0]:.1f}, {sd[1]:.1f}, {sd[2]:.1f})"
    )


def say_proposal(proposal: Proposal) -> str:
    """All plans as text."""
    lines: list[str] = []
    for number, plan in enumerate(proposal.plans, start=1):
        lines.append(f"Plan {number}. {plan.words}")
        lines += [f"  {place}. {say_step(step)}" for place, step in enumerate(plan.steps, start=1)]
        lines.append(
            f"  CIEDE2000 expected at the end {plan.delta_e:.2f}; chance of being within "
            f"{proposal.tolerance:g}: {plan.chance:.0%}"
        )
        lines += [f"  - {caution}" for caution in plan.cautions]
    if proposal.missing:
        lines.append(proposal.missing)
    return "\n".join([*lines, *proposal.notes])


def say_check(check: ModelCheck) -> str:
    """A table of errors."""
    lines = [f"{check.trials} trials; mean CIEDE2000 on pieces that were left out:"]
    lines += _say_errors(check.mean_delta_e_2000)
    lines.append(
        "Left-out readings inside the layer model's 50 % and 90 % regions: "
        f"{check.coverage_50:.0%} and {check.coverage_90:.0%}"
    )
    if check.in_new_orders:
        lines.append(f"The {check.in_new_orders} of them in an order of layers never seen before:")
        lines += _say_errors(check.in_new_orders_delta_e_2000)
    return "\n".join(lines)


def _say_errors(errors: Mapping[str, float]) -> list[str]:
    return [f"  {name:18}{error:7.2f}" for name, error in errors.items()]


def say_trial(trial: Trial) -> str:
    """A trial in a line."""
    laid = trial.application
    where = ", ".join(part for part in (trial.piece, trial.date) if part)
    return (
        f"{where or 'no piece'}: {laid.layer} ({laid.kind}), strength {laid.strength:g}, coats "
        f"{laid.coats}: {say_lab(laid.before)} to {say_lab(trial.after)}"
        + (f" ({trial.note})" if trial.note else "")
    )
