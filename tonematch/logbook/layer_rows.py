"""Between layers and test strips and the rows of their tables."""

from collections.abc import Sequence
from dataclasses import asdict
from typing import Any

from tonematch.logbook.cells import decoding, numbers
from tonematch.logbook.core import KeptStrips
from tonematch.logbook.rows import plain_list
from tonematch.logbook.tables import LayerRow, StripSheetRow
from tonematch.toning.core import Layer, Strip, Surface
from tonematch.toning.planning.ground import Ground, Lying


def layer_row(layer: Layer) -> LayerRow:
    """The row for a layer of the gilder's own shelf."""
    entry = asdict(layer)
    return LayerRow(name=entry.pop("name"), kind=entry.pop("kind"), entry=entry)


@decoding
def layer_of(row: LayerRow) -> Layer:
    """The layer that a row tells of."""
    return _layer_of({"name": row.name, "kind": row.kind, **row.entry})


def strips_row(strips: Sequence[Strip], ground: Ground, piece_id: int) -> StripSheetRow:
    """The row for a sheet of test strips and what they stand on."""
    entries = [
        {
            "layer": asdict(strip.layer),
            "strength": float(strip.strength),
            "coats": strip.coats,
            "first": [asdict(layer) for layer in strip.first],
            "before": plain_list(strip.before),
            "gain": float(strip.gain),
        }
        for strip in strips
    ]
    return StripSheetRow(piece_id=piece_id, strips=entries, ground=asdict(ground))


@decoding
def strips_of(row: StripSheetRow) -> KeptStrips:
    """The sheet that a row tells of."""
    strips = tuple(
        Strip(
            layer=_layer_of(entry["layer"]),
            strength=entry["strength"],
            coats=entry["coats"],
            first=tuple(map(_layer_of, entry["first"])),
            before=numbers(entry["before"], 3),
            gain=entry["gain"],
        )
        for entry in row.strips
    )
    return KeptStrips(row.id, strips, _ground_of(row.ground), row.made_at)


def _ground_of(entry: dict[str, Any]) -> Ground:
    laid = tuple(
        Lying(_layer_of(one["layer"]), one["strength"], one["coats"]) for one in entry["laid"]
    )
    gilding = Surface(**_tuples(entry["gilding"]))
    return Ground(gilding, laid, entry["bole"], entry["leaf"])


def _layer_of(entry: dict[str, Any]) -> Layer:
    return Layer(**_tuples(entry))


def _tuples(entry: dict[str, Any]) -> dict[str, Any]:
    """JSON has lists where our values have tuples."""
    return {key: tuple(value) if isinstance(value, list) else value for key, value in entry.items()}
