"""What a search goes through: a layer with its amount, and recipes with where they lead."""

from dataclasses import dataclass
from itertools import product
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

from tonematch.arrays import Array
from tonematch.toning.core import Coat, Layer, Surface
from tonematch.toning.optics.film import Laid
from tonematch.toning.planning.objective import Objective

Whole = NDArray[np.intp]


class LayerPredictor(Protocol):
    """What the search asks of a layer model."""

    def predict_layer(self, layer: Layer, laid: Laid, covariance: Array) -> tuple[Array, Array]:
        """CIELAB (n, 3) and covariance (n, 3, 3) after one layer on n surfaces."""


@dataclass(frozen=True, eq=False)
class Front:
    """Recipes and where each leaves the surface.

    `paths`, (n, depth), are numbers of the options, the first laid first; then CIELAB (n, 3), its
    covariance, and the price of each.
    """

    paths: Whole
    lab: Array
    covariance: Array
    price: Array

    def __len__(self) -> int:
        return len(self.paths)

    def take(self, at: Whole) -> "Front":
        """The recipes at these indices."""
        return Front(self.paths[at], self.lab[at], self.covariance[at], self.price[at])


@dataclass(frozen=True, eq=False)
class Moves:
    """What m options do to one surface, in axes in which Euclid measures CIEDE2000.

    A shift (m, 3); the root mean square of what each may do beside that, what it costs, its layer,
    and whether nothing may follow, (m,) each.
    """

    shift: Array
    scatter: Array
    price: Array
    layer: Whole
    last: NDArray[np.bool_]


@dataclass(frozen=True, eq=False)
class Recipe:
    """A recipe found, the first laid first: numbers of its options, and what they are.

    `cost` is the expected CIEDE2000 with dislike of overshoot and prices, `days` are those on the
    bench until the last coat is dry, `virtue` is for what it is shown beside others.
    """

    path: tuple[int, ...]
    coats: tuple[Coat, ...]
    cost: float
    days: float
    virtue: str = ""

    @property
    def layers(self) -> tuple[Layer, ...]:
        """The layers of its options."""
        return tuple(coat.layer for coat in self.coats)


def options_of(layer: Layer) -> list[Coat]:
    """A layer at each of its strengths and coats; of equal amounts the fewest coats."""
    options: dict[float, Coat] = {}
    for coats, strength in product(range(1, layer.most_coats + 1), layer.strengths):
        options.setdefault(round(strength * coats, 6), Coat(layer, strength, coats))
    return [*options.values()]


def cost_after_one_layer(
    model: LayerPredictor,
    layer: Layer,
    before: Array,
    covariance: Array,
    surface: Surface,
    objective: Objective,
) -> Array:
    """Least rough cost that a layer, in whichever amount, leaves on each of n surfaces, (n,).

    `covariance` is that of each, shape (n, 3, 3).
    """
    options = options_of(layer)
    n, m = len(before), len(options)
    strengths = np.tile([option.strength for option in options], n)
    coats = np.tile([option.coats for option in options], n)
    laid = Laid.on(np.repeat(before, m, axis=0), strengths, coats, surface)
    lab, after = model.predict_layer(layer, laid, np.repeat(covariance, m, axis=0))
    return np.asarray(objective.rough_costs(lab, after).reshape(n, m).min(axis=1))
