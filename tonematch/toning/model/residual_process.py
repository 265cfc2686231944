"""What the film law leaves of a layer's trials, learned by a Gaussian process where that helps.

Whether it helps is decided by leaving out one piece at a time (one trial where all are of one
piece): the process is kept only if it predicts the left-out trials clearly better than the law.
With many trials of a layer the law itself may be trusted by half or not at all, where that predicts
the left-out trials better: halftone-like or pooling layers are no films.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import minimize
from sklearn.gaussian_process import GaussianProcessRegressor
from sklearn.gaussian_process.kernels import RBF, ConstantKernel, Kernel, WhiteKernel

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

    processes: tuple[GaussianProcessRegressor, ...]
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
        X = features(self.theta, laid)
        found = [process.predict(X, return_std=True) for process in self.processes]
        mean = np.stack([m for m, _ in found], axis=1)
        variance = np.stack([s**2 for _, s in found], axis=1)
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
    folds = [piece for _, piece in folds_by_piece(list(groups[rows]), len(rows))]

    def judged(gap: Array) -> Array:
        return np.asarray(np.sqrt(np.einsum("ni,nij,nj->n", gap, metric, gap)))

    best, least, surely = None, judged(after - law), SURE
    for trust in TRUSTS if len(laid) >= DOUBTED_FROM else TRUSTS[:1]:
        left = after - trusted(trust, laid, law)
        processes = tuple(_fit_one(X, left[:, i]) for i in range(3))
        held = [_left_out(processes[i].kernel_, X, left[:, i], folds) for i in range(3)]
        errors = np.stack([error for error, _ in held], axis=1)
        found = judged(errors)
        if _clearly_less(found, least, folds, surely):
            least, surely = found, 0.0
            variances = np.stack([variance for _, variance in held], axis=1)
            best = ResidualProcess(processes, theta, trust, rows, errors, variances)
    return best


def _clearly_less(found: Array, least: Array, folds: list[NDArray[np.intp]], surely: float) -> bool:
    """Whether left-out errors fell by more than chance from piece to piece explains."""
    gain = np.array([(least[fold] - found[fold]).mean() for fold in folds])
    chance = surely * gain.std(ddof=1) / np.sqrt(len(gain)) if len(gain) > 1 else np.inf
    return bool(gain.mean() > max(chance, WORTHWHILE * least.mean()))


def _fit_one(X: Array, left: Array) -> GaussianProcessRegressor:
    """A process with the likeliest numbers of its kernel, found from one start within bounds."""
    size = float(np.mean(left**2)) + 1e-4
    kernel = ConstantKernel(size, (0.01 * size, 100.0 * size)) * RBF(
        np.full(X.shape[1], 1.5), (0.3, 30.0)
    ) + WhiteKernel(0.3 * size, (1e-3 * size, 2.0 * size))
    squares = (X[:, None] - X[None]).transpose(2, 0, 1) ** 2
    found = minimize(
        unlikelihood, kernel.theta, (squares, left), "L-BFGS-B", jac=True, bounds=kernel.bounds
    )
    likeliest = kernel.clone_with_theta(np.clip(found.x, *kernel.bounds.T))
    return GaussianProcessRegressor(likeliest, optimizer=None).fit(X, left)


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
    size, noise = np.exp(logs[0]), np.exp(logs[-1])
    scaled = squares * np.exp(-2.0 * logs[1:-1])[:, None, None]
    smooth = size * np.exp(-0.5 * scaled.sum(axis=0))
    root = np.linalg.cholesky(smooth + (noise + JITTER) * np.eye(len(y)))
    half = np.linalg.inv(root)
    inverse = half.T @ half
    weights = inverse @ y
    pull = inverse - np.outer(weights, weights)
    shared = pull * smooth
    gradient = [shared.sum(), *(scaled * shared).sum(axis=(1, 2)), noise * np.trace(pull)]
    fit = 0.5 * y @ weights + np.log(np.diag(root)).sum() + 0.5 * len(y) * np.log(2.0 * np.pi)
    return float(fit), 0.5 * np.array(gradient)


def _left_out(
    kernel: Kernel, X: Array, y: Array, folds: list[NDArray[np.intp]]
) -> tuple[Array, Array]:
    """Errors of predicting each fold from the others, and the variances expected of them.

    Sundararajan, S. and Keerthi, S. S. (2001). Predictive approaches for choosing
    hyperparameters in Gaussian processes. Neural Computation 13(5), 1103-1118, for whole folds.
    """
    inverse = np.linalg.inv(kernel(X) + 1e-9 * np.eye(len(X)))
    weights = inverse @ y
    errors, variances = np.empty_like(y), np.empty_like(y)
    for fold in folds:
        covariance = np.linalg.inv(inverse[np.ix_(fold, fold)])
        errors[fold] = covariance @ weights[fold]
        variances[fold] = np.diag(covariance)
    return errors, variances


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
