"""What an owner is told of the care of a toned repair."""

from collections.abc import Sequence

from tonematch.record.account import Material
from tonematch.swatchbook import swatch_table


def aftercare(lying: Sequence[Material], *, mirror: bool) -> list[str]:
    """Sentences for a piece that these layers lie on."""
    told = []
    for care in swatch_table("aftercare.toml")["care"]:
        ways = tuple(care.get("off_with", ()))
        names = [each.name for each in lying if ways and each.comes_off.startswith(ways)]
        if (names or not ways) and (mirror or not care.get("glass")):
            told.append(care["sentence"].format(layers=", ".join(names)))
    return told
