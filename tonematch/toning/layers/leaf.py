"""Leaf that can be laid: its colour by name, read from swatches/leaves.toml."""

from dataclasses import dataclass
from pathlib import Path

import numpy as np

from tonematch.arrays import Vector3
from tonematch.errors import ShelfError
from tonematch.swatchbook import read_toml, swatch_path


@dataclass(frozen=True, eq=False)
class Leaf:
    """Leaf to lay.

    Attributes
    ----------
    lab : ndarray, shape (3,)
        CIELAB (D50, 2 degree), burnished.
    """

    name: str
    lab: Vector3
    cautions: tuple[str, ...] = ()
    source: str = ""


def load_leaves(path: Path | None = None) -> tuple[Leaf, ...]:
    """Leaf that can be laid.

    Parameters
    ----------
    path : pathlib.Path, optional
        A TOML file of ``[[leaf]]`` tables; the leaf that ships with tonematch by default.

    Raises
    ------
    ShelfError
        When the file cannot be read, or an entry has no name or no colour.
    """
    path = swatch_path("leaves.toml") if path is None else path
    try:
        entries = read_toml(path)["leaf"]
        return tuple(
            Leaf(
                str(entry["name"]),
                _colour(entry["lab"]),
                tuple(map(str, entry.get("cautions", ()))),
                str(entry.get("source", "")),
            )
            for entry in entries
        )
    except (KeyError, TypeError, ValueError) as error:
        raise ShelfError(
            f"{path.name} is no table of leaf: give every [[leaf]] a name and "
            "lab = [L*, a*, b*], L* from 0 to 100."
        ) from error


def _colour(lab: object) -> Vector3:
    value = np.array(lab, dtype=np.float64)
    if value.shape != (3,) or not np.isfinite(value).all() or not 0.0 <= value[0] <= 100.0:
        raise ValueError(lab)
    return value
