"""What layers do to the lustre, learned from trials in which it was measured.

The law is that of `lustre_law.py`. Layers of one word of the shelf ("raises", "lowers", "satin",
or none) are partly pooled.
"""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import least_squares, minimize
from scipy.stats import t as t_distribution

from tonematch.toning.core import Layer, Trial
from tonematch.toning.model.chain import Coat
from tonematch.toning.model.fit import ROW_FREEDOM
from tonematch.toning.model.lustre_law import (
    INTERVAL,
    REACH,
    LayerLustre,
    LustrePrediction,
    LustreScatter,
    load_lustre_beliefs,
    lustre_after,
)

Array = NDArray[np.float64]

_ROUNDS = 6
# Scale of the Student's t of ROW_FREEDOM whose interval is that of a normal of deviation 1.
_NORMAL_AS_T = REACH / float(t_distribution.ppf(0.5 + INTERVAL / 2.0, ROW_FREEDOM))
_NODES, _WEIGHTS = np.polynomial.hermite_e.hermegauss(21)
_SHARES = _WEIGHTS / _WEIGHTS.sum()


class LustreModel:
    """What is known of every layer's lustre.

    Parameters
    ----------
    shelf : mapping from name to Layer
        By which a layer's word is known; a layer that it lacks has none.

    Attributes
    ----------
    layers_ : dict from name to LayerLustre
        The layers that have trials.
    scatter_ : LustreScatter
    """

    def __init__(self, shelf: Mapping[str, Layer]) -> None:
        self.shelf = shelf
        self.beliefs = load_lustre_beliefs()
        self._words = list(self.beliefs.words)
        self._names: list[str] = []
        self._mean = np.zeros(2 * len(self._words))
        self._covariance: Array = np.eye(len(self._mean))
        self.layers_: dict[str, LayerLustre] = {}
        self.scatter_ = self._expected()

    def fit(self, trials: Sequence[Trial]) -> "LustreModel":
        """Learn from the trials in which lustre was measured before and after; gives itself.

        Notes
        -----
        Regularised least squares with Student's t weights, in coordinates in which the beliefs
        have unit variance; the covariance is Laplace's. The scatter is then the likeliest of what
        is left, each residual enlarged by its leverage (Cook and Weisberg 1982), and so by turns.
        """
        known = _Measured.of(trials)
        self._names = sorted(set(known.names))
        layers = {
            t.application.layer: Layer(t.application.layer, t.application.kind) for t in trials
        }
        layers |= self.shelf
        base, root = self._belief_of([layers[name] for name in self._names])
        at = np.array([self._names.index(name) for name in known.names], dtype=np.intp)
        u, scatter = np.zeros(root.shape[1]), self._expected()
        covariance: Array = np.eye(len(u))
        for _ in range(_ROUNDS if known.names else 0):
            theta = base + root @ u
            spread = scatter.spread(known.changes(theta, at))
            z = known.left(theta, at) / spread
            weight: Array = np.sqrt((ROW_FREEDOM + 1.0) / (ROW_FREEDOM + z**2)) / spread
            u = _solve(known, at, base, root, u, weight)
            theta = base + root @ u
            J = weight[:, None] * (known.slopes(theta, at) @ root)
            covariance = np.asarray(np.linalg.inv(J.T @ J + np.eye(len(u))), dtype=np.float64)
            free = 1.0 - np.einsum("ni,ij,nj->n", J, covariance, J)
            left = known.left(theta, at) / np.sqrt(free)
            scatter = self._scatter(left, known.changes(theta, at))
        self._mean, self._covariance, self.scatter_ = u, covariance, scatter
        self.layers_ = {
            name: self._known(layers[name], known.names.count(name)) for name in self._names
        }
        return self

    def known(self, layer: Layer) -> LayerLustre:
        """What is thought of a layer, with trials of it or without."""
        return self.layers_.get(layer.name) or self._known(layer, 0)

    def predict(self, before: LustrePrediction, coats: Sequence[Coat]) -> list[LustrePrediction]:
        """Lustre after each of several layers.

        Parameters
        ----------
        before : LustrePrediction
            The surface now; its deviation is carried along.
        coats : sequence of Coat
            The first laid first; what is not known of one is taken to be independent of the
            others.

        Returns
        -------
        list of LustrePrediction
        """
        ends = []
        for coat in coats:
            before = self.predict_many(before, coat.layer, [coat.strength * coat.coats])[0]
            ends.append(before)
        return ends

    def predict_many(
        self, before: LustrePrediction, layer: Layer, amounts: Sequence[float]
    ) -> list[LustrePrediction]:
        """Lustre after one layer in several amounts (coats times strength).

        Mean and variance are those of the law over what is not known: exact in the lustre before
        and the layer's own, in which the law is linear, and by Gauss-Hermite quadrature in pull.
        """
        known = self.known(layer)
        own_variance, both, pull_variance = known.covariance[[0, 0, 1], [0, 1, 1]]
        slope = both / pull_variance
        pull = known.pull * np.exp(np.sqrt(pull_variance) * _NODES)
        own = known.own + slope * np.sqrt(pull_variance) * _NODES
        kept = np.exp(-pull * np.asarray(amounts)[:, None])
        after = own + (before.stops - own) * kept
        own_left = own_variance - slope * both
        rest: Array = own_left * (1 - kept) ** 2 + (before.deviation * kept) ** 2
        # The change is not known exactly either.
        change = np.hypot(
            after - before.stops, (1 - kept) * math.sqrt(own_left + before.deviation**2)
        )
        rest += self.scatter_.spread(change) ** 2
        mean = after @ _SHARES
        variance = (rest + after**2) @ _SHARES - mean**2
        return [
            LustrePrediction(float(m), math.sqrt(max(float(v), 0.0)))
            for m, v in zip(mean, variance, strict=True)
        ]

    def _expected(self) -> LustreScatter:
        return LustreScatter(self.beliefs.reading, self.beliefs.hand)

    def _scatter(self, left: Array, changes: Array) -> LustreScatter:
        """The likeliest scatter of what is left, its first guess counted in."""
        first = np.log([self.beliefs.reading, self.beliefs.hand])

        def unlikely(ln: Array) -> float:
            spread = _NORMAL_AS_T * LustreScatter(*np.exp(ln)).spread(changes)
            rows = t_distribution.logpdf(left / spread, ROW_FREEDOM) - np.log(spread)
            return float(
                0.5 * (((ln - first) / self.beliefs.scatter_deviation) ** 2).sum() - rows.sum()
            )

        return LustreScatter(*np.exp(minimize(unlikely, first, method="Nelder-Mead").x))

    def _known(self, layer: Layer, trials: int) -> LayerLustre:
        base, root = self._belief_of([layer])
        words = 2 * len(self._words)
        mean, covariance = np.zeros(words + 2), np.eye(words + 2)
        here = np.arange(words)
        if layer.name in self._names:
            here = np.append(here, words + 2 * self._names.index(layer.name) + np.arange(2))
        mean[: len(here)] = self._mean[here]
        covariance[: len(here), : len(here)] = self._covariance[np.ix_(here, here)]
        own, ln_pull = base + root @ mean
        return LayerLustre(float(own), math.exp(float(ln_pull)), root @ covariance @ root.T, trials)

    def _belief_of(self, layers: Sequence[Layer]) -> tuple[Array, Array]:
        """Mean of own and ln pull of each layer, shape (2 n,), and a root of their covariance.

        The root's columns are what the layers of a word have in common, two for each word, then
        what each layer has by itself.
        """
        common = math.sqrt(self.beliefs.common), math.sqrt(1.0 - self.beliefs.common)
        base = np.zeros(2 * len(layers))
        root = np.zeros((len(base), 2 * len(self._words) + len(base)))
        for number, layer in enumerate(layers):
            word = layer.lustre or "none"
            belief, place = self.beliefs.words[word], self._words.index(word)
            base[2 * number : 2 * number + 2] = belief.own, math.log(belief.pull)
            for i, width in enumerate((belief.own_deviation, belief.pull_deviation)):
                row = 2 * number + i
                root[row, 2 * place + i] = common[0] * width
                root[row, 2 * len(self._words) + row] = common[1] * width
        return base, root


