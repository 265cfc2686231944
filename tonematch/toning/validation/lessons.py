"""What a trial taught, in words: how surprising it was, and what is thought of its layer now."""

import numpy as np
from numpy.typing import ArrayLike

from tonematch.arrays import Array, Vector3
from tonematch.measure.colour.difference import delta_e_2000
from tonematch.measure.words import difference_parts, join_words
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
_HOW_MUCH = ((0.15, "a little"), (0.5, "clearly"))
STRENGTHENED = np.exp(np.linspace(-1.6, 1.6, 129))  # by which a layer may be stronger than thought


def surprise(predicted: Prediction, got: ArrayLike) -> str:
    """How what was read after a layer (CIELAB, D50, 2 degree) lies beside what was predicted.

    Examples
    --------
    >>> surprise(Prediction(np.array([80.0, 8, 30]), np.eye(3)), [80.5, 8.2, 30.1])
    'It came out within what was expected.'
    """
    read = np.asarray(got, dtype=np.float64)
    chance = chance_as_far(predicted, read)
    if chance >= A_LITTLE:
        return "It came out within what was expected."
    said = f"It came out {_words(predicted.lab, read)} than expected"
    if chance >= A_SLIP:
        rare = "" if chance >= SURPRISING else "only "
        return f"{said}, as happens {rare}once in {_one_in(chance)}."
    return f"{said}, too far off to be chance: check what was typed, and the photograph."


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
        parts.append(f"as {_how_much(factor)} than it was thought to be")
    hue = _words(rest, now[0])
    if hue and float(delta_e_2000(rest, now[0])) >= SAID_REST:
        parts.append(f"as leaving the surface {hue}")
    if parts:
        return f"{ours} now counts {' and '.join(parts)}."
    predicted = before.predict_distribution(a) if predicted is None else predicted
    if chance_as_far(predicted, trial.after) < A_LITTLE:
        return f"{ours} is thought of as before: one result so far off is taken for scatter."
    if doubt_now < 0.95 * doubt_then:
        return f"{ours} does what was thought, and is known better now."
    return f"{ours} does what was thought."


def layer_scatter(model: LayerModel, name: str) -> str:
    """How much a layer varies from one day to the next; empty where its trials are too few."""
    known = model.layers_.get(name)
    if known is None or known.trials < FEWEST_FOR_SCATTER:
        return ""
    varies = f"varies by about {100 * known.components.hand:.0f} % from one day to the next"
    return f"Your {name} {varies}."


def _laid(model: LayerModel, trial: Trial, factors: Array) -> tuple[Array, float]:
    """CIELAB after the trial's layer at several times its strength, and the first's doubt."""
    a = trial.application
    laid = Laid.on(a.before, a.strength * factors, a.coats, a)
    lab, covariance = model.predict_layer(model.entry(a.layer, a.kind), laid, np.zeros((3, 3)))
    points = lab[0] + np.linalg.cholesky(covariance[0] + 1e-9 * np.eye(3)).T
    return lab, float(np.sqrt((delta_e_2000(points, lab[0]) ** 2).sum()))


def _how_much(factor: float) -> str:
    """``a little stronger``, ``clearly weaker``, ``much weaker``: by what a strength is off."""
    off = max(factor, 1.0 / factor) - 1.0
    how = next((words for most, words in _HOW_MUCH if off <= most), "much")
    return f"{how} {'stronger' if factor > 1.0 else 'weaker'}"


def _words(original: Vector3, other: Vector3) -> str:
    """``darker and redder``; empty where no part of the difference is worth a word."""
    words = [part.word for part in difference_parts(original, other)]
    return join_words(words) if words else ""


def _one_in(chance: float) -> int:
    return int(float(f"{1.0 / chance:.1g}"))
