"""What helped to calibrate a photograph beside its card, as JSON, so that it can be done again."""

from collections.abc import Mapping
from dataclasses import asdict
from typing import Any

from tonematch.logbook.calibration_entry import plain, profile_of
from tonematch.logbook.cells import numbers, word_of
from tonematch.logbook.core import KeptAids
from tonematch.measure.calibration.chart import Chart
from tonematch.measure.calibration.tone import Encoding
from tonematch.measure.core import Area
from tonematch.measure.marked import Aids

Entry = dict[str, Any]


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
        "sheet": "" if aids.flat is None else aids.flat.sha256,
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


def _area(entry: Mapping[str, Any]) -> Area:
    return Area(entry["name"], _corners(entry))


def _corners(entry: Mapping[str, Any]) -> tuple[tuple[float, float], ...]:
    return tuple((x, y) for x, y in entry["corners"])


def _chart_of(entry: Mapping[str, Any]) -> Chart:
    return Chart(
        {name: Area(name, _corners(patch)) for name, patch in entry.items()},
        {name: numbers(patch["xyz"]) for name, patch in entry.items()},
    )
