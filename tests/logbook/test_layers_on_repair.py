"""What lies on a repair: what was there before, then what was laid."""

from collections.abc import Mapping
from dataclasses import replace

from tonematch.logbook.core import Piece
from tonematch.logbook.layers_on_repair import surface_of
from tonematch.toning.core import Layer, Trial


def test_what_lay_there_comes_below_what_was_laid(
    trial: Trial, small_shelf: Mapping[str, Layer]
) -> None:
    gone = replace(trial, application=replace(trial.application, layer="old brew", kind="glaze"))
    capitals = replace(trial, application=replace(trial.application, layer="Raw Umber wash"))
    piece = Piece("frame", laid_before=("thin shellac", "forgotten"))
    on = surface_of(piece, [trial, gone, capitals], small_shelf).beneath
    assert [layer.name for layer in on] == [
        "thin shellac", "forgotten", *["raw umber wash"] * 2, *["old brew"] * 2,
        *["raw umber wash"] * 2,
    ]  # fmt: skip
    assert on[0] is small_shelf["thin shellac"]
    assert on[4] == Layer("old brew", "glaze")
    assert surface_of(Piece("bare"), [], small_shelf).beneath == ()
