"""Two or more photographs of the same original and repair become one comparison.

What is new in every photograph averages out as 1 / n: noise of the pixels, noise of the card, and
the light where the lamp was moved. What stays does not: the mottle of the same marked areas,
metamerism, tone curve, camera, and the light of a lamp that stood still. Noise is told from
mottle by the repeats themselves (`noise_of_repeats`).
"""

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from tonematch.arrays import Array, Matrix3
from tonematch.errors import ValueRefused
from tonematch.measure.colour.camera_error import square_root
from tonematch.measure.comparison import DRAWS, SEED, conclude, has_profiles
from tonematch.measure.core import Comparison, Reading
from tonematch.measure.uncertainty.budget import (
    Cause,
    Errors,
    causes,
    draw_errors,
    metamerism_covariance,
    shared_as,
)
from tonematch.measure.uncertainty.two_photographs import own_shares, partly_own

_EXPLAINED = 0.95
_FEWEST_PARTS = 12


def combine(comparisons: Sequence[Comparison], lamp_moved: bool = False) -> Comparison:
    """One comparison out of several of the same areas, each from its own photograph.

    `lamp_moved` tells whether lamp or camera were moved in between, so that light fell otherwise
    each time. The means of the readings are weighed by the inverse of the areas' own variance.
    Where the photographs scatter about them by more than the causes that are new in each can
    explain (in 95 % of cases), the rest is added as the uncertainty of a repeat. Raises
    ValueRefused where there is none, or tolerances differ.

    References
    ----------
    JCGM 100:2008, 4.2.3: the experimental variance of a mean of repeats; 5.2.2 and F.1.2.3: what
    repeats share.
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
    sides = [c.original for c in comparisons], [c.repair for c in comparisons]
    noises = [noise_of_repeats(readings) for readings in sides]
    budgets = [
        tuple(
            partly_own(
                _budget(reading, noise, role, _light(comparison, role, lamp_moved)),
                own_shares(comparison.original, comparison.repair),
            )
        )
        for comparison in comparisons
        for role, reading, noise in zip(
            ("original", "repair"), (comparison.original, comparison.repair), noises, strict=True
        )
    ]
    drawn = draw_errors(budgets, DRAWS, SEED)
    differences = np.array([c.repair.lab - c.original.lab for c in comparisons])
    by_cause = {name: _weighed(part, weights) for name, part in drawn.by_cause.items()}
    by_cause["repeat"] = _repeat(differences, drawn.whole, weights)
    growing = np.array([_weighed(part, weights) for part in drawn.growing])
    errors = Errors(by_cause, growing)
    original, repair = (
        _mean_reading(readings, weights, errors, k) for k, readings in enumerate(sides)
    )
    profiled = has_profiles(*sides[0], *sides[1])
    found = conclude(original, repair, errors, first.tolerance, profiled, same_calibration=None)
    said = [warning for comparison in comparisons for warning in comparison.warnings]
    return replace(found, warnings=tuple(dict.fromkeys([*said, *found.warnings])))


def noise_of_repeats(readings: Sequence[Reading]) -> Matrix3:
    """Covariance (3, 3) of the mean of one photograph by what is new in every photograph.

    Of two or more readings of one area, each from its own photograph, and on average over them; 0
    where it cannot be told, as of readings out of a logbook.

    Notes
    -----
    Mottle of a part of the area is the same in every photograph and falls out of the differences
    between photographs; noise stays in them, with twice its variance. A steady change across
    the area is taken off first: a lamp that was moved makes one. Parts are larger than the
    noise's grain, so the variance of the mean of b parts is that of one, divided by b. Noise of
    coarser grain is counted with the mottle, which is cautious. Degrees of freedom as in
    JCGM 100:2008, 4.2.4: b less the three of the plane.
    """
    grids = [reading.parts for reading in readings if reading.parts is not None]
    if len(grids) < len(readings):
        return np.zeros((3, 3))
    values = np.array(grids)
    used = np.isfinite(values).all(axis=(0, 3))
    b = int(used.sum())
    if b < _FEWEST_PARTS:
        return np.zeros((3, 3))
    rows, columns = np.nonzero(used)
    plane = np.column_stack([np.ones(b), rows, columns])
    apart = values[:, used] - values[:, used].mean(axis=0)
    apart = apart - plane @ (np.linalg.pinv(plane) @ apart)
    scatter = np.einsum("nbi,nbj->ij", apart, apart)
    return np.asarray(scatter / ((len(values) - 1) * (b - 3) * b))


def _weights(comparisons: Sequence[Comparison]) -> Array:
    """Inverse variance of the areas themselves; sum 1."""
    own = [np.trace(c.original.own_covariance + c.repair.own_covariance) for c in comparisons]
    inverse = 1.0 / np.maximum(np.array(own), 1e-12)
    return np.asarray(inverse / inverse.sum())


def _light(comparison: Comparison, role: str, lamp_moved: bool) -> str:
    """What the error of the light is shared by: areas of one photograph, and its repeats."""
    one = comparison.original.photo_sha256 == comparison.repair.photo_sha256
    if lamp_moved:
        reading = comparison.original if role == "original" else comparison.repair
        return f"light {reading.photo_sha256}"
    return "the light" if one else f"the {role}'s light"


def _budget(reading: Reading, noise: Matrix3, role: str, light: str) -> tuple[Cause, ...]:
    """A reading's causes, its own noise apart from what stays of its area."""
    surface = metamerism_covariance(reading.lab)
    mottle = square_root(reading.own_covariance - surface - noise)
    stays = square_root(mottle @ mottle.T + surface)
    words = {"light": light, "rest": f"the {role}'s rest"}
    return (
        Cause("noise", square_root(noise)),
        Cause("area", stays, f"the {role}'s area"),
        *(cause for cause in shared_as(causes(reading), words) if cause.name != "area"),
    )


