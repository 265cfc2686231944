"""What a layer does over its strengths, as learned and as the shelf first guessed."""

from dataclasses import dataclass

import numpy as np

from tonematch.arrays import Array, Vector3
from tonematch.errors import ValueRefused
from tonematch.measure.colour.difference import delta_e_2000
from tonematch.swatchbook import swatch_table
from tonematch.toning.core import Layer, Surface
from tonematch.toning.model.layer_model import LayerModel
from tonematch.toning.optics.film import Laid

POINTS = 24


@dataclass(frozen=True, eq=False)
class Backdrop:
    """A surface to show a layer on: its CIELAB (D50, 2 degree)."""

    name: str
    lab: Vector3


@dataclass(frozen=True, eq=False)
class Curve:
    """One coat of a layer on one ground, over n strengths.

    CIELAB (D50, 2 degree) of the surface after each, (n, 3), its covariance, and how far it moved
    from the bare ground in CIEDE2000, (n,).
    """

    strengths: Array
    lab: Array
    covariance: Array
    moved: Array


def load_grounds() -> tuple[Backdrop, ...]:
    """The grounds that layers are shown on, of swatches/grounds.toml, the lightest first."""
    table = swatch_table("grounds.toml")["ground"]
    grounds = [Backdrop(entry["name"], np.array(entry["lab"])) for entry in table]
    return tuple(sorted(grounds, key=lambda ground: -ground.lab[0]))


def strength_curve(
    model: LayerModel, layer: Layer, ground: Backdrop, strengths: Array | None = None
) -> Curve:
    """What one coat of a layer does to a ground, by a fitted model, over strengths above 0.

    By default these lie evenly up to the strongest that the layer's entry names. Raises
    ValueRefused for a strength that is not above 0.
    """
    if strengths is None:
        strengths = np.linspace(0.0, layer.strengths[-1], POINTS + 1)[1:]
    strengths = np.asarray(strengths, dtype=np.float64)
    if not np.all(strengths > 0.0):  # "not a number" is not above 0 either
        raise ValueRefused("A strength is not above 0: give strengths that can be laid.")
    laid = Laid.on(ground.lab, strengths, 1.0, Surface())
    lab, covariance = model.predict_layer(layer, laid, np.zeros((3, 3)))
    return Curve(strengths, lab, covariance, np.asarray(delta_e_2000(ground.lab, lab)))


def first_guess(layer: Layer) -> LayerModel:
    """A model that knows of a layer only what its entry on the shelf says."""
    return LayerModel({layer.name: layer}).fit([], np.empty((0, 3)))