def learn_lustre(trials: Sequence[Trial], shelf: Mapping[str, Layer]) -> LustreModel:
    """The lustre of layers as these trials and the shelf's words tell it."""
    return LustreModel(shelf).fit(trials)


@dataclass(frozen=True, eq=False)
class _Measured:
    """The trials whose lustre was measured, as arrays of shape (n,)."""

    names: tuple[str, ...]
    before: Array
    after: Array
    amount: Array

    @classmethod
    def of(cls, trials: Sequence[Trial]) -> "_Measured":
        """In an order of their own, so that the same trials are learned alike in any order."""
        rows = sorted(
            (t.application.layer, t.before_lustre, t.after_lustre, _amount(t))
            for t in trials
            if t.before_lustre is not None and t.after_lustre is not None
        )
        numbers = np.array([row[1:] for row in rows], dtype=np.float64).reshape(-1, 3)
        return cls(tuple(row[0] for row in rows), *numbers.T)

    def left(self, theta: Array, at: NDArray[np.intp]) -> Array:
        """The law less what was read."""
        own, ln_pull = theta.reshape(-1, 2)[at].T
        return lustre_after(own, np.exp(ln_pull), self.before, self.amount) - self.after

    def changes(self, theta: Array, at: NDArray[np.intp]) -> Array:
        """How far the law moves the surface."""
        return self.left(theta, at) + self.after - self.before

    def slopes(self, theta: Array, at: NDArray[np.intp]) -> Array:
        """Of the law with own and ln pull of every layer, shape (n, 2 k)."""
        own, ln_pull = theta.reshape(-1, 2)[at].T
        drawn = np.exp(ln_pull) * self.amount
        kept = np.exp(-drawn)
        rows = np.arange(len(at))
        slopes = np.zeros((len(at), len(theta)))
        slopes[rows, 2 * at] = 1.0 - kept
        slopes[rows, 2 * at + 1] = (own - self.before) * kept * drawn
        return slopes


def _amount(trial: Trial) -> float:
    return trial.application.coats * trial.application.strength


def _solve(
    known: _Measured,
    at: NDArray[np.intp],
    base: Array,
    root: Array,
    start: Array,
    weight: Array,
) -> Array:
    def leftover(u: Array) -> Array:
        return np.concatenate([weight * known.left(base + root @ u, at), u])

    def jacobian(u: Array) -> Array:
        rows = weight[:, None] * (known.slopes(base + root @ u, at) @ root)
        return np.concatenate([rows, np.eye(len(u))])

    # The beliefs keep u near 0; the bounds only keep exponentials finite.
    return np.asarray(least_squares(leftover, start, jacobian, bounds=(-8.0, 8.0)).x)