def _weighed(drawn: Array, weights: Array) -> Array:
    """Errors of the mean original and the mean repair, shape (2, n, 3)."""
    by_photograph = drawn.reshape(len(weights), 2, *drawn.shape[1:])
    return np.asarray(np.tensordot(weights, by_photograph, axes=1))


def _repeat(differences: Array, errors: Array, weights: Array) -> Array:
    """Errors of the means by what no cause explains of the photographs' scatter, (2, n, 3).

    What the causes explain is the scatter of the drawn errors: below its 95th percentile nothing
    is added, beyond it all but its mean.
    """
    by_photograph = errors.reshape(len(weights), 2, *errors.shape[1:])
    explained = _scatters(by_photograph[:, 1] - by_photograph[:, 0], weights)
    seen = _scatters(differences[:, None], weights)[0]
    sizes = np.trace(explained, axis1=1, axis2=2)
    if np.trace(seen) <= np.quantile(sizes, _EXPLAINED):
        return np.zeros_like(by_photograph[0])
    root = square_root(seen - explained.mean(axis=0))
    again = np.random.default_rng(SEED + 1).standard_normal((DRAWS, 3)) @ root
    return np.array([-again / 2.0, again / 2.0])


def _scatters(values: Array, weights: Array) -> Array:
    """Covariances of the weighted mean as the photographs scatter, one a case: (cases, 3, 3).

    `values` has the shape (photographs, cases, 3).
    """
    apart = values - np.tensordot(weights, values, axes=1)
    sums = np.einsum("k,kni,knj->nij", weights, apart, apart)
    return np.asarray(sums / (len(values) - 1))


def _mean_reading(
    readings: Sequence[Reading], weights: Array, errors: Errors, side: int
) -> Reading:
    """The mean of readings of one area; it is of no single photograph's calibration."""
    own = errors.by_cause["noise"][side] + errors.by_cause["area"][side]

    def mean(values: Sequence[Array | float]) -> Array:
        return np.asarray(np.tensordot(weights, np.array(values), axes=1))

    return replace(
        readings[0],
        lab=mean([reading.lab for reading in readings]),
        covariance=np.cov(errors.whole[side].T),
        own_covariance=np.cov(own.T),
        pixels=sum(reading.pixels for reading in readings),
        left_out=sum(reading.left_out for reading in readings),
        spread_L=float(mean([reading.spread_L for reading in readings])),
        spread_C=float(mean([reading.spread_C for reading in readings])),
        warnings=tuple(dict.fromkeys(w for reading in readings for w in reading.warnings)),
        calibration=None,
        by_calibration=None,
        picture=None,
        parts=None,
    )
