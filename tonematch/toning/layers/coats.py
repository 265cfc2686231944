"""How many coats of one layer lie on a piece, whatever lies between them.

An entry's `most_coats` is what the film on the gold may come to, not what one step may lay: three
coats, a wash and three coats again are six coats of that layer.
"""

from collections.abc import Sequence

from tonematch.measure.words import capital
from tonematch.toning.core import Layer


def say_coats(coats: int) -> str:
    """``1 coat``, ``2 coats``."""
    return "1 coat" if coats == 1 else f"{coats} coats"


def coats_on(layer: Layer, stack: Sequence[Layer]) -> int:
    """Coats of a layer in what has been laid, where each coat stands for itself."""
    return sum(laid.name == layer.name for laid in stack)


def say_too_many(layer: Layer, coats: int, stack: Sequence[Layer]) -> str:
    """Whether so many coats more, over a stack, are too many, in one sentence; empty if not."""
    whole = coats_on(layer, stack) + coats
    if whole <= layer.most_coats:
        return ""
    return (
        f"{capital(layer.name)} would lie there in {whole} coats, and its entry allows "
        f"{say_coats(layer.most_coats)} in all, whatever lies between: lay fewer, or take the "
        "earlier ones off."
    )
