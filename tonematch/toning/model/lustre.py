"""What trials in which lustre was measured teach of it: a fit of all layers at once."""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import partial

import numpy as np
import scipy
from numpy.typing import NDArray

from tonematch.arrays import Array
from tonematch.toning.core import Coat, Layer, Trial
from tonematch.toning.model.fit import ROW_FREEDOM, most_probable, row_weight
from tonematch.toning.model.lustre_law import (
    LayerLustre,
    LustreComponents,
    LustrePrediction,
    load_lustre_priors,
    lustre_after,
    normal_as_t,
)
from tonematch.toning.model.prior import Prior

_ROUNDS = 6
_NODES, _WEIGHTS = np.polynomial.hermite_e.hermegauss(21)
_SHARES = _WEIGHTS / _WEIGHTS.sum()


@dataclass(frozen=True, eq=False)
class _Measured:
    """The trials whose lustre was measured.

    `names` are those of their layers, `at`, shape (n,), which of these each trial is of; the rest,
    shape (n,), what was read and laid.
    """

    names: list[str]
    at: NDArray[np.intp]
    before: Array
    after: Array
    amount: Array

    @classmethod
    def of(cls, trials: Sequence[Trial]) -> "_Measured":
        """In an order of their own, so that the same trials are learned alike in any order."""
        rows = sorted(
            (a.layer, t.before_lustre, t.after_lustre, a.coats * a.strength)
            for t in trials
            for a in (t.application,)
            if t.before_lustre is not None and t.after_lustre is not None
        )
        numbers = np.array([row[1:] for row in rows], dtype=np.float64).reshape(-1, 3)
        names, at = np.unique([row[0] for row in rows], return_inverse=True)
        return cls(names.tolist(), at, *numbers.T)

    def gaps(self, theta: Array, weight: Array | float = 1.0) -> Array:
        """The law less what was read, shape (n,)."""
        own, ln_pull = theta.reshape(-1, 2)[self.at].T
        after = lustre_after(own, np.exp(ln_pull), self.before, self.amount)
        return np.asarray(weight * (after - self.after))

    def gap_jacobian(self, theta: Array, weight: Array) -> Array:
        """How the gaps move with own and ln pull of every layer, shape (n, 2 k)."""
        own, ln_pull = theta.reshape(-1, 2)[self.at].T
        drawn = np.exp(ln_pull) * self.amount
        kept = np.exp(-drawn)
        rows, J = np.arange(len(self.at)), np.zeros((len(self.at), len(theta)))
        J[rows, 2 * self.at] = weight * (1.0 - kept)
        J[rows, 2 * self.at + 1] = weight * (own - self.before) * kept * drawn
        return J

    def changes(self, theta: Array) -> Array:
        """How far the law moves the surface, shape (n,)."""
        return self.gaps(theta) + self.after - self.before


