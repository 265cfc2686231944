"""How long a coat dries in the air of the workshop (swatches/drying.toml)."""

from collections.abc import Sequence

from tonematch.swatchbook import swatch_table
from tonematch.toning.core import Layer, Surface

MOST_CELSIUS = 45.0  # nobody gilds in a workshop that is warmer, or below 0 (a choice)

Hours = tuple[float, float]


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
