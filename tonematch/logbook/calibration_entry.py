"""A calibration as JSON, whole, so that a kept photograph can be read again as it was."""

from dataclasses import asdict
from typing import Any, cast

import numpy as np

from tonematch.logbook.cells import numbers
from tonematch.measure.core import (
    Area,
    Calibration,
    CameraProfile,
    CardValue,
    EvenLight,
    ToneCurve,
)

Entry = dict[str, Any]


def calibration_entry(calibration: Calibration) -> Entry:
    """A calibration as JSON."""
    return cast(Entry, plain(asdict(calibration)))


def calibration_of(entry: Entry) -> Calibration:
    """A calibration from JSON; entries of earlier versions have fewer fields."""
    card, value = entry["card"], entry["value"]
    tone, even, profile = (entry.get(name) for name in ("tone", "even", "profile"))
    return Calibration(
        gains=numbers(entry["gains"], 3),
        relative_covariance=numbers(entry["relative_covariance"]),
        to_xyz=numbers(entry["to_xyz"]),
        card=Area(card["name"], tuple((x, y) for x, y in card["corners"]), "card"),
        value=CardValue(numbers(value["xyz"], 3), value["words"]),
        warnings=tuple(entry["warnings"]),
        photo_sha256=entry["photo_sha256"],
        root_degree=entry.get("root_degree", 1),
        tone=None if tone is None else _tone_of(tone),
        even=None if even is None else _even_of(even),
        settled=frozenset(entry.get("settled", ())),
        profile=None if profile is None else profile_of(profile),
    )


def plain(value: Any) -> Any:
    """A value, and all that is in it, in the types of JSON."""
    if isinstance(value, np.ndarray | np.generic):
        return value.tolist()
    if isinstance(value, dict):
        return {key: plain(part) for key, part in value.items()}
    if isinstance(value, frozenset):
        return sorted(value)
    if isinstance(value, list | tuple):
        return [plain(part) for part in value]
    return value


def _tone_of(entry: Entry) -> ToneCurve:
    values = numbers(entry["values"])
    # A curve without free parameters has an empty list where its shape would be.
    modes = numbers(entry["modes"]).reshape(-1, *values.shape)
    return ToneCurve(numbers(entry["levels"]), values, modes, entry["words"])


def _even_of(entry: Entry) -> EvenLight:
    width, height = entry["size"]
    return EvenLight(
        origin=numbers(entry["origin"]),
        longest=entry["longest"],
        slope=numbers(entry["slope"]),
        grid=None if entry["grid"] is None else numbers(entry["grid"]),
        size=(width, height),
        words=entry["words"],
    )


def profile_of(entry: Entry) -> CameraProfile:
    """A camera profile from JSON."""
    arrays = {name: numbers(entry[name]) for name in ("to_xyz", "gains", "covariance")}
    tone = None if entry["tone"] is None else _tone_of(entry["tone"])
    return CameraProfile(**{**entry, **arrays, "tone": tone})
