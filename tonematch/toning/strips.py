"""Which test strips to make so as to learn most for the comparison at hand.

What the layers may be is drawn from what the model believes; for each draw the plan that would then
be best is searched. A strip is worth what it would take off the doubt about where those plans end,
by the linearised posterior: a design that aims at the prediction that matters (Chaloner and
Verdinelli 1995, Bayesian experimental design: a review, Statistical Science 10, 273-304). Strips
are chosen one by one, each given those before it; nothing is fitted anew.
"""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import ArrayLike, NDArray

from tonematch.errors import ShelfError, ValueRefused
from tonematch.measure.local_metric import local_metric
from tonematch.toning.aim import Aim
from tonematch.toning.core import Finish, Kind, Layer, Technique, Vector3
from tonematch.toning.film import FINISH_SIGN, TECHNIQUE_SIGN, Laid, lay
from tonematch.toning.fit import row_covariance, slopes
from tonematch.toning.learned import LearnedLayer
from tonematch.toning.model import LayerModel
from tonematch.toning.rules import Surface, check_layering
from tonematch.toning.search import Option, Search, options_of

Array = NDArray[np.float64]

MOST_STRIPS = 40
# Choices of this project, no source: draws of what the layers may be, and how widely the plans of
# each draw are searched.
DRAWS = 16
BEAM = 12
# Plans of each draw that compete: the choice among them hangs on all, by how near they come.
COMPETITORS = 6
PLAN_LAYERS = 3
# As far as a draw may lie from what is believed, in standard deviations: beyond, films are absurd.
FARTHEST = 2.0


@dataclass(frozen=True, eq=False)
class Strip:
    """A test strip to make.

    Attributes
    ----------
    layer : Layer
    strength : float
    coats : int
    first : tuple of Layer
        What is laid on the ground before: a seal, where the rules ask for one.
    before : ndarray, shape (3,)
        CIELAB (D50, 2 degree) that the strip should read before the layer.
    gain : float
        Part of the doubt about the plans that this strip takes away, 0 to 1.
    """

    layer: Layer
    strength: float
    coats: int
    first: tuple[Layer, ...]
    before: Vector3
    gain: float


def choose_strips(
    model: LayerModel,
    layers: Sequence[Layer],
    before: ArrayLike,
    target: ArrayLike,
    count: int = 12,
    surface: Surface | None = None,
    seed: int = 1,
) -> tuple[Strip, ...]:
    """The strips that teach most for one comparison.

    Parameters
    ----------
    model : LayerModel
        Fitted; to no trials where the logbook is empty.
    layers : sequence of Layer
        What may be laid.
    before, target : array_like, shape (3,)
        CIELAB (D50, 2 degree) of the repair now and of what it should become.
    count : int
        1 to 40.
    surface : Surface, optional
        What the repair is; strips are made on the same ground.
    seed : int
        Of the draws.

    Returns
    -------
    tuple of Strip
        The most telling first; a strip may come twice, for the hand's scatter. Fewer than `count`
        only where the rules allow nothing.

    Raises
    ------
    ShelfError
        Where there is no layer.
    ValueRefused
        For a count out of range.
    """
    if not layers:
        raise ShelfError("There is no layer to make strips of: put at least one on the shelf.")
    if count not in range(1, MOST_STRIPS + 1):
        raise ValueRefused(f"{count} strips cannot be chosen: ask for 1 to {MOST_STRIPS}.")
    surface = surface or Surface()
    start, aim = np.asarray(before, dtype=float), Aim(np.asarray(target, dtype=float), np.eye(3))
    candidates = list(possible_strips(model, layers, start, surface))
    if not candidates:
        return ()
    known = {layer.name: model.known(layer.name, layer.kind) for layer in layers}
    rng = np.random.default_rng(seed)
    draws = [_Draw.of(known, layers, start, aim, surface, rng) for _ in range(DRAWS)]
    doubt = _Doubt.of(known, draws, candidates, surface, model.reading_noise)
    return tuple(doubt.choose(candidates, count))