class LustreModel:
    """What is known of every layer's lustre.

    By `shelf` a layer's word is known; a layer that it lacks has none. `layers_` are those that
    have trials.
    """

    def __init__(self, shelf: Mapping[str, Layer]) -> None:
        self.shelf = shelf
        self.priors = load_lustre_priors()
        self._words = list(self.priors.words)
        self._names: list[str] = []
        self._mean = np.zeros(2 * len(self._words))
        self._covariance: Array = np.eye(len(self._mean))
        self.layers_: dict[str, LayerLustre] = {}
        self.components_ = LustreComponents(self.priors.reading, self.priors.hand)

    def fit(self, trials: Sequence[Trial]) -> "LustreModel":
        """Learn from the trials in which lustre was measured before and after; gives itself.

        Notes
        -----
        The fit is that of a layer's colour, of all layers at once. The scatter is then the
        likeliest of what is left, each residual enlarged by its leverage (Cook and Weisberg 1982),
        and so by turns.
        """
        known = _Measured.of(trials)
        layers = {
            t.application.layer: Layer(t.application.layer, t.application.kind) for t in trials
        }
        layers |= self.shelf
        prior = self._prior([layers[name] for name in known.names])
        u = np.zeros(prior.root.shape[1])
        components = LustreComponents(self.priors.reading, self.priors.hand)
        covariance: Array = np.eye(len(u))
        for _ in range(_ROUNDS if known.names else 0):
            theta = prior.at(u)
            spread = components.spread(known.changes(theta))
            weight = row_weight((known.gaps(theta) / spread) ** 2, 1) / spread
            gaps, jacobian_of = (
                partial(f, weight=weight) for f in (known.gaps, known.gap_jacobian)
            )
            u = most_probable(prior, u, gaps, jacobian_of)
            theta = prior.at(u)
            J = known.gap_jacobian(theta, weight) @ prior.root
            covariance = np.asarray(np.linalg.inv(J.T @ J + np.eye(len(u))), dtype=np.float64)
            free = 1.0 - np.einsum("ni,ij,nj->n", J, covariance, J)
            components = self._likeliest(known.gaps(theta) / np.sqrt(free), known.changes(theta))
        self._names, self._mean, self._covariance = known.names, u, covariance
        self.components_ = components
        self.layers_ = {
            name: self._known(layers[name], int((known.at == number).sum()))
            for number, name in enumerate(known.names)
        }
        return self

    def known(self, layer: Layer) -> LayerLustre:
        """What is thought of a layer, with trials of it or without."""
        return self.layers_.get(layer.name) or self._known(layer, 0)

    def predict(self, before: LustrePrediction, coats: Sequence[Coat]) -> list[LustrePrediction]:
        """Lustre after each of several layers, the first laid first.

        The deviation of the surface now is carried along; what is not known of a layer is taken to
        be independent of the others.
        """
        ends = []
        for coat in coats:
            before = self.predict_layer(coat.layer, [coat.strength * coat.coats], before)[0]
            ends.append(before)
        return ends

    def predict_layer(
        self, layer: Layer, amounts: Sequence[float], before: LustrePrediction
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
        rest += self.components_.spread(change) ** 2
        mean = after @ _SHARES
        variance = (rest + after**2) @ _SHARES - mean**2
        return [
            LustrePrediction(float(m), math.sqrt(max(float(v), 0.0)))
            for m, v in zip(mean, variance, strict=True)
        ]

    def _likeliest(self, left: Array, changes: Array) -> LustreComponents:
        """The likeliest scatter of what is left, its first guess counted in."""
        first = np.log([self.priors.reading, self.priors.hand])

        def unlikely(ln: Array) -> float:
            spread = normal_as_t() * LustreComponents(*np.exp(ln)).spread(changes)
            tails = (ROW_FREEDOM + 1.0) / 2.0 * np.log1p((left / spread) ** 2 / ROW_FREEDOM)
            off = (ln - first) / self.priors.scatter_deviation
            return float(0.5 * (off**2).sum() + (tails + np.log(spread)).sum())

        return LustreComponents(
            *np.exp(scipy.optimize.minimize(unlikely, first, method="Nelder-Mead").x)
        )

    def _known(self, layer: Layer, trials: int) -> LayerLustre:
        prior = self._prior([layer])
        words = 2 * len(self._words)
        mean, covariance = np.zeros(words + 2), np.eye(words + 2)
        here = np.arange(words)
        if layer.name in self._names:
            here = np.append(here, words + 2 * self._names.index(layer.name) + np.arange(2))
        mean[: len(here)] = self._mean[here]
        covariance[: len(here), : len(here)] = self._covariance[np.ix_(here, here)]
        own, ln_pull = prior.at(mean)
        covariance = prior.root @ covariance @ prior.root.T
        return LayerLustre(float(own), math.exp(float(ln_pull)), covariance, trials)

    def _prior(self, layers: Sequence[Layer]) -> Prior:
        """Of own and ln pull of each layer, 2 n numbers.

        The root's columns are what the layers of a word have in common, two for each word, then
        what each layer has by itself.
        """
        common = math.sqrt(self.priors.common), math.sqrt(1.0 - self.priors.common)
        mean = np.zeros(2 * len(layers))
        root = np.zeros((len(mean), 2 * len(self._words) + len(mean)))
        for number, layer in enumerate(layers):
            word = layer.lustre or "none"
            prior, place = self.priors.words[word], self._words.index(word)
            mean[2 * number : 2 * number + 2] = prior.own, math.log(prior.pull)
            for i, width in enumerate((prior.own_deviation, prior.pull_deviation)):
                row = 2 * number + i
                root[row, 2 * place + i] = common[0] * width
                root[row, 2 * len(self._words) + row] = common[1] * width
        return Prior(mean, root)


def learn_lustre(trials: Sequence[Trial], shelf: Mapping[str, Layer]) -> LustreModel:
    """The lustre of layers as these trials and the shelf's words tell it."""
    return LustreModel(shelf).fit(trials)
