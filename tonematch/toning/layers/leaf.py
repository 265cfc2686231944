"""Tables that name colours: leaf that can be laid, boles, grounds to show a layer on."""

from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np

from tonematch.arrays import Vector3
from tonematch.errors import ShelfError
from tonematch.swatchbook import read_toml, swatch_path
from tonematch.toning.layers.layer_entry import are_numbers


@dataclass(frozen=True, eq=False)
class Leaf:
    """Leaf to lay; it is not proposed unless it is asked for where it is not at hand.

    `mirror` is CIELAB (D50, 2 degree), burnished, in the mirror direction: brighter than any
    reading.
    """

    name: str
    mirror: Vector3
    cautions: tuple[str, ...] = ()
    source: str = ""
    at_hand: bool = True


def load_leaves(path: Path | None = None) -> tuple[Leaf, ...]:
    """Leaf that can be laid: what ships, or the ``[[leaf]]`` tables of a file.

    Raises ShelfError when the file cannot be read, or an entry has no name or no colour.
    """
    path = swatch_path("leaves.toml") if path is None else path
    return tuple(
        Leaf(
            entry["name"],
            lab,
            tuple(entry.get("cautions", ())),
            entry.get("source", ""),
            entry.get("at_hand", True),
        )
        for entry, lab in read_colours(path, "leaf")
    )


def read_tables(path: Path, key: str) -> list[dict[str, Any]]:
    """The ``[[key]]`` tables of a file; ShelfError when it cannot be read, or has none."""
    tables = read_toml(path).get(key, [])
    if not isinstance(tables, list) or not tables:
        raise ShelfError(f"{path.name} has no [[{key}]] tables: write one for each {key}.")
    return tables


def read_colours(path: Path, key: str) -> list[tuple[dict[str, Any], Vector3]]:
    """The same, each with name and ``lab`` (D50, 2 degree); ShelfError where one lacks either."""
    tables = read_tables(path, key)
    for entry in tables:
        lab: Any = entry.get("lab")
        named = isinstance(entry.get("name"), str)
        if not named or not are_numbers(lab, 3) or not 0 <= lab[0] <= 100:
            raise ShelfError(
                f"A {key} of {path.name} is wrong: give every [[{key}]] a name and "
                "lab = [L*, a*, b*], L* from 0 to 100."
            )
    return [(entry, np.array(entry["lab"], dtype=np.float64)) for entry in tables]
