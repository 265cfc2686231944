"""Plainer ways to predict a layer, against which the layer model has to prove itself.

Each keeps scikit-learn's contract on sequences of Application and an array of CIELAB after.
"""

import warnings
from collections.abc import Sequence
from typing import Self

import numpy as np
from sklearn.base import BaseEstimator, RegressorMixin
from sklearn.exceptions import ConvergenceWarning
from sklearn.gaussian_process import GaussianProcessRegressor
from sklearn.gaussian_process.kernels import RBF, ConstantKernel, WhiteKernel

from tonematch.arrays import Array
from tonematch.toning.core import Application

AMOUNT_UNIT = 0.05  # strength times coats that counts as much as one unit of CIELAB distance


def befores(X: Sequence[Application]) -> Array:
    """CIELAB before each application, shape (n, 3)."""
    return np.array([a.before for a in X], dtype=np.float64).reshape(-1, 3)


def amounts(X: Sequence[Application]) -> Array:
    """Strength times coats of each application, shape (n,)."""
    return np.array([a.strength * a.coats for a in X], dtype=np.float64)


class NoChange(RegressorMixin, BaseEstimator):  # type: ignore[misc]
    """The surface stays as it was."""

    def fit(self, X: Sequence[Application], y: Array) -> Self:  # noqa: ARG002
        """Learn nothing."""
        return self

    def predict(self, X: Sequence[Application]) -> Array:
        """CIELAB before, shape (n, 3)."""
        return befores(X)


class MeanShift(RegressorMixin, BaseEstimator):  # type: ignore[misc]
    """Each layer moves every surface by its mean shift; an unknown layer by the mean of all."""

    def fit(self, X: Sequence[Application], y: Array) -> Self:
        """Learn the mean shift of each layer."""
        shift = y - befores(X)
        names = np.array([a.layer for a in X])
        self.overall_ = shift.mean(axis=0)
        self.shifts_ = {str(name): shift[names == name].mean(axis=0) for name in np.unique(names)}
        return self

    def predict(self, X: Sequence[Application]) -> Array:
        """CIELAB before plus the layer's shift, shape (n, 3)."""
        shifts = np.array([self.shifts_.get(a.layer, self.overall_) for a in X], dtype=np.float64)
        return np.asarray(befores(X) + shifts)


class Nearest(RegressorMixin, BaseEstimator):  # type: ignore[misc]
    """The shift of the most similar trial of the same layer (of any, where there is none)."""

    def fit(self, X: Sequence[Application], y: Array) -> Self:
        """Keep the trials."""
        self.places_ = self._places(X)
        self.shifts_ = y - befores(X)
        self.layers_ = np.array([a.layer for a in X])
        return self

    def predict(self, X: Sequence[Application]) -> Array:
        """CIELAB before plus the nearest trial's shift, shape (n, 3)."""
        out = befores(X)
        for i, (application, place) in enumerate(zip(X, self._places(X), strict=True)):
            distance = np.linalg.norm(self.places_ - place, axis=1)
            same = self.layers_ == application.layer
            if same.any():
                distance = np.where(same, distance, np.inf)
            out[i] += self.shifts_[distance.argmin()]
        return out

    def _places(self, X: Sequence[Application]) -> Array:
        return np.column_stack([befores(X), amounts(X) / AMOUNT_UNIT])


class PlainGaussianProcess(RegressorMixin, BaseEstimator):  # type: ignore[misc]
    """A Gaussian process on CIELAB before, amount and layer, with a length for each feature."""

    def fit(self, X: Sequence[Application], y: Array) -> Self:
        """Fit one process to each of the shifts of L*, a* and b*."""
        self.names_ = sorted({a.layer for a in X})
        F = self._features(X)
        shift = y - befores(X)
        self.centre_ = shift.mean(axis=0)
        self.processes_ = [self._fit_one(F, shift[:, i] - self.centre_[i]) for i in range(3)]
        return self

    def predict(self, X: Sequence[Application]) -> Array:
        """CIELAB before plus the process's shift, shape (n, 3)."""
        F = self._features(X)
        shift = np.stack([process.predict(F) for process in self.processes_], axis=1)
        return np.asarray(befores(X) + self.centre_ + shift)

    def _features(self, X: Sequence[Application]) -> Array:
        is_layer = np.array([[a.layer == name for name in self.names_] for a in X], dtype=float)
        return np.column_stack([befores(X) / 25.0, amounts(X), is_layer])

    @staticmethod
    def _fit_one(F: Array, shift: Array) -> GaussianProcessRegressor:
        scale = float(shift.var()) + 1e-6
        kernel = ConstantKernel(scale, (1e-3 * scale, 1e3 * scale)) * RBF(
            np.ones(F.shape[1]), (0.1, 100.0)
        ) + WhiteKernel(0.1 * scale, (1e-4 * scale, 10.0 * scale))
        with warnings.catch_warnings():
            # A length at its bound only says that the feature does not matter.
            warnings.simplefilter("ignore", ConvergenceWarning)
            return GaussianProcessRegressor(kernel).fit(F, shift)
