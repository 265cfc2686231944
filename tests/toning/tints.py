"""A layer model small enough to be worked out by hand, for tests of the search and the plans."""

import numpy as np
from numpy.typing import NDArray

from tonematch.toning.core import Finish, Kind, Layer, Technique

Array = NDArray[np.float64]

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
    share of the shift.
    """

    def __init__(self, scatter: float = 0.1) -> None:
        self.scatter = scatter

    def predict_many(
        self,
        layer: str,
        kind: Kind,  # noqa: ARG002
        before: Array,
        before_covariance: Array,
        strength: Array,
        coats: Array,
        technique: Technique = "unknown",  # noqa: ARG002
        finish: Finish = "unknown",  # noqa: ARG002
    ) -> tuple[Array, Array]:
        """Same contract as the LayerModel's."""
        shift = np.array(SHIFTS[layer])
        amount = strength * coats
        by_light = np.zeros((len(before), 3, 3))
        by_light[:, :, 0] = amount[:, None] * shift / 90.0
        slope = np.eye(3) + by_light
        step = (amount * before[:, 0] / 90.0)[:, None] * shift
        own = self.scatter * step
        covariance = slope @ before_covariance @ slope.swapaxes(1, 2)
        return before + step, covariance + own[:, :, None] * own[:, None, :] + 0.01 * np.eye(3)


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
