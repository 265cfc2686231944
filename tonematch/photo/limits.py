"""The limits in ``swatches/limits.toml``, by section."""

from collections.abc import Mapping
from types import MappingProxyType

from tonematch.swatchbook import swatch_table


def limits(section: str) -> Mapping[str, float]:
    """Limits of one section, such as "photo", "area" or "card"; read-only."""
    return MappingProxyType(swatch_table("limits.toml")[section])
