"""The limits in ``swatches/limits.toml``, by section."""

import tomllib
from collections.abc import Mapping
from functools import lru_cache
from types import MappingProxyType

from tonematch.swatchbook import swatch_path


@lru_cache(maxsize=1)
def _all_limits() -> dict[str, dict[str, float]]:
    with swatch_path("limits.toml").open("rb") as file:
        return tomllib.load(file)


def limits(section: str) -> Mapping[str, float]:
    """Limits of one section, read-only.

    Parameters
    ----------
    section : str
        A table of ``swatches/limits.toml``: "photo", "pixel", "area", "card", "comparison".

    Returns
    -------
    mapping of str to float
    """
    return MappingProxyType(_all_limits()[section])
