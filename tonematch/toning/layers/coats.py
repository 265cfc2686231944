"""Coats: how many of one layer lie on a piece, and how long each dries (swatches/drying.toml).

An entry's `most_coats` is what the film on the gold may come to, not what one step may lay: three
coats, a wash and three coats again are six coats of that layer.
"""

from collections.abc import Sequence

from tonematch.measure.words import capital
from tonematch.swatchbook import swatch_table
from tonematch.toning.core import Layer, Surface

MOST_CELSIUS = 45.0  # nobody gilds in a workshop that is warmer, or below 0 (a choice)

Hours = tuple[float, float]


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


def drying_hours(layer: Layer, surface: Surface) -> Hours:
    """Hours that a coat dries, at least and at most, in the air that is known of.

    Cold slows whatever dries, damp what is thinned with water; what nobody knows of air or solvent
    changes nothing. What a rub lays cannot dry.
    """
    if layer.kind == "rub":
        return 0.0, 0.0
    air = swatch_table("drying.toml")
    times = 1.0
    if surface.temperature is not None and layer.solvent != "unknown":
        colder = air["usual"]["celsius"] - surface.temperature
        times *= 2.0 ** (colder / air["cold"]["doubles_below"])
    if surface.humidity is not None and layer.solvent in air["damp"]["solvents"]:
        damp = min(surface.humidity, air["damp"]["most_humidity"])
        times *= (100.0 - air["usual"]["humidity"]) / (100.0 - damp)
    least, most = layer.drying_hours
    return least * times, most * times


def hours_in_all(laid: Sequence[tuple[Layer, int]], surface: Surface) -> Hours:
    """Hours that layers dry one after the other, each with its coats."""
    each = [(drying_hours(layer, surface), coats) for layer, coats in laid]
    return (
        sum(least * coats for (least, _), coats in each),
        sum(most * coats for (_, most), coats in each),
    )
