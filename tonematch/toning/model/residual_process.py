"""What the film law leaves of a layer's trials, learned by a Gaussian process where that helps.

Whether it helps is decided by leaving out one piece at a time (one trial where all are of one
piece): the process is kept only if it predicts the left-out trials clearly better than the law.
With many trials of a layer the law itself may be trusted by half or not at all, where that predicts
the left-out trials better: halftone-like or pooling layers are no films.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import Bounds, minimize

from tonematch.arrays import Array
from tonematch.measure.colour.local_metric import local_metric
from tonematch.toning.model.group_folds import folds_by_piece
from tonematch.toning.optics.film import Laid, amount

# Units in which two applications count as neighbours: L*, a*, b* before, amount, and the two
# effects of technique and finish.
UNITS = np.array([25.0, 25.0, 25.0, 0.4, 1.0, 1.0])
FEWEST_FOR_PROCESS = 6
# Least fall of the mean left-out error, as a share, for the process to be kept.
WORTHWHILE = 0.05
# Standard errors between pieces by which a process must better the law: noise is taken for more
# where a fall of 5 % alone decides.
SURE = 2.0
# Part of the law's shift that is kept beneath the process; less than all only from so many trials.
TRUSTS = (1.0, 0.5, 0.0)
DOUBTED_FROM = 20
# Above this many trials of a layer the process is learned from the ones spread widest.
MOST_LEARNED_FROM = 150
JITTER = 1e-10  # on the diagonal, as scikit-learn adds it


@dataclass(frozen=True, eq=False)
class Process:
    """Gaussian processes on the same places, one for each of c quantities.

    Rasmussen, C. E. and Williams, C. K. I. (2006). Gaussian Processes for Machine Learning,
    equations 2.25 and 2.26. The tests hold it to scikit-learn's, which takes a second to load.

    Attributes
    ----------
    logs : ndarray, shape (c, k + 2)
        Natural logarithms of the constant, the k lengths and the noise of each.
    places : ndarray, shape (m, k)
        Features of what it was learned from.
    inverse : ndarray, shape (c, m, m)
        Of the covariance there.
    weights : ndarray, shape (c, m)
        That times what was read.
    """

    logs: Array
    places: Array
    inverse: Array
    weights: Array

    @classmethod
    def learn(cls, logs: Array, places: Array, y: Array) -> "Process":
        """With fixed numbers, from what was read at the places, y of shape (m, c)."""
        noise = np.exp(logs[:, -1]) + JITTER
        own = noise[:, None, None] * np.eye(len(places))
        inverse: Array = np.asarray(
            np.linalg.inv(_smooth(logs, _squares(places, places)) + own), dtype=np.float64
        )
        return cls(logs, places, inverse, np.einsum("cmn,nc->cm", inverse, y))

    def predict(self, X: Array) -> tuple[Array, Array]:
        """Mean, and variance with the noise, at other places (n, k); shape (n, c)."""
        near = _smooth(self.logs, _squares(X, self.places))
        known = np.einsum("cnm,cnm->nc", near @ self.inverse, near)
        size, noise = np.exp(self.logs[:, 0]), np.exp(self.logs[:, -1])
        mean = np.einsum("cnm,cm->nc", near, self.weights)
        return mean, np.maximum(size + noise - known, 0.0)

    def left_out(self, folds: list[NDArray[np.intp]]) -> tuple[Array, Array]:
        """Errors of predicting each fold from the others, and the variances expected of them.

        Sundararajan, S. and Keerthi, S. S. (2001). Predictive approaches for choosing
        hyperparameters in Gaussian processes. Neural Computation 13(5), 1103-1118, for whole folds.

        Returns
        -------
        errors, variances : ndarray, shape (m, c)
        """
        errors, variances = np.empty((2, *self.weights.T.shape))
        for fold in folds:
            covariance = np.linalg.inv(self.inverse[:, fold[:, None], fold])
            errors[fold] = np.einsum("cij,cj->ic", covariance, self.weights[:, fold])
            variances[fold] = np.diagonal(covariance, axis1=1, axis2=2).T
        return errors, variances


def _smooth(logs: Array, squares: Array) -> Array:
    """Covariance without noise between features so far apart, shape (c, n, m)."""
    far = np.exp(-2.0 * logs[:, 1:-1]) @ squares.reshape(len(squares), -1)
    smooth = np.exp(logs[:, :1] - 0.5 * far)
    return np.asarray(smooth.reshape(-1, *squares.shape[1:]))


def _squares(X: Array, places: Array) -> Array:
    """Squared differences of each feature, shape (k, n, m)."""
    return np.asarray((X.T[:, :, None] - places.T[:, None, :]) ** 2)


@dataclass(frozen=True, eq=False)
class ResidualProcess:
    """A Gaussian process for what is left of L*, a* and b*.

    Attributes
    ----------
    theta : ndarray, shape (12,)
        Of the law beneath.
    trust : float
        Part of the law's shift that is kept, 0 to 1.
    rows : ndarray, shape (m,)
        Which trials it was learned from.
    errors, variances : ndarray, shape (m, 3)
        Of predicting each of them when its piece is left out.
    """

    process: Process
    theta: Array
    trust: float
    rows: NDArray[np.intp]
    errors: Array
    variances: Array

    def predict(self, laid: Laid, law: Array) -> tuple[Array, Array]:
        """CIELAB after, and the variance of each coordinate that the process adds.

        Parameters
        ----------
        law : ndarray, shape (n, 3)
            What the film law gives.

        Returns
        -------
        lab, variance : ndarray, shape (n, 3)
        """
        mean, variance = self.process.predict(features(self.theta, laid))
        return trusted(self.trust, laid, law) + mean, variance


def trusted(trust: float, laid: Laid, law: Array) -> Array:
    """The surface before, moved by a part of the law's shift, shape (n, 3)."""
    return np.asarray(laid.before + trust * (law - laid.before))


