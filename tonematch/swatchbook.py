"""The data that ships with tonematch: layers, rules, card values, limits, demonstration."""

import tomllib
from collections.abc import Mapping
from functools import cache
from pathlib import Path
from types import MappingProxyType
from typing import Any

from tonematch.errors import ShelfError

_BESIDE = Path(__file__).resolve().parent


def swatch_path(*parts: str) -> Path:
    """Path of a shipped data file below ``swatches/``, in an installed wheel or in a checkout."""
    installed = _BESIDE / "swatches"
    root = installed if installed.is_dir() else _BESIDE.parent / "swatches"
    return root.joinpath(*parts)


@cache
def swatch_table(name: str) -> dict[str, Any]:
    """A shipped table such as ``"cards.toml"``, read once; it is shared, so only to be read."""
    return read_toml(swatch_path(name))


def limits(section: str) -> Mapping[str, float]:
    """Limits of one section of ``limits.toml``, such as "photo", "area" or "card"; read-only."""
    return MappingProxyType(swatch_table("limits.toml")[section])


def read_toml(path: Path) -> dict[str, Any]:
    """A TOML file; ShelfError where it cannot be read, or is none."""
    try:
        return tomllib.loads(path.read_text(encoding="utf-8"))
    except OSError as error:
        raise ShelfError(f"{path} cannot be read ({error.strerror}): check the path.") from error
    except (tomllib.TOMLDecodeError, UnicodeDecodeError) as error:
        raise ShelfError(f"{path.name} is not a TOML file ({error}): correct it there.") from error
