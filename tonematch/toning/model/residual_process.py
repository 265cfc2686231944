"""What the film law leaves of a layer's trials, learned together with the law by one process.

A reading after is law(theta) + f + e. Theta, the layer's numbers, has its prior; f is smooth over
the surface before, the amount, technique and finish; e is what hand, misfit and the two readings
scatter. Near the law's most probable theta all three are normal and add up, so one Gaussian process
holds them, and no part of what is seen is counted twice. What f does to one layer says nothing of
another, but how far it reaches, how large it is, and how steady the workshop's readings and hands
really are, is one estimate for all layers: where trials show nothing smooth, f comes out small.

References
----------
Rasmussen, C. E. and Williams, C. K. I. (2006). Gaussian Processes for Machine Learning, MIT Press:
equations 2.41 and 2.42 (a regression beneath a process), 5.8 and 5.9 (its likelihood). The tests
hold them to scikit-learn's.
"""

from collections.abc import Hashable, Sequence
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
import scipy
from numpy.typing import NDArray

from tonematch.arrays import Array
from tonematch.toning.optics.film import Laid, amount

# Units in which two applications count as neighbours: L*, a*, b* before, amount, and the two
# effects of technique and finish.
UNITS = np.array([25.0, 25.0, 25.0, 0.4, 1.0, 1.0])
# Natural logarithms of the variances of f in L*, a*, b*, of its lengths, and of the noise, and how
# far they may lie off: choices of this project, held against simulated logbooks and overprints.
EXPECTED = np.log([0.3, 0.3, 0.3, 2.0, 2.0, 2.0, 2.0, 2.0, 2.0, 1.0])
WIDTHS = np.array([1.5, 1.5, 1.5, 0.7, 0.7, 0.7, 0.7, 0.7, 0.7, 0.5])
# Squared Mahalanobis distance, 3 on average, beyond which a row is taken to be mistyped.
GROSS = 25.0
# Rounds of: the weight of each row, then the likeliest smoothness.
ROUNDS = 2
# Above this many trials of a layer the process is learned from the ones spread widest, and the
# smoothness from layers that have so many together.
MOST_LEARNED_FROM, ENOUGH = 150, 300
DECIMALS = 2  # of the logarithms: finer ones move no prediction that is printed


@dataclass(frozen=True, eq=False)
class Smoothness:
    """How all layers of a workshop stray from the law.

    The variance of f in L*, a* and b*, (3,), its lengths in the units of `features`, (6,), and a
    factor on the variances that hand, misfit and readings were thought to have.
    """

    sizes: Array
    lengths: Array
    noise: float

    @classmethod
    def of(cls, logs: Array) -> "Smoothness":
        """From natural logarithms, shape (10,)."""
        numbers = np.exp(logs)
        return cls(numbers[:3], numbers[3:9], float(numbers[9]))

    @property
    def key(self) -> Hashable:
        """The same for the same smoothness alone."""
        return self.sizes.tobytes(), self.lengths.tobytes(), self.noise

    def near(self, squares: Array) -> Array:
        """Correlation of f at features so far apart, squared (6, n, m); shape (n, m)."""
        far = self.lengths**-2.0 @ squares.reshape(len(squares), -1)
        return np.asarray(np.exp(-0.5 * far).reshape(squares.shape[1:]))


