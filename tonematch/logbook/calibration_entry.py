"""A calibration and its aids as JSON, whole: a kept photograph can be read again as it was."""

from collections.abc import Mapping
from dataclasses import asdict
from typing import Any, cast

import numpy as np

from tonematch.logbook.cells import numbers, word_of
from tonematch.logbook.core import KeptAids
from tonematch.measure.calibration.aids import Aids, Encoding
from tonematch.measure.calibration.chart import Chart
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
        measured=frozenset(entry.get("measured") or entry.get("settled") or ()),
        profile=None if profile is None else profile_of(profile),
    )


def aids_entry(aids: Aids) -> Entry:
    """The aids as JSON; of a plain sheet the hash by which its photograph is kept."""
    chart = aids.chart
    return {
        "neutrals": [
            {"name": area.name, "corners": plain(area.corners), "reflectance": float(reflectance)}
            for area, reflectance in aids.neutrals
        ],
        "cards": [{"name": area.name, "corners": plain(area.corners)} for area in aids.cards],
        "encoding": aids.encoding,
        "chart": None
        if chart is None
        else {
            name: {"corners": plain(area.corners), "xyz": plain(chart.xyz[name])}
            for name, area in chart.patches.items()
        },
        "profile": None if aids.profile is None else plain(asdict(aids.profile)),
        "sheet": "" if aids.flat_field is None else aids.flat_field.sha256,
    }


def aids_of(entry: Mapping[str, Any]) -> KeptAids:
    """The aids from JSON."""
    chart = entry["chart"]
    aids = Aids(
        neutrals=tuple((_area(one), one["reflectance"]) for one in entry["neutrals"]),
        encoding=word_of(entry["encoding"], Encoding),
        chart=None if chart is None else _chart_of(chart),
        profile=None if entry["profile"] is None else profile_of(entry["profile"]),
        cards=tuple(Area(c["name"], _corners(c), "card") for c in entry["cards"]),
    )
    return KeptAids(aids, entry["sheet"])


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


def _area(entry: Mapping[str, Any]) -> Area:
    return Area(entry["name"], _corners(entry))


def _corners(entry: Mapping[str, Any]) -> tuple[tuple[float, float], ...]:
    return tuple((x, y) for x, y in entry["corners"])


def _chart_of(entry: Mapping[str, Any]) -> Chart:
    return Chart(
        {name: Area(name, _corners(patch)) for name, patch in entry.items()},
        {name: numbers(patch["xyz"]) for name, patch in entry.items()},
    )
