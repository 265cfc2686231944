"""What commands print with --json: a table of what is told of each object, and one walk by it."""

import math
from collections.abc import Callable, Mapping
from operator import attrgetter
from typing import Any

import numpy as np

from tonematch.measure.core import GEOMETRY, ILLUMINANT, OBSERVER
from tonematch.measure.uncertainty.interval import half_width_95

DIGITS = 4
# Of what stands under these names; what a person typed is told as it was typed.
DIGITS_OF = {"covariance": 6} | dict.fromkeys(
    ("strength", "strengths", "tolerance", "metres", "uncertainty"), 10
)

Part = str | Callable[[Any], object]
Shape = Mapping[str, Part | Mapping[str, Part]]


def _same(*names: str) -> dict[str, str]:
    """Attributes that JSON calls by the names that they have."""
    return {name: name for name in names}


# By class: each name in JSON with where its value stands in the object, or how it is made of it.
# What is not here is not told: a new attribute stays out until somebody wants it in.
SHOWN: dict[str, Shape] = {
    "CardValue": {"reflectance": lambda value: value.xyz[1], "words": "words"},
    "Reading": {
        **_same("lab", "lustre", "covariance", "pixels", "left_out"),
        "expanded_uncertainty_95": lambda reading: half_width_95(reading.covariance),
        "spread": {"L": "spread_L", "C": "spread_C"},
    },
    "Comparison": {
        "delta_e_2000": "delta_e",
        "interval_95": "interval",
        "delta": {"L": "delta_L", "C": "delta_C", "h": "delta_h", "H": "delta_H"},
        **_same("tolerance", "verdict", "words", "original", "repair", "warnings"),
        "illuminant": lambda _: ILLUMINANT,
        "observer": lambda _: OBSERVER,
        "geometry": lambda _: GEOMETRY,
    },
    "TwoLights": {
        "change_delta_e_2000": "change",
        "change_interval_95": "interval",
        **_same("parts", "words"),
        "comparison": "second",
    },
    "SurfaceLook": {"evenness": "evenness", "seen_from": "seen", "last_step": "last_step"},
    "EvennessComparison": {
        "earth_movers_distance": "distance",
        "of_two_halves_95": "halves",
        "mottle": {"original": "original.mottle", "repair": "repair.mottle"},
        "patches": {"original": "original.patches", "repair": "repair.patches"},
        **_same("verdict", "words"),
    },
    "Patches": {
        "delta_e_2000": "delta_e",
        "delta": {"L": "delta_L", "C": "delta_C"},
        **_same("across", "across_mm", "dark"),
    },
    "SeenComparison": {
        "delta_e_2000": "delta_e",
        **_same("metres", "evenness", "as_one", "words"),
    },
    "LustreComparison": {
        "stops_interval_95": "interval",
        "share_interval_95": "share_interval",
        "colours_part": "parts",
        "by_light": lambda found: [
            None if one is None else {"delta_e_2000": one.delta_e, "verdict": one.verdict}
            for one in found.by_light
        ],
        **_same(
            "verdict",
            "stops",
            "share",
            "words",
            "body",
            "parting_words",
            "mirror_words",
            "warnings",
        ),
    },
    "Step": {
        **_same("layer", "kind", "strength", "coats", "because", "cautions"),
        "lab": "prediction.lab",
        "expanded_uncertainty_95": lambda step: half_width_95(step.prediction.covariance),
        "covariance": "prediction.covariance",
    },
    "Finding": {
        "step": lambda finding: finding.step + 1,
        "rule": "rule.id",
        "severity": "severity",
        "words": "sentence",
    },
    "Plan": {
        "delta_e_2000": "delta_e",
        "chance_within_tolerance": "chance",
        "chance_with_new_plans": "chance_read",
        **_same("steps", "cautions", "words", "virtue", "lustre"),
    },
    "PlanLustre": {
        **_same("stops", "original", "last"),
        "interval_95": "interval",
        "words": lambda lustre: " ".join(lustre.words),
    },
    "LustreStep": {"interval_95": "interval", **_same("layer", "strength", "coats", "stops")},
    "Proposal": _same("plans", "missing", "notes"),
    "LeafChoice": {
        "leaf": "leaf.name",
        "worn_through": "wear",
        "lab": "before.lab",
        "expanded_uncertainty_95": lambda choice: half_width_95(choice.before.covariance),
        "leaf_cautions": "leaf.cautions",
        **_same("bole", "words", "plan"),
    },
    "Ground": {
        "technique": "gilding.technique",
        "finish": "gilding.finish",
        **_same("bole", "leaf", "laid"),
    },
    "Lying": {"layer": "layer.name", **_same("strength", "coats")},
    "Strip": {
        "first": lambda strip: [layer.name for layer in strip.first],
        **_same("steps"),
    },
    "Coat": {"layer": "layer.name", "kind": "layer.kind", **_same("strength", "coats")},
    "Trial": {
        "layer": "application.layer",
        "kind": "application.kind",
        "strength": "application.strength",
        "coats": "application.coats",
        "before": "application.before",
        "lustre": {"before": "before_lustre", "after": "after_lustre"},
        **_same("piece", "zone", "date", "step", "after", "note", "temperature", "humidity"),
    },
    "ModelCheck": _same(
        "trials",
        "mean_delta_e_2000",
        "coverage_50",
        "coverage_90",
        "in_new_orders",
        "in_new_orders_delta_e_2000",
    ),
    "Layer": _same(
        *("name", "kind", "material", "mix", "full_strength", "strengths", "most_coats"),
        *("cautions", "at_hand"),
    ),
    "Mix": {**_same("take", "into", "add"), "per_ml_or_cm2": "per"},
    "Amount": _same("number", "unit", "of"),
}


def in_json(value: Any, digits: int = DIGITS) -> Any:
    """A value, and all in it, as JSON can carry it; null where a number is not known."""
    if isinstance(value, float):
        return None if math.isnan(value) else float(np.round(value, digits))
    if isinstance(value, np.ndarray):
        return in_json(value.tolist(), digits)
    if isinstance(value, list | tuple):
        return [in_json(one, digits) for one in value]
    if isinstance(value, Mapping):
        return {name: in_json(one, DIGITS_OF.get(name, digits)) for name, one in value.items()}
    if (shape := SHOWN.get(type(value).__name__)) is not None:
        return in_json(_filled(shape, value))
    return value


def _filled(shape: Shape, value: Any) -> dict[str, Any]:
    """The names of a shape with what stands there in an object."""
    filled: dict[str, Any] = {}
    for name, part in shape.items():
        if isinstance(part, Mapping):
            filled[name] = _filled(part, value)
        else:
            filled[name] = (attrgetter(part) if isinstance(part, str) else part)(value)
    return filled