@dataclass(frozen=True, eq=False)
class Rows:
    """A layer's trials near the law's most probable theta.

    Attributes
    ----------
    places : ndarray, shape (n, 6)
        See `features`.
    slope : ndarray, shape (n, 3, 15)
        How the law moves with theta.
    left : ndarray, shape (n, 3)
        What was read less the law at the prior's mean, the law taken to be linear.
    noise : ndarray, shape (n, 3, 3)
        What hand, misfit and readings were thought to scatter.
    prior : ndarray, shape (15, 15)
        Covariance of theta.
    weight : ndarray, shape (n,)
        Factors that are small for rows which fit nothing.
    key : hashable
        The same for the same rows alone.
    """

    places: Array
    slope: Array
    left: Array
    noise: Array
    prior: Array
    weight: Array
    key: Hashable

    @cached_property
    def squares(self) -> Array:
        """Squared differences of the features, shape (6, n, n)."""
        return squared_differences(self.places, self.places)

    @cached_property
    def flat(self) -> Array:
        """The slope, shape (3 n, 15)."""
        return self.slope.reshape(-1, len(self.prior))

    def smooth(self, smoothness: Smoothness) -> Array:
        """Covariance of f, shape (3 n, 3 n)."""
        n = 3 * len(self.places)
        near = smoothness.near(self.squares)[:, None, :, None]
        return np.asarray((near * np.diag(smoothness.sizes)[:, None]).reshape(n, n))

    @cached_property
    def scatter(self) -> Array:
        """The noise, shape (3 n, 3 n)."""
        n = len(self.places)
        whole = np.zeros((n, 3, n, 3))
        whole[np.arange(n), :, np.arange(n)] = self.noise / self.weight[:, None, None] ** 2
        return whole.reshape(3 * n, 3 * n)

    @cached_property
    def unknown(self) -> Array:
        """Covariance of the law's values while theta has its prior, shape (3 n, 3 n)."""
        return np.asarray(self.flat @ self.prior @ self.flat.T)

    def weighed(self, smoothness: Smoothness) -> "Rows":
        """The same, what lies gross errors off what is said without it hardly counted."""
        each = [np.array([i]) for i in range(len(self.places))]
        strange = self.strangeness(smoothness, each)
        return replace(self, weight=np.sqrt(GROSS / np.maximum(strange, GROSS)))

    def strangeness(self, smoothness: Smoothness, folds: Sequence[NDArray[np.intp]]) -> Array:
        """Squared Mahalanobis distance of each row from what is said without its fold, shape (n,).

        Sundararajan, S. and Keerthi, S. S. (2001). Predictive approaches for choosing
        hyperparameters in Gaussian processes. Neural Computation 13(5), 1103-1118, for whole folds.
        """
        n = len(self.places)
        whole = self.smooth(smoothness) + smoothness.noise * self.scatter + self.unknown
        inverse = np.linalg.inv(whole)
        weights = (inverse @ self.left.ravel()).reshape(n, 3)
        inverse = inverse.reshape(n, 3, n, 3)
        strange = np.empty(n)
        for fold in folds:
            size, here = 3 * len(fold), np.arange(len(fold))
            covariance = np.linalg.inv(inverse[fold][:, :, fold].reshape(size, size))
            errors = (covariance @ weights[fold].ravel()).reshape(-1, 3, 1)
            own = covariance.reshape(len(fold), 3, len(fold), 3)[here, :, here]
            # What is said without a row does not hang on its weight: its noise is the honest one.
            honest = 1.0 - self.weight[fold, None, None] ** -2.0
            own = own + smoothness.noise * honest * self.noise[fold]
            strange[fold] = (errors * np.linalg.solve(own, errors)).sum(axis=(1, 2))
        return strange


def squared_differences(places: Array, others: Array) -> Array:
    """Of each feature, shape (6, n, m)."""
    return np.asarray((places.T[:, :, None] - others.T[:, None, :]) ** 2)


def features(theta: Array, laid: Laid) -> Array:
    """Where an application lies among others of its layer, shape (n, 6)."""
    columns = [*laid.before.T, amount(theta, laid), laid.technique, laid.finish]
    return np.asarray(np.stack(columns, axis=1) / UNITS)


