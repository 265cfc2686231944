"""Leaf that can be laid, swatches/leaves.toml."""

from dataclasses import dataclass

import numpy as np

from tonematch.arrays import Vector3
from tonematch.swatchbook import swatch_table


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


def load_leaves() -> tuple[Leaf, ...]:
    """Leaf that can be laid."""
    return tuple(
        Leaf(
            entry["name"],
            np.array(entry["lab"]),
            tuple(entry["cautions"]),
            entry["source"],
            entry.get("at_hand", True),
        )
        for entry in swatch_table("leaves.toml")["leaf"]
    )
