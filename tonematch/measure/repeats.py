"""Two or more photographs of the same original and repair become one comparison."""

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from tonematch.errors import ValueRefused
from tonematch.measure.budget import Errors, causes, draw_errors, shared_as
from tonematch.measure.comparison import DRAWS, SEED, conclude
from tonematch.measure.core import Comparison, Reading

Array = NDArray[np.float64]

# What photographs of one pair share beside tone and camera: the surfaces with their mottle, and
# the light in which they were taken. Only the card and the file are new with each.
_SHARED = (
    {"area": "the original's area", "light": "the light"},
    {"area": "the repair's area", "light": "the light"},
)


def combine(comparisons: Sequence[Comparison]) -> Comparison:
    """One comparison out of several of the same pair, each from its own photograph.

    Parameters
    ----------
    comparisons : sequence of Comparison
        One or more, of the same areas in the same light, with one tolerance.

    Returns
    -------
    Comparison
        Of the weighted means of the readings, weighed by the inverse of the areas' own variance.
        What the photographs share (the surface's mottle, the light, the camera) does not
        average out. How far they scatter about their mean is added as the uncertainty of a
        repeat.

    Raises
    ------
    ValueRefused
        Where there is none, or tolerances differ.

    References
    ----------
    JCGM 100:2008, 4.2.3: the experimental variance of a mean of repeats.
    """
    if not comparisons:
        raise ValueRefused("There is no comparison to combine: give one or more.")
    first = comparisons[0]
    if len(comparisons) == 1:
        return first
    if any(comparison.tolerance != first.tolerance for comparison in comparisons):
        raise ValueRefused(
            "The comparisons were judged by different tolerances: compare them with one tolerance."
        )
    weights = _weights(comparisons)
    budgets = [
        shared_as(causes(reading), shared)
        for comparison in comparisons
        for reading, shared in zip((comparison.original, comparison.repair), _SHARED, strict=True)
    ]
    drawn = draw_errors(budgets, DRAWS, SEED)
    errors = Errors(_weighed(drawn.whole, weights), _weighed(drawn.growing, weights))
    repeat = _repeat_root([c.repair.lab - c.original.lab for c in comparisons], weights)
    again = np.random.default_rng(SEED + 1).standard_normal((DRAWS, repeat.shape[1])) @ repeat.T
    errors.whole[0] -= again / 2.0
    errors.whole[1] += again / 2.0
    original = _mean_reading([c.original for c in comparisons], weights, errors.whole[0])
    repair = _mean_reading([c.repair for c in comparisons], weights, errors.whole[1])
    found = conclude(original, repair, errors, first.tolerance)
    said = [warning for comparison in comparisons for warning in comparison.warnings]
    return replace(found, warnings=tuple(dict.fromkeys([*said, *found.warnings])))


def _weights(comparisons: Sequence[Comparison]) -> Array:
    """Inverse variance of the areas themselves; sum 1."""
    own = [np.trace(c.original.own_covariance + c.repair.own_covariance) for c in comparisons]
    inverse = 1.0 / np.maximum(np.array(own), 1e-12)
    return np.asarray(inverse / inverse.sum())


def _weighed(drawn: Array, weights: Array) -> Array:
    """Errors of the mean original and the mean repair, shape (2, n, 3)."""
    by_photograph = drawn.reshape(len(weights), 2, *drawn.shape[1:])
    return np.asarray(np.tensordot(weights, by_photograph, axes=1))


def _repeat_root(differences: Sequence[Array], weights: Array) -> Array:
    """Root of the covariance of the mean difference, as the photographs scatter; (3, k)."""
    values = np.array(differences)
    apart = (values - weights @ values) * np.sqrt(weights)[:, None]
    return np.asarray(apart.T / np.sqrt(len(values) - 1))


def _mean_reading(readings: Sequence[Reading], weights: Array, errors: Array) -> Reading:
    """The mean of readings of one area; it is of no single photograph's calibration."""

    def mean(values: Sequence[Array | float]) -> Array:
        return np.asarray(np.tensordot(weights, np.array(values), axes=1))

    return replace(
        readings[0],
        lab=mean([reading.lab for reading in readings]),
        covariance=np.cov(errors.T),
        own_covariance=mean([reading.own_covariance for reading in readings]),
        pixels=sum(reading.pixels for reading in readings),
        left_out=sum(reading.left_out for reading in readings),
        spread_L=float(mean([reading.spread_L for reading in readings])),
        spread_C=float(mean([reading.spread_C for reading in readings])),
        warnings=tuple(dict.fromkeys(w for reading in readings for w in reading.warnings)),
        calibration=None,
        by_calibration=None,
        picture=None,
    )
