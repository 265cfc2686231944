"""Layers one after another: what each should read, with the uncertainty carried along."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from tonematch.arrays import Vector3
from tonematch.toning.core import Finish, Layer, Prediction, Step, Technique
from tonematch.toning.model.layer_model import LayerModel


@dataclass(frozen=True)
class Coat:
    """A layer with how much of it is laid."""

    layer: Layer
    strength: float
    coats: int = 1


def predict_steps(
    model: LayerModel,
    before: Vector3,
    coats: Sequence[Coat],
    technique: Technique = "unknown",
    finish: Finish = "unknown",
) -> list[Step]:
    """What the surface should read after each of several layers.

    Parameters
    ----------
    model : LayerModel
        Fitted.
    before : ndarray, shape (3,)
        CIELAB (D50, 2 degree) read before the first.

    Returns
    -------
    list of Step
        Each covariance holds the noise of the reading before, of every layer laid so far, and of
        the reading by which it would be checked.
    """
    lab = np.asarray(before, dtype=np.float64)[None]
    covariance = model.reading_covariance_[None]
    freedom = float("inf")
    steps = []
    for coat in coats:
        lab, covariance = model.predict_many(
            coat.layer.name,
            coat.layer.kind,
            lab,
            covariance,
            np.array([coat.strength]),
            np.array([coat.coats]),
            technique,
            finish,
        )
        # The layer that is known least decides how heavy the tails are.
        freedom = min(freedom, model.known(coat.layer.name, coat.layer.kind).freedom)
        reading = Prediction(lab[0], covariance[0] + model.reading_covariance_, freedom)
        steps.append(Step(coat.layer.name, coat.layer.kind, coat.strength, coat.coats, reading))
    return steps
