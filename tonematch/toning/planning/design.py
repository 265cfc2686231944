"""What a test strip would take off the doubt about where the plans end."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from tonematch.arrays import Array
from tonematch.measure.colour.local_metric import local_metric
from tonematch.toning.core import Layer, Strip, Surface
from tonematch.toning.model.chain import Coat
from tonematch.toning.model.fit import Jacobians, row_covariance
from tonematch.toning.model.fitted_layer import LearnedLayer
from tonematch.toning.optics.film import Laid, lay
from tonematch.toning.planning.gap import Gap
from tonematch.toning.planning.search import Search

# Choices of this project, no source: how widely the plans of each draw are searched.
BEAM = 12
# Plans of each draw that compete: the choice among them hangs on all, by how near they come.
COMPETITORS = 6
PLAN_LAYERS = 3
# As far as a draw may lie from what is believed, in standard deviations: beyond, films are absurd.
FARTHEST = 2.0


@dataclass(frozen=True, eq=False)
class Draw:
    """What the layers may be, and where the plan that would then be best leads.

    `thetas` are the numbers of each layer; `matters[name]`, shape (14, 14), is the square of the
    plan's outcome's slope with them, in squared CIEDE2000.
    """

    thetas: dict[str, Array]
    matters: dict[str, Array]

    @classmethod
    def of(
        cls,
        known: Mapping[str, LearnedLayer],
        layers: Sequence[Layer],
        gap: Gap,
        surface: Surface,
        rng: np.random.Generator,
    ) -> "Draw":
        thetas = {name: _drawn(learned, rng) for name, learned in known.items()}
        search = Search(_Sure(thetas), layers, gap, surface, BEAM)
        recipes = search.run(PLAN_LAYERS)
        if not recipes:
            return cls(thetas, {})
        matters: dict[str, Array] = {}
        for found in recipes[:COMPETITORS]:
            share = float(np.exp(recipes[0].cost - found.cost))
            for name, own in _matters(search.coats(found), thetas, gap, surface).items():
                matters[name] = matters.get(name, 0.0) + share * own
        return cls(thetas, matters)


class _Sure:
    """A layer predictor that doubts nothing: each layer has just these numbers."""

    def __init__(self, thetas: Mapping[str, Array]) -> None:
        self.thetas = thetas

    def predict_layer(self, layer: Layer, laid: Laid, covariance: Array) -> tuple[Array, Array]:
        """Same contract as the LayerModel's; the covariance stays what it was."""
        return lay(self.thetas[layer.name], laid), covariance


def _drawn(learned: LearnedLayer, rng: np.random.Generator) -> Array:
    root = np.linalg.cholesky(learned.fit.covariance)
    z = rng.standard_normal(len(root))
    return np.asarray(learned.fit.theta + root @ np.clip(z, -FARTHEST, FARTHEST))


def _matters(
    coats: Sequence[Coat], thetas: Mapping[str, Array], gap: Gap, surface: Surface
) -> dict[str, Array]:
    """How much the end of a recipe hangs on each of its layers, by name, shape (14, 14)."""
    lab, passed = gap.before, []
    for coat in coats:
        name = coat.layer.name
        laid = Laid.on(lab, coat.strength, coat.coats, surface)
        moved = Jacobians(thetas[name], laid)
        passed.append((name, moved.before[0], moved.theta[0]))
        lab = lay(thetas[name], laid)[0]
    matters: dict[str, Array] = {}
    onward, metric = np.eye(3), local_metric(gap.target[None])[0]
    for name, through, theta in reversed(passed):
        J = onward @ theta
        matters[name] = matters.get(name, 0.0) + J.T @ metric @ J
        onward = onward @ through
    return matters


@dataclass(eq=False)
class _Layer:
    """One layer's strips and doubts: for m draws and n candidates.

    `J` (m, n, 3, 14) and `R` (m, n, 3, 3): slope and noise of each candidate's reading;
    `P` (m, 12, 14): what is not known of the layer; `A` (m, 12, 14): what of it matters.
    """

    at: list[int]
    J: Array
    R: Array
    P: Array
    A: Array

    def left(self) -> Array:
        """What this layer adds to each draw's doubt, shape (m,)."""
        return np.asarray(np.einsum("mij,mji->m", self.A, self.P))

    def taken(self) -> Array:
        """What each candidate would take off each draw's doubt, shape (m, n)."""
        JP, S = self._spread()
        gain = np.linalg.solve(S, JP @ self.A[:, None] @ JP.swapaxes(-1, -2))
        return np.asarray(np.trace(gain, axis1=-2, axis2=-1))

    def learn(self, candidate: int) -> None:
        """Count a candidate as made."""
        JP, S = self._spread()
        JP, S = JP[:, candidate], S[:, candidate]
        self.P = self.P - JP.swapaxes(-1, -2) @ np.linalg.solve(S, JP)

    def _spread(self) -> tuple[Array, Array]:
        JP = self.J @ self.P[:, None]
        return JP, JP @ self.J.swapaxes(-1, -2) + self.R


class Gains:
    """The doubt about where the drawn plans end, and what strips would take off it."""

    def __init__(self, layers: list[_Layer]) -> None:
        self.layers = layers

    @classmethod
    def of(
        cls,
        known: Mapping[str, LearnedLayer],
        draws: Sequence[Draw],
        candidates: Sequence[Strip],
        surface: Surface,
        reading_noise: float,
    ) -> "Gains":
        layers = []
        for name, learned in known.items():
            at = [i for i, strip in enumerate(candidates) if strip.layer.name == name]
            if not at:
                continue
            strips = [candidates[i] for i in at]
            laid = Laid.on(
                np.array([s.before for s in strips]),
                np.array([s.strength for s in strips]),
                np.array([s.coats for s in strips]),
                surface,
            )
            J, R = [], []
            for draw in draws:
                moved = Jacobians(draw.thetas[name], laid)
                metric = local_metric(lay(draw.thetas[name], laid))
                J.append(moved.theta)
                R.append(row_covariance(moved, metric, learned.components, reading_noise))
            size = learned.fit.covariance.shape
            A = np.array([draw.matters.get(name, np.zeros(size)) for draw in draws])
            P = np.repeat(learned.fit.covariance[None], len(draws), axis=0)
            layers.append(_Layer(at, np.array(J), np.array(R), P, A))
        return cls(layers)

    def choose(self, count: int) -> Iterator[tuple[int, float]]:
        """The best candidates, one by one, each with the part of the doubt that it takes away."""
        whole = float(self._root_mean(self._left()))
        for _ in range(count):
            left = self._left()
            now = self._root_mean(left)
            gains = [now - self._root_mean(left[:, None] - one.taken()) for one in self.layers]
            best = int(np.argmax([gain.max() for gain in gains]))
            at = int(gains[best].argmax())
            self.layers[best].learn(at)
            gain = float(gains[best][at]) / whole if whole > 0.0 else 0.0
            yield self.layers[best].at[at], gain

    def _left(self) -> Array:
        return np.asarray(np.sum([one.left() for one in self.layers], axis=0))

    @staticmethod
    def _root_mean(squared: Array) -> Array:
        """Mean over the draws of the doubt in CIEDE2000."""
        return np.asarray(np.sqrt(np.maximum(squared, 0.0)).mean(axis=0))
