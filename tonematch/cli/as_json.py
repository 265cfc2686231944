"""What commands print with --json: readings, comparisons, steps, plans and layers as objects."""

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from tonematch.measure.core import ILLUMINANT, OBSERVER, Comparison, Reading
from tonematch.measure.uncertainty.interval import half_width_95
from tonematch.toning.core import Layer, ModelCheck, Plan, PlanLustre, Proposal, Step, Trial

if TYPE_CHECKING:
    from tonematch.measure.appearance.look import SurfaceLook
    from tonematch.measure.appearance.lustre_comparison import LustreComparison
    from tonematch.toning.core import Strip
    from tonematch.toning.layers.rules import Finding
    from tonematch.toning.planning.ground import Ground
    from tonematch.toning.planning.leaf import LeafChoice

Json = dict[str, Any]


def reading_json(reading: Reading) -> Json:
    """A reading as the command line's JSON has it."""
    return {
        "lab": rounded(reading.lab),
        "lustre": None if reading.lustre is None else rounded(reading.lustre),
        "expanded_uncertainty_95": rounded(half_width_95(reading.covariance)),
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
        "expanded_uncertainty_95": rounded(half_width_95(step.prediction.covariance)),
        "covariance": rounded(step.prediction.covariance, 6),
    }


def finding_json(finding: "Finding") -> Json:
    """A rule of layering that a step touches; steps count from 1."""
    return {
        "step": finding.step + 1,
        "rule": finding.rule.id,
        "severity": finding.severity,
        "words": finding.sentence,
    }


def plan_json(plan: Plan) -> Json:
    """A plan as the command line's JSON has it."""
    return {
        "steps": [step_json(step) for step in plan.steps],
        "delta_e_2000": rounded(plan.delta_e),
        "chance_within_tolerance": rounded(plan.chance),
        "cautions": list(plan.cautions),
        "words": plan.words,
        "lustre": None if plan.lustre is None else plan_lustre_json(plan.lustre),
    }


def plan_lustre_json(lustre: PlanLustre) -> Json:
    """Where a plan leaves the lustre, in stops; `last` is what laid last would bring it nearest."""
    last = lustre.last
    return {
        "stops": rounded(lustre.stops),
        "interval_95": [rounded(value) for value in lustre.interval],
        "original": rounded(lustre.original),
        "last": None
        if last is None
        else {
            "layer": last.layer,
            "strength": last.strength,
            "coats": last.coats,
            "stops": rounded(last.stops),
            "interval_95": [rounded(value) for value in last.interval],
        },
        "words": lustre.words,
    }


def proposal_json(proposal: Proposal) -> Json:
    """All plans for one gap."""
    return {
        "plans": [plan_json(plan) for plan in proposal.plans],
        "missing": proposal.missing,
        "notes": list(proposal.notes),
    }


def leaf_choice_json(choice: "LeafChoice") -> Json:
    """New gilding with the toning that is left, as JSON has it."""
    return {
        "leaf": choice.leaf.name,
        "bole": choice.bole,
        "worn_through": rounded(choice.wear),
        "lab": rounded(choice.before),
        "words": choice.words,
        "leaf_cautions": list(choice.leaf.cautions),
        "plan": plan_json(choice.plan),
    }


def ground_json(ground: "Ground") -> Json:
    """What test strips stand on as JSON has it; null where strength or coats are not known."""
    return {
        "technique": ground.gilding.technique,
        "finish": ground.gilding.finish,
        "bole": ground.bole,
        "leaf": ground.leaf,
        "laid": [
            {"layer": one.layer.name, "strength": one.strength, "coats": one.coats}
            for one in ground.laid
        ],
    }


def strip_json(place: int, strip: "Strip") -> Json:
    """A test strip to make as JSON has it; its place on the sheet counts from 1."""
    return {
        "strip": place,
        "layer": strip.layer.name,
        "kind": strip.layer.kind,
        "strength": strip.strength,
        "coats": strip.coats,
        "first": [layer.name for layer in strip.first],
        "before": rounded(strip.before),
        "gain": rounded(strip.gain),
    }


def trial_json(trial: Trial) -> Json:
    """A trial as JSON has it."""
    laid = trial.application
    return {
        "piece": trial.piece,
        "date": trial.date,
        "step": trial.step,
        "layer": laid.layer,
        "kind": laid.kind,
        "strength": laid.strength,
        "coats": laid.coats,
        "before": rounded(laid.before),
        "after": rounded(trial.after),
        "lustre": {"before": trial.before_lustre, "after": trial.after_lustre},
        "note": trial.note,
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


def layer_json(layer: Layer, own: bool, trials: int) -> Json:
    """A layer of the shelf as JSON has it; whether it is the gilder's own, and how often tried."""
    return {
        "name": layer.name,
        "kind": layer.kind,
        "material": layer.material,
        "strengths": list(layer.strengths),
        "most_coats": layer.most_coats,
        "cautions": list(layer.cautions),
        "at_hand": layer.at_hand,
        "own": own,
        "trials": trials,
    }


def rounded(value: float | NDArray[np.float64], digits: int = 4) -> Any:
    """A number or an array as plain numbers that JSON can carry."""
    return np.round(value, digits).tolist()
