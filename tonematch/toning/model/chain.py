"""Layers one after another: what each should read, and what a layer that is taken back bares.

That is what was read before it was laid, or what must have lain there.
"""

from collections.abc import Callable, Sequence
from dataclasses import replace

import numpy as np

from tonematch.arrays import Array, Vector3
from tonematch.toning.core import Coat, Layer, Prediction, Step, Surface
from tonematch.toning.layers.taking_back import lifted, lifts_on, surface_after
from tonematch.toning.model.layer_model import LayerModel
from tonematch.toning.optics.film import Laid

Predict = Callable[[Layer, Laid, Array], tuple[Array, Array]]

# Deviation of each of L*, a*, b* of what nobody read: what lies beneath a layer, beside what its
# amount leaves open, and what one leaf differs by from another (a choice, no source).
UNREAD = 1.5
STEPS = 8  # each leaves a small part of the gap before it


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


def bared_by_lifts(predict: Predict, now: Vector3, surface: Surface) -> dict[Layer, Prediction]:
    """What can be taken back from a surface that reads `now`, from the top down, and what it bares.

    `predict` is a layer model's `predict_layer`; colours are CIELAB (D50, 2 degree).
    """
    bared: dict[Layer, Prediction] = {}
    for lift, here in lifts_on(surface):
        at = -lifted([layer.name for layer in here.beneath], lift.name)
        read = here.read_before[at] if here.read_before else None
        if read is None:
            bared[lift] = _beneath(predict, here.beneath[-1], now, here)
        else:
            bared[lift] = Prediction(np.array(read), np.zeros((3, 3)))
        now = bared[lift].lab
    return bared


def _beneath(predict: Predict, layer: Layer, now: Vector3, surface: Surface) -> Prediction:
    """The surface from which a layer in its weakest, middle or strongest mix leads to `now`."""
    strengths = np.array([layer.strengths[at] for at in (0, len(layer.strengths) // 2, -1)])
    lab, under = np.tile(now, (3, 1)), replace(surface, beneath=surface.beneath[:-1])
    for _ in range(STEPS):
        reached, _ = predict(layer, Laid.on(lab, strengths, 1.0, under), np.zeros((3, 3)))
        lab = lab + now - reached
        lab[:, 0] = np.clip(lab[:, 0], 0.0, 100.0)
    weak, middle, strong = lab
    spread = (strong - weak) / 2.0
    return Prediction(middle, np.outer(spread, spread) + UNREAD**2 * np.eye(3))
