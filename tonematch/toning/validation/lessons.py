"""What a trial taught, in words: how surprising it was, and what is thought of its layer now."""

import numpy as np
from numpy.typing import ArrayLike

from tonematch.arrays import Array, Vector3
from tonematch.measure.colour.difference import delta_e_2000
from tonematch.measure.words import difference_parts, join_words, plain_lab
from tonematch.toning.core import Prediction, Trial
from tonematch.toning.model.layer_model import LayerModel
from tonematch.toning.model.mahalanobis import chance_as_far
from tonematch.toning.optics.film import Laid

# Chance of being as far off or farther below which a result is called so; choices, no source.
A_LITTLE, SURPRISING, A_SLIP = 0.1, 0.01, 1e-4
# A layer's own scatter is named from so many trials of it: before, it is mostly assumed.
FEWEST_FOR_SCATTER = 4
# A layer that moves the surface less than this CIEDE2000 has no strength that could be read.
LEAST_MOVE = 1.0
# What is learned is said from this relative change of strength, and this CIEDE2000 of hue.
SAID_STRENGTH, SAID_REST = 0.03, 0.5
STRENGTHENED = np.exp(np.linspace(-1.6, 1.6, 129))  # by which a layer may be stronger than thought


def surprise(predicted: Prediction, got: ArrayLike) -> str:
    """What was predicted, what was read (CIELAB, D50, 2 degree), and how surprising that is.

    Examples
    --------
    >>> surprise(Prediction(np.array([80.0, 8, 30]), np.eye(3)), [80.5, 8.2, 30.1])
    'Predicted L*a*b* 80.0, 8.0, 30.0, got 80.5, 8.2, 30.1: CIEDE2000 0.4, as expected.'
    """
    read = np.asarray(got, dtype=np.float64)
    chance = chance_as_far(predicted, read)
    far = float(delta_e_2000(predicted.lab, read))
    said = (
        f"Predicted L*a*b* {plain_lab(predicted.lab)}, got {plain_lab(read)}: CIEDE2000 {far:.1f}"
    )
    if chance >= A_LITTLE:
        return f"{said}, as expected."
    said += f", {_than(predicted.lab, read)} predicted"
    if chance >= SURPRISING:
        return f"{said}; a little surprising (as far off in one case of {_one_in(chance)})."
    if chance >= A_SLIP:
        return f"{said}; surprising (as far off in one case of {_one_in(chance)})."
    return f"{said}; too far off to be scatter: check the entry and the photograph."


def taught(
    before: LayerModel, after: LayerModel, trial: Trial, predicted: Prediction | None = None
) -> str:
    """What a trial changed in what is thought of its layer, in one sentence.

    The models are fitted without and with it; `predicted` is what `surprise` was told of, so that
    both say the same, and that of `before` unless given.
    """
    a = trial.application
    ours = f"Your {a.layer}"
    thought, doubt_then = _laid(before, trial, np.ones(1))
    now, doubt_now = _laid(after, trial, np.ones(1))
    factor, rest = 1.0, thought[0]
    if float(delta_e_2000(thought[0], a.before)) > LEAST_MOVE:
        scaled, _ = _laid(before, trial, STRENGTHENED)
        nearest = int(np.argmin(delta_e_2000(scaled, now[0])))
        factor, rest = float(STRENGTHENED[nearest]), scaled[nearest]
    parts = []
    if abs(factor - 1.0) >= SAID_STRENGTH:
        stronger = "stronger" if factor > 1.0 else "weaker"
        parts.append(f"is about {100 * abs(factor - 1.0):.0f} % {stronger} than thought")
    if float(delta_e_2000(rest, now[0])) >= SAID_REST:
        parts.append(f"leaves the surface {_than(rest, now[0])} thought")
    if parts:
        return f"{ours} {' and '.join(parts)}."
    predicted = before.predict_distribution(a) if predicted is None else predicted
    if chance_as_far(predicted, trial.after) < A_LITTLE:
        return f"{ours} is thought of as before: one result so far off is taken for scatter."
    if doubt_now < 0.95 * doubt_then:
        return (
            f"{ours} does what was thought, and is known better: to within CIEDE2000 "
            f"{doubt_now:.1f} here, {doubt_then:.1f} before."
        )
    return f"{ours} does what was thought."


def layer_scatter(model: LayerModel, name: str) -> str:
    """How much a layer varies from one day to the next; empty where its trials are too few."""
    known = model.layers_.get(name)
    if known is None or known.trials < FEWEST_FOR_SCATTER:
        return ""
    varies = f"varies by about {100 * known.components.hand:.0f} % from one day to the next"
    return f"Your {name} {varies} ({known.trials} trials)."


def _laid(model: LayerModel, trial: Trial, factors: Array) -> tuple[Array, float]:
    """CIELAB after the trial's layer at several times its strength, and the first's doubt."""
    a = trial.application
    laid = Laid.on(a.before, a.strength * factors, a.coats, a)
    lab, covariance = model.predict_layer(model.entry(a.layer, a.kind), laid, np.zeros((3, 3)))
    points = lab[0] + np.linalg.cholesky(covariance[0] + 1e-9 * np.eye(3)).T
    return lab, float(np.sqrt((delta_e_2000(points, lab[0]) ** 2).sum()))


def _than(original: Vector3, other: Vector3) -> str:
    words = [part.word for part in difference_parts(original, other)]
    if not words:
        return "the same as"
    return f"{join_words(words)} than"


def _one_in(chance: float) -> int:
    return int(float(f"{1.0 / chance:.1g}"))
