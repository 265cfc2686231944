"""Layers one after another: what each should read, with the uncertainty carried along."""

from collections.abc import Sequence

from tonematch.arrays import Vector3
from tonematch.toning.core import Coat, Prediction, Step, Surface
from tonematch.toning.layers.taking_back import surface_after
from tonematch.toning.model.bared import bared_by_lifts
from tonematch.toning.model.layer_model import LayerModel
from tonematch.toning.optics.film import Laid


def predict_steps(
    model: LayerModel, before: Vector3, coats: Sequence[Coat], surface: Surface
) -> list[Step]:
    """What the surface should read (D50, 2 degree) after each of several layers.

    Each covariance holds the noise of the reading before, of every layer laid so far, and of the
    reading by which it would be checked.
    """
    lab, noise = before, model.reading_covariance_
    covariance, freedom = noise, float("inf")
    steps = []
    for coat in coats:
        layer = coat.layer
        bared = bared_by_lifts(model.predict_layer, lab, surface).get(layer)
        under = None if bared is None else bared.lab
        laid = Laid.on(lab, coat.strength, coat.coats, surface, under)
        surface = surface_after(surface, layer, coat.coats, lab)
        (lab,), (covariance,) = model.predict_layer(layer, laid, covariance)
        if bared is not None:
            covariance = covariance + bared.covariance
        # The layer that is known least decides how heavy the tails are.
        freedom = min(freedom, model.known(layer).freedom)
        reading = Prediction(lab, covariance + noise, freedom)
        steps.append(Step(layer.name, layer.kind, coat.strength, coat.coats, reading))
    return steps