def learn_smoothness(*layers: Rows) -> Smoothness:
    """The most probable smoothness of a workshop, its priors counted in."""
    layers = layers[:: max(1, sum(len(rows.places) for rows in layers) // ENOUGH)]
    u = np.zeros(len(EXPECTED))
    for _ in range(ROUNDS if layers else 0):
        now = Smoothness.of(EXPECTED + WIDTHS * u)
        weighed = [rows.weighed(now) for rows in layers]
        bounds = [(-8.0, 8.0)] * len(u)  # the prior holds u; they only keep exponentials finite
        u = scipy.optimize.minimize(
            unlikelihood, u, (weighed,), "L-BFGS-B", jac=True, bounds=bounds, options={"ftol": 1e-6}
        ).x
    return Smoothness.of(np.round(EXPECTED + WIDTHS * u, DECIMALS))


def unlikelihood(u: Array, layers: Sequence[Rows]) -> tuple[float, Array]:
    """Negative log marginal likelihood with the prior, and its gradient.

    `u`, shape (10,), are the logarithms less what is expected, over their widths.
    """
    smoothness = Smoothness.of(EXPECTED + WIDTHS * u)
    value, slope = 0.0, np.zeros(len(u))
    for rows in layers:
        n = len(rows.places)
        smooth, scatter = rows.smooth(smoothness), smoothness.noise * rows.scatter
        root = np.linalg.cholesky(smooth + scatter + rows.unknown)
        half = np.linalg.inv(root)
        inverse = half.T @ half
        weights = inverse @ rows.left.ravel()
        value += 0.5 * rows.left.ravel() @ weights + np.log(np.diag(root)).sum()
        pull = inverse - np.outer(weights, weights)
        shared = np.einsum("icjc->cij", (pull * smooth).reshape(n, 3, n, 3))
        slope[:3] += shared.sum(axis=(1, 2))
        slope[3:9] += smoothness.lengths**-2.0 * (
            rows.squares.reshape(6, -1) @ shared.sum(axis=0).ravel()
        )
        slope[9] += (pull * scatter).sum()
    return float(value + 0.5 * u @ u), 0.5 * WIDTHS * slope + u


@dataclass(frozen=True, eq=False)
class ResidualProcess:
    """What is known of a layer's theta and f from its n trials; n may be 0.

    Attributes
    ----------
    places : ndarray, shape (n, 6)
    inverse : ndarray, shape (3, 3, n, n)
        Of the covariance of f and noise there.
    weights : ndarray, shape (n, 3)
        That times what theta leaves.
    pull : ndarray, shape (n, 3, 15)
        That times the law's slope.
    shift : ndarray, shape (15,)
        From the law's most probable theta to the one that is most probable beside f.
    covariance : ndarray, shape (15, 15)
        Of theta.
    """

    smoothness: Smoothness
    places: Array
    inverse: Array
    weights: Array
    pull: Array
    shift: Array
    covariance: Array

    @classmethod
    def learn(cls, rows: Rows, smoothness: Smoothness, behind: Array) -> "ResidualProcess":
        """From the trials; `behind`, shape (15,), is the prior's mean less the law's theta."""
        n = len(rows.places)
        whole = rows.smooth(smoothness) + smoothness.noise * rows.scatter
        inverse: Array = np.asarray(np.linalg.inv(whole), dtype=np.float64)
        pull = inverse @ rows.flat
        covariance = np.linalg.inv(np.linalg.inv(rows.prior) + rows.flat.T @ pull)
        more = covariance @ (pull.T @ rows.left.ravel())
        weights = inverse @ (rows.left.ravel() - rows.flat @ more)
        return cls(
            smoothness,
            rows.places,
            inverse.reshape(n, 3, n, 3).transpose(1, 3, 0, 2),
            weights.reshape(n, 3),
            pull.reshape(rows.slope.shape),
            behind + more,
            np.asarray(covariance, dtype=np.float64),
        )

    def predict(self, places: Array, slope: Array) -> tuple[Array, Array]:
        """What is added to the law's value, (m, 3), and the covariance of both, (m, 3, 3).

        `places`, (m, 6), are features, and `slope`, (m, 3, 15), is that of the law there.
        """
        sizes = self.smoothness.sizes
        near = self.smoothness.near(squared_differences(places, self.places))
        known = np.array(
            [[((near @ one) * near).sum(axis=1) for one in row] for row in self.inverse]
        )
        across = slope - sizes[:, None] * np.tensordot(near, self.pull, 1)
        covariance = (
            np.diag(sizes)
            - np.outer(sizes, sizes) * np.moveaxis(known, 2, 0)
            + across @ self.covariance @ across.swapaxes(1, 2)
        )
        return slope @ self.shift + sizes * (near @ self.weights), covariance


def spread_out(places: Array) -> NDArray[np.intp]:
    """Rows to learn from: all, or those farthest apart (farthest-point sampling)."""
    if len(places) <= MOST_LEARNED_FROM:
        return np.arange(len(places))
    chosen = [0]
    nearest = np.full(len(places), np.inf)
    while len(chosen) < MOST_LEARNED_FROM:
        nearest = np.minimum(nearest, ((places - places[chosen[-1]]) ** 2).sum(axis=1))
        chosen.append(int(nearest.argmax()))
    return np.array(chosen)
