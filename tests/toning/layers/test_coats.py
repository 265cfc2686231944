"""How long a coat dries: cold slows what dries, damp what is water-borne."""

import pytest

from tonematch.toning.core import Layer, Surface
from tonematch.toning.layers.coats import drying_hours, hours_in_all
from tonematch.toning.layers.shelf import load_shelf

SHELF = load_shelf()
GLAZE, WASH = SHELF["raw umber glaze"], SHELF["raw umber wash"]


def _times(layer: Layer, **air: float) -> float:
    """How many times as long it dries as its entry says."""
    return drying_hours(layer, Surface(**air))[1] / layer.drying_hours[1]  # type: ignore[arg-type]


def test_cold_slows_oil_and_damp_only_what_is_water_borne() -> None:
    # Van 't Hoff: twice to four times for 10 degrees; here twice, as in swatches/drying.toml.
    assert _times(GLAZE, temperature=10.0) == pytest.approx(2.0)
    assert _times(GLAZE, temperature=30.0) == pytest.approx(0.5)
    assert _times(GLAZE, humidity=80.0) == 1.0
    # Dalton 1802: evaporation goes with 1 - humidity; 50 % is usual.
    assert _times(WASH, humidity=75.0) == pytest.approx(2.0)
    assert _times(WASH, humidity=100.0) == pytest.approx(5.0)
    assert _times(WASH, humidity=75.0, temperature=10.0) == pytest.approx(4.0)


def test_saturated_vapour_halves_about_as_drying_doubles() -> None:
    # Saturation vapour pressure of water, hPa: 12.27 at 10, 23.37 at 20, 42.43 at 30 degrees
    # (World Meteorological Organization, Guide to Instruments, Annex 4.B; from memory).
    for celsius, pressure in ((10.0, 12.27), (30.0, 42.43)):
        assert _times(WASH, temperature=celsius) == pytest.approx(23.37 / pressure, rel=0.12)


def test_what_is_not_known_changes_nothing() -> None:
    assert drying_hours(GLAZE, Surface()) == GLAZE.drying_hours
    own = Layer("brew", "wash", drying_hours=(1.0, 2.0))
    assert drying_hours(own, Surface(temperature=5.0, humidity=90.0)) == (1.0, 2.0)


def test_days_on_the_bench_are_those_of_every_coat() -> None:
    rub = SHELF["rub to bole"]
    laid = [(rub, 1), (GLAZE, 2), (WASH, 1)]
    assert hours_in_all(laid, Surface()) == (36.25, 97.0)
