"""Leaf that can be laid: its colour by name, read from swatches/leaves.toml."""

from dataclasses import dataclass
from pathlib import Path

from tonematch.arrays import Vector3
from tonematch.swatchbook import swatch_path
from tonematch.toning.layers.named_colours import read_colours


@dataclass(frozen=True, eq=False)
class Leaf:
    """Leaf to lay.

    Attributes
    ----------
    mirror : ndarray, shape (3,)
        CIELAB (D50, 2 degree), burnished, in the mirror direction: brighter than any reading.
    at_hand : bool
        False for leaf that is known but not proposed unless it is asked for.
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
