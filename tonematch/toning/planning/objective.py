"""How near a predicted distribution comes to a target: the expectation, never the mean's own value.

The mean of CIEDE2000 over a distribution is greater than the CIEDE2000 of its mean: an uncertain
layer is charged for its uncertainty.
"""

from dataclasses import dataclass
from functools import cached_property

import numpy as np
import scipy

from tonematch.arrays import Array, Matrix3, Vector3
from tonematch.measure.colour.difference import delta_e_2000, local_metric

# Points of a predicted distribution over which an expectation is taken (a choice, no source).
SAMPLES = 32


@dataclass(frozen=True)
class Prices:
    """What a recipe is charged for, in units of CIEDE2000: choices of this project, no source."""

    layer: float = 0.2  # each layer: work, time and one more film on the gold
    coat: float = 0.05  # each coat after a layer's first
    day: float = 0.03  # each day on the bench until all is dry
    warning: float = 0.3  # each warning that comes from where the layer is laid
    irreversible: float = 0.5  # a step that cannot be undone
    lift: float = 0.5  # taking a layer back: a risk for what lies beneath
    last: float = 0.3  # a wax: nothing holds over it, so no later step can mend what it misses
    darker: float = 0.25  # each unit of L* below the target's


@dataclass(frozen=True, eq=False)
class Objective:
    """Where the surface should come to (CIELAB, D50, 2 degree), and how a result is scored.

    The covariance is that of the target's reading.
    """

    target: Vector3
    covariance: Matrix3
    prices: Prices = Prices()

    @cached_property
    def _normal(self) -> Array:
        return normal_points(SAMPLES)

    def costs(self, lab: Array, covariance: Array) -> Array:
        """Expected CIEDE2000 with the dislike of overshoot, without prices of layers, shape (n,).

        Of results (n, 3) with covariances (n, 3, 3).
        """
        points = spread_points(lab, covariance + self.covariance, self._normal)
        darker = np.maximum(self.target[0] - points[..., 0], 0.0)
        return np.asarray(
            np.mean(delta_e_2000(points, self.target) + self.prices.darker * darker, axis=1)
        )

    def rough_costs(self, lab: Array, covariance: Array) -> Array:
        """What `costs` would be, nearly, without points: for ranking many results fast.

        The root of the mean square distance stands for the mean distance.
        """
        darker = np.maximum(self.target[0] - lab[:, 0], 0.0)
        far = delta_e_2000(lab, self.target)
        return np.asarray(np.hypot(far, self.scatter(covariance)) + self.prices.darker * darker)

    def scatter(self, covariance: Array) -> Array:
        """Root mean square CIEDE2000 of results around their own mean, the target's doubt among it.

        Covariances (n, 3, 3) to (n,).
        """
        return self.size(covariance + self.covariance)

    def size(self, covariance: Array) -> Array:
        """Root mean square CIEDE2000 of errors of these covariances (n, 3, 3), shape (n,)."""
        mean_square = np.einsum("nij,ji->n", covariance, self._metric)
        return np.asarray(np.sqrt(np.maximum(mean_square, 0.0)))

    def ruled(self, difference: Array) -> Array:
        """Differences in CIELAB, (n, 3), in axes along which Euclid measures near the target."""
        return np.asarray(difference @ np.linalg.cholesky(self._metric))

    def unruled(self, difference: Array) -> Array:
        """The inverse of `ruled`."""
        return np.asarray(difference @ np.linalg.inv(np.linalg.cholesky(self._metric)))

    @cached_property
    def _metric(self) -> Matrix3:
        return np.asarray(local_metric(self.target[None])[0])


def normal_points(count: int) -> Array:
    """An even number of points, 8 or more, that stand for a standard normal; shape (count, 3).

    Mirrored so that their mean is 0, and scaled so that their covariance is the identity.

    Notes
    -----
    Even steps in one direction, multiples of irrational numbers in the others (Richtmyer; see
    Niederreiter, H. (1978). Quasi-Monte Carlo methods and pseudo-random numbers. Bulletin of the
    American Mathematical Society 84(6), 957-1041; from memory): as near as Sobol's points, which
    take 0.3 s to load.
    """
    half = count // 2
    even = np.arange(0.5, half)[:, None] * [1.0 / half, (np.sqrt(5.0) - 1.0) / 2.0, np.sqrt(3.0)]
    normal = scipy.special.ndtri(even % 1.0)
    points = np.vstack([normal, -normal])
    return np.asarray(points @ np.linalg.inv(np.linalg.cholesky(np.cov(points.T, bias=True))).T)


def spread_points(lab: Array, covariance: Array, normal: Array) -> Array:
    """Points (n, m, 3) of n normal distributions by m points of the standard normal, (m, 3)."""
    # A covariance may be singular (a reading without noise); a trace of noise makes it a root.
    root = np.linalg.cholesky(covariance + 1e-9 * np.eye(3))
    return np.asarray(lab[:, None, :] + normal @ root.swapaxes(-1, -2))
