"""A layer model small enough to be worked out by hand, for tests of the search and the plans."""

from collections.abc import Collection

import numpy as np

from tonematch.arrays import Array
from tonematch.toning.core import Layer
from tonematch.toning.optics.film import Laid

SHIFTS: dict[str, tuple[float, float, float]] = {
    "seal": (-0.3, 0.0, 0.4),
    "umber": (-12.0, -1.0, -5.0),
    "sienna": (-8.0, 6.0, 2.0),
    "black": (-14.0, -2.0, -9.0),
    "ochre": (-4.0, 1.5, 3.0),
    "dust": (-3.0, -2.0, -9.0),
    "wax": (-5.0, 0.5, 0.0),
    "rub": (-6.0, 5.0, -3.0),
}


class Tints:
    """Every layer shifts CIELAB by its amount times the lightness of what lies beneath.

    So the order of layers matters a little, as it does with real films. The hand's scatter is a
    share of the shift; what is not known of a layer may shift each of L*, a*, b* beside that.
    """

    def __init__(
        self,
        scatter: float = 0.1,
        noise: float = 0.0,
        tried: Collection[str] = frozenset(SHIFTS),
        unknown: float = 0.1,
    ) -> None:
        self.scatter, self.tried, self.unknown = scatter, frozenset(tried), unknown
        self.reading_covariance_: Array = noise**2 * np.eye(3)

    def freedom_of(self, layer: Layer) -> float:  # noqa: ARG002
        """Normal, however little is known."""
        return float("inf")

    def predict_layer(self, layer: Layer, laid: Laid, covariance: Array) -> tuple[Array, Array]:
        """Same contract as the LayerModel's."""
        shift = np.array(SHIFTS[layer.name])
        amount = laid.strength * laid.coats
        by_light = np.zeros((len(laid), 3, 3))
        by_light[:, :, 0] = amount[:, None] * shift / 90.0
        slope = np.eye(3) + by_light
        step = (amount * laid.before[:, 0] / 90.0)[:, None] * shift
        own = self.scatter * step
        carried = slope @ covariance @ slope.swapaxes(1, 2)
        after = carried + own[:, :, None] * own[:, None, :] + self.unknown**2 * np.eye(3)
        return laid.before + step, after


def tint_shelf() -> dict[str, Layer]:
    """Layers of the small model: oil glazes, watercolour washes, shellac, dust, wax and a rub."""
    layers = (
        Layer("seal", "seal", binder="shellac", solvent="alcohol", strengths=(1.0,), most_coats=1),
        Layer("umber", "glaze", binder="oil", solvent="white spirit"),
        Layer("sienna", "glaze", binder="oil", solvent="white spirit"),
        Layer("black", "wash", binder="gum", solvent="water"),
        Layer("ochre", "wash", binder="gum", solvent="water", most_coats=1),
        Layer("dust", "dust", binder="none", solvent="dry", most_coats=1),
        Layer("wax", "wax", binder="wax", solvent="white spirit", most_coats=1),
        Layer("rub", "rub", binder="none", solvent="dry", reversible="not reversible"),
    )
    return {layer.name: layer for layer in layers}
