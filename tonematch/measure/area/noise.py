"""Means over an area and its parts, and how surely they are known, neighbours being alike."""

import numpy as np
from numpy.typing import NDArray

from tonematch.arrays import Array, Matrix3
from tonematch.measure.core import Area

# Parts along each side of an area: as the blocks of `pixels`, larger than the grain of the noise.
_ACROSS = 6
_FEWEST_BLOCKS = 5
# Ranges of correlation that are tried, in blocks; the first is none.
_RANGES = (0.1, 0.5, 0.75, 1.0, 1.5, 2.0)


def block_means(values: Array, block: NDArray[np.int64]) -> tuple[Array, Array]:
    """Means of values (n, k) over numbered blocks, (b, k), and how many pixels each stands for."""
    counts = np.bincount(block)
    used = counts > 0
    sums = [np.bincount(block, weights=values[:, k])[used] for k in range(values.shape[1])]
    return np.stack(sums, axis=-1) / counts[used, None], counts[used].astype(np.float64)


def part_means(values: Array, places: Array, area: Area, across: int = _ACROSS) -> Array:
    """Means of values (n, 3) at places (n, 2) over parts of an area, shape (across, across, 3).

    Row by row over the area's bounds, so that parts of two photographs of one surface answer to
    each other; nan where none of the values lies.
    """
    corners = np.array(area.corners)
    start, end = corners.min(axis=0), corners.max(axis=0)
    column, row = np.clip((across * (places - start) / (end - start)).astype(int), 0, across - 1).T
    part = row * across + column
    means = np.full((across**2, 3), np.nan)
    means[np.unique(part)], _ = block_means(values, part)
    return means.reshape(across, across, 3)


def covariance_of_mean(
    values: Array, block: NDArray[np.int64], places: Array | None = None
) -> Matrix3 | None:
    """Covariance of the mean of values that are correlated between neighbours.

    Parameters
    ----------
    values : ndarray, shape (n, 3)
        Light, above 0 on average.
    block : ndarray, shape (n,)
        Number of the block that each lies in.
    places : ndarray, shape (n, 2), optional
        Where each lies, in pixels. Where given, blocks need not be larger than the grain.

    Returns
    -------
    ndarray, shape (3, 3), or None
        None where fewer than five blocks hold pixels.

    Notes
    -----
    Means of blocks larger than the correlation are nearly independent, so their scatter tells
    that of the whole mean (Carlstein 1986, non-overlapping blocks). The factor
    (b - 1) / (b - 3) is that of the t distribution of a covariance from b values, JCGM
    101:2008, 6.4.9. With places, the correlation from block to block is found beside, along
    each principal direction of the block means by itself: pixel noise is fine where mottle is
    coarse.
    """
    means, counts = block_means(values, block)
    b = len(counts)
    if b < _FEWEST_BLOCKS:
        return None
    weights = counts / counts.sum()
    centre = weights @ means
    scatter = (means - centre) * weights[:, None]
    covariance = scatter.T @ scatter * (b / (b - 1)) * ((b - 1) / (b - 3))
    if places is None:
        return np.asarray(covariance)
    # Shares of the mean, so that a dark channel counts as much as a bright one.
    centre = np.maximum(centre, 1e-9)
    shares = (means - centre) / centre
    _, axes = np.linalg.eigh(shares.T @ shares)
    middles, _ = block_means(places, block)
    along = shares @ axes
    variances = [variance_of_mean(part, middles, weights) for part in along.T]
    root = centre[:, None] * axes * np.sqrt(np.array(variances) * (b - 1) / (b - 3))
    return np.asarray(root @ root.T)


def variance_of_mean(values: Array, places: Array, weights: Array) -> float:
    """Variance of a weighted mean of block means (b,) whose correlation falls with distance.

    The geometric mean over forms (exponential, Gaussian) and ranges of the correlation, up to a
    third of the area, each weighted by its restricted likelihood. Places are (b, 2), weights have
    the sum 1.

    References
    ----------
    Patterson, H. D. and Thompson, R. (1971). Recovery of inter-block information when block
    sizes are unequal. Biometrika 58(3), 545-554.
    """
    b = len(values)
    distance = np.linalg.norm(places[:, None] - places[None], axis=-1)
    nearest = float(np.median(np.where(distance > 0, distance, np.inf).min(axis=1)))
    lag = distance / nearest
    found, likelihood = [], []
    for length in _RANGES:
        for power in (1, 2):
            correlation = np.exp(-((lag / length) ** power)) + 1e-6 * np.eye(b)
            inverse = np.linalg.inv(correlation)
            ones = inverse.sum(axis=1)
            middle = float(ones @ values / ones.sum())
            apart = values - middle
            variance = max(float(apart @ inverse @ apart) / (b - 1), 1e-30)
            found.append(variance * float(weights @ correlation @ weights))
            spread = np.linalg.slogdet(correlation)[1] + np.log(ones.sum())
            likelihood.append(-0.5 * ((b - 1) * np.log(variance) + spread))
    odds = np.exp(np.array(likelihood) - max(likelihood))
    return float(np.exp(odds @ np.log(found) / odds.sum()))