def possible_strips(
    model: LayerModel, layers: Sequence[Layer], before: Vector3, surface: Surface
) -> Iterator[Strip]:
    """Every strip that the rules allow: each layer at each of its strengths and coats.

    Parameters
    ----------
    model : LayerModel
    layers : sequence of Layer
    before : ndarray, shape (3,)
    surface : Surface

    Yields
    ------
    Strip
        On the ground as it is where that is allowed, else over the first seal that allows it.
    """
    seals = [layer for layer in layers if layer.kind == "seal"]
    grounds = {layer.name: _ground(layer, seals, surface) for layer in layers}
    for option in options_of(layers):
        layer = layers[option.layer]
        first = grounds[layer.name]
        if first is None:
            continue
        ground = before
        for seal in first:
            ground = _on_one(model, seal, ground, surface)
        yield Strip(layer, option.strength, option.coats, first, ground, 0.0)


def _ground(layer: Layer, seals: Sequence[Layer], surface: Surface) -> tuple[Layer, ...] | None:
    """What must lie beneath a layer for the rules to allow it: nothing, a seal, or no way."""
    ways: list[tuple[Layer, ...]] = [(), *((seal,) for seal in seals if seal is not layer)]
    for way in ways:
        findings = check_layering(surface, [*way, layer])
        if all(finding.severity != "blocked" for finding in findings):
            return way
    return None


def _on_one(model: LayerModel, layer: Layer, before: Vector3, surface: Surface) -> Vector3:
    """The surface after one full coat of a layer."""
    one = np.ones(1)
    lab, _ = model.predict_many(
        layer.name, layer.kind, before[None], np.zeros((1, 3, 3)), layer.strengths[-1] * one, one,
        surface.technique, surface.finish,
    )  # fmt: skip
    return np.asarray(lab[0])


@dataclass(frozen=True, eq=False)
class _Draw:
    """What the layers may be, and where the plan that would then be best leads.

    `thetas` are the numbers of each layer; `matters[name]`, shape (12, 12), is the square of the
    plan's outcome's slope with them, in squared CIEDE2000.
    """

    thetas: dict[str, Array]
    matters: dict[str, Array]

    @classmethod
    def of(
        cls,
        known: Mapping[str, LearnedLayer],
        layers: Sequence[Layer],
        before: Vector3,
        aim: Aim,
        surface: Surface,
        rng: np.random.Generator,
    ) -> "_Draw":
        thetas = {name: _drawn(learned, rng) for name, learned in known.items()}
        nothing = np.zeros((3, 3))
        search = Search(_Sure(thetas), layers, surface, before, nothing, aim, BEAM)
        recipes = search.run(PLAN_LAYERS)
        if not recipes:
            return cls(thetas, {})
        matters: dict[str, Array] = {}
        for found in recipes[:COMPETITORS]:
            recipe = [search.options[o] for o in found.path]
            share = float(np.exp(recipes[0].cost - found.cost))
            for name, own in _matters(recipe, layers, thetas, before, aim, surface).items():
                matters[name] = matters.get(name, 0.0) + share * own
        return cls(thetas, matters)


class _Sure:
    """A layer predictor that doubts nothing: each layer has just these numbers."""

    def __init__(self, thetas: Mapping[str, Array]) -> None:
        self.thetas = thetas

    def predict_many(
        self,
        layer: str,
        kind: Kind,  # noqa: ARG002
        before: Array,
        before_covariance: Array,
        strength: Array,
        coats: Array,
        technique: Technique = "unknown",
        finish: Finish = "unknown",
    ) -> tuple[Array, Array]:
        """Same contract as the LayerModel's; the covariance stays what it was."""
        laid = _laid(before, strength, coats, technique, finish)
        return lay(self.thetas[layer], laid), before_covariance


def _drawn(learned: LearnedLayer, rng: np.random.Generator) -> Array:
    root = np.linalg.cholesky(learned.fit.covariance)
    z = rng.standard_normal(len(root))
    return np.asarray(learned.fit.theta + root @ np.clip(z, -FARTHEST, FARTHEST))


