"""What more than one room's tests need."""

from collections.abc import Mapping

import pytest

from tonematch.toning.core import Layer


@pytest.fixture
def small_shelf() -> Mapping[str, Layer]:
    """Three invented layers, one of a kind."""
    layers = (
        Layer("thin shellac", "seal"),
        Layer("raw umber wash", "wash"),
        Layer("rottenstone", "dust"),
    )
    return {layer.name: layer for layer in layers}