def features(theta: Array, laid: Laid) -> Array:
    """Where an application lies among others of its layer, shape (n, 6)."""
    columns = [*laid.before.T, amount(theta, laid), laid.technique, laid.finish]
    return np.asarray(np.stack(columns, axis=1) / UNITS)


def learn_residual_process(
    theta: Array, laid: Laid, law: Array, after: Array, groups: NDArray[np.str_]
) -> ResidualProcess | None:
    """Learn the process, if leaving out pieces shows that it can be predicted.

    Parameters
    ----------
    theta : ndarray, shape (12,)
    law : ndarray, shape (n, 3)
        What the film law gives for each trial.
    after : ndarray, shape (n, 3)
        What was read.
    groups : ndarray, shape (n,)
        Piece of each trial.

    Returns
    -------
    ResidualProcess or None
        None where the film law alone does as well.
    """
    if len(laid) < FEWEST_FOR_PROCESS:
        return None
    rows = _spread_out(features(theta, laid))
    laid, law, after = laid.only(rows), law[rows], after[rows]
    X, metric = features(theta, laid), local_metric(after)
    squares = _squares(X, X)
    folds = [piece for _, piece in folds_by_piece(list(groups[rows]), len(rows))]

    def judged(gap: Array) -> Array:
        return np.asarray(np.sqrt(np.einsum("ni,nij,nj->n", gap, metric, gap)))

    best, least, surely = None, judged(after - law), SURE
    for trust in TRUSTS if len(laid) >= DOUBTED_FROM else TRUSTS[:1]:
        left = after - trusted(trust, laid, law)
        process = Process.learn(np.array([_likeliest(squares, one) for one in left.T]), X, left)
        errors, variances = process.left_out(folds)
        found = judged(errors)
        if _clearly_less(found, least, folds, surely):
            least, surely = found, 0.0
            best = ResidualProcess(process, theta, trust, rows, errors, variances)
    return best


def _clearly_less(found: Array, least: Array, folds: list[NDArray[np.intp]], surely: float) -> bool:
    """Whether left-out errors fell by more than chance from piece to piece explains."""
    gain = np.array([(least[fold] - found[fold]).mean() for fold in folds])
    chance = surely * gain.std(ddof=1) / np.sqrt(len(gain)) if len(gain) > 1 else np.inf
    return bool(gain.mean() > max(chance, WORTHWHILE * least.mean()))


def _likeliest(squares: Array, left: Array) -> Array:
    """The likeliest numbers of a process, found from one start within bounds; shape (k + 2,)."""
    size, lengths = float(np.mean(left**2)) + 1e-4, np.ones(len(squares))
    start, low, high = np.log(
        [
            [size, *1.5 * lengths, 0.3 * size],
            [0.01 * size, *0.3 * lengths, 1e-3 * size],
            [100.0 * size, *30.0 * lengths, 2.0 * size],
        ]
    )
    bounds = Bounds(low, high)
    found = minimize(unlikelihood, start, (squares, left), "L-BFGS-B", jac=True, bounds=bounds)
    return np.asarray(np.clip(found.x, low, high))


def unlikelihood(logs: Array, squares: Array, y: Array) -> tuple[float, Array]:
    """Negative log marginal likelihood of a process, and its gradient.

    Rasmussen, C. E. and Williams, C. K. I. (2006). Gaussian Processes for Machine Learning,
    equations 2.30 and 5.9: scikit-learn's own, which the tests hold it to, takes ten times as long
    for as few trials as a layer has.

    Parameters
    ----------
    logs : ndarray, shape (k + 2,)
        Natural logarithms of the constant, the k lengths and the noise.
    squares : ndarray, shape (k, n, n)
        Squared differences of the features.
    y : ndarray, shape (n,)

    Returns
    -------
    gradient : ndarray, shape (k + 2,)
    """
    noise = np.exp(logs[-1])
    smooth = _smooth(logs[None], squares)[0]
    root = np.linalg.cholesky(smooth + (noise + JITTER) * np.eye(len(y)))
    half = np.linalg.inv(root)
    inverse = half.T @ half
    weights = inverse @ y
    pull = inverse - np.outer(weights, weights)
    shared = pull * smooth
    lengths = np.exp(-2.0 * logs[1:-1]) * (squares.reshape(len(squares), -1) @ shared.ravel())
    gradient = [shared.sum(), *lengths, noise * np.trace(pull)]
    fit = 0.5 * y @ weights + np.log(np.diag(root)).sum() + 0.5 * len(y) * np.log(2.0 * np.pi)
    return float(fit), 0.5 * np.array(gradient)


def _spread_out(X: Array) -> NDArray[np.intp]:
    """Rows to learn from: all, or those farthest apart (farthest-point sampling)."""
    if len(X) <= MOST_LEARNED_FROM:
        return np.arange(len(X))
    chosen = [0]
    nearest = np.full(len(X), np.inf)
    while len(chosen) < MOST_LEARNED_FROM:
        nearest = np.minimum(nearest, ((X - X[chosen[-1]]) ** 2).sum(axis=1))
        chosen.append(int(nearest.argmax()))
    return np.array(chosen)