def _matters(
    recipe: Sequence[Option],
    layers: Sequence[Layer],
    thetas: Mapping[str, Array],
    before: Vector3,
    aim: Aim,
    surface: Surface,
) -> dict[str, Array]:
    """How much the end of a recipe hangs on each of its layers, by name, shape (12, 12)."""
    technique, finish = surface.technique, surface.finish
    lab, passed = before, []
    for option in recipe:
        name = layers[option.layer].name
        laid = _laid(lab[None], [option.strength], [option.coats], technique, finish)
        slope = slopes(thetas[name], laid)
        passed.append((name, slope.before[0], slope.theta[0]))
        lab = lay(thetas[name], laid)[0]
    matters: dict[str, Array] = {}
    onward, metric = np.eye(3), local_metric(aim.target[None])[0]
    for name, through, theta in reversed(passed):
        J = onward @ theta
        matters[name] = matters.get(name, 0.0) + J.T @ metric @ J
        onward = onward @ through
    return matters


def _laid(
    before: Array, strength: ArrayLike, coats: ArrayLike, technique: Technique, finish: Finish
) -> Laid:
    n = len(before)
    return Laid(
        before,
        np.asarray(strength, dtype=np.float64),
        np.asarray(coats, dtype=np.float64),
        np.full(n, TECHNIQUE_SIGN[technique]),
        np.full(n, FINISH_SIGN[finish]),
    )


@dataclass(eq=False)
class _Layer:
    """One layer's strips and doubts: for m draws and n candidates.

    `J` (m, n, 3, 12) and `R` (m, n, 3, 3): slope and noise of each candidate's reading;
    `P` (m, 12, 12): what is not known of the layer; `A` (m, 12, 12): what of it matters.
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


class _Doubt:
    """The doubt about where the drawn plans end, and what strips would take off it."""

    def __init__(self, layers: list[_Layer]) -> None:
        self.layers = layers

    @classmethod
    def of(
        cls,
        known: Mapping[str, LearnedLayer],
        draws: Sequence[_Draw],
        candidates: Sequence[Strip],
        surface: Surface,
        reading_noise: float,
    ) -> "_Doubt":
        layers = []
        for name, learned in known.items():
            at = [i for i, strip in enumerate(candidates) if strip.layer.name == name]
            if not at:
                continue
            strips = [candidates[i] for i in at]
            laid = _laid(
                np.array([s.before for s in strips]),
                [s.strength for s in strips],
                [s.coats for s in strips],
                surface.technique,
                surface.finish,
            )
            J, R = [], []
            for draw in draws:
                slope = slopes(draw.thetas[name], laid)
                metric = local_metric(lay(draw.thetas[name], laid))
                J.append(slope.theta)
                R.append(row_covariance(slope, metric, learned.scatter, reading_noise))
            size = learned.fit.covariance.shape
            A = np.array([draw.matters.get(name, np.zeros(size)) for draw in draws])
            P = np.repeat(learned.fit.covariance[None], len(draws), axis=0)
            layers.append(_Layer(at, np.array(J), np.array(R), P, A))
        return cls(layers)

    def choose(self, candidates: Sequence[Strip], count: int) -> Iterator[Strip]:
        """The best strips, one by one."""
        whole = float(self._root_mean(self._left()))
        for _ in range(count):
            left = self._left()
            now = self._root_mean(left)
            gains = [now - self._root_mean(left[:, None] - one.taken()) for one in self.layers]
            best = int(np.argmax([gain.max() for gain in gains]))
            at = int(gains[best].argmax())
            self.layers[best].learn(at)
            gain = float(gains[best][at]) / whole if whole > 0.0 else 0.0
            yield replace(candidates[self.layers[best].at[at]], gain=gain)

    def _left(self) -> Array:
        return np.asarray(np.sum([one.left() for one in self.layers], axis=0))

    @staticmethod
    def _root_mean(squared: Array) -> Array:
        """Mean over the draws of the doubt in CIEDE2000."""
        return np.asarray(np.sqrt(np.maximum(squared, 0.0)).mean(axis=0))
