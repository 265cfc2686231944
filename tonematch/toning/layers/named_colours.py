"""Tables of a TOML file, and those that name a colour: boles, leaf, grounds to show a layer on."""

from pathlib import Path
from typing import Any

import numpy as np

from tonematch.arrays import Vector3
from tonematch.errors import ShelfError
from tonematch.swatchbook import read_toml
from tonematch.toning.layers.layer_entry import are_numbers


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
