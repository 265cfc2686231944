"""The chance that a plan ends within the tolerance: laid blind, and read after each layer.

A plan is seldom laid as it stands: each layer is read, and the next is chosen from where the
surface really is. That is played many times over. The first layer lands somewhere in what is
predicted of it, then the layer that promises to come nearest is laid, and so on until stopping is
best. What a layer does is taken to be the shift that it makes where the first should leave the
surface.
"""

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from scipy.spatial import cKDTree
from scipy.stats import chi2

from tonematch.arrays import Array
from tonematch.measure.colour.difference import delta_e_2000
from tonematch.toning.core import Prediction
from tonematch.toning.model.mahalanobis import ENDLESS
from tonematch.toning.planning.gap import Gap
from tonematch.toning.planning.objective import normal_points, spread_points
from tonematch.toning.planning.recipes import Moves
from tonematch.toning.planning.search import Search

# The best of many recipes looks better than it is: its error is by so much wider than what is
# predicted of any recipe. Found in the loop of tests/toning/closed_loop.py.
CHOSEN = 1.3
DRAWN = 256  # surfaces that are drawn, and played (a choice)
LOOKED_AT = [*range(1, 9)]  # ways ahead that are weighed, the nearest (a choice)


@dataclass(frozen=True, eq=False)
class Chances:
    """Where plans of one search may end."""

    search: Search
    gap: Gap

    def differences(self, end: Prediction, wider: float = CHOSEN) -> Array:
        """CIEDE2000 to the target over what the surface, and the target, may be."""
        drawn = self._drawn(end, wider) + self._target_error
        return np.asarray(delta_e_2000(drawn, self.gap.target))

    def read(self, first: int, end: Prediction, more: int) -> Array:
        """The same for where an option, and up to `more` layers planned anew, lead.

        `end` is what the option should leave.
        """
        objective, rng = self.search.objective, np.random.default_rng(1)
        moves = self.search.moves_after(first)
        noise = objective.size(self.gap.before_covariance[None])[0]
        left = objective.ruled(self.gap.target - self._drawn(end, wider=1.0))
        left = play(left, moves, more, float(noise), rng)
        labs = self.gap.target - objective.unruled(left) + self._target_error
        return np.asarray(delta_e_2000(labs, self.gap.target))

    def _drawn(self, end: Prediction, wider: float = CHOSEN) -> Array:
        """Student's t about a prediction, shape (DRAWN, 3)."""
        freedom = min(end.freedom, ENDLESS)
        # The even quantiles of chi-squared in an order of their own.
        mixed = np.random.default_rng(0).permutation(DRAWN)
        tails = np.sqrt((freedom - 2.0) / chi2.ppf((mixed + 0.5) / DRAWN, freedom))
        points = self._normal * tails[:, None]
        wide = wider**2 * end.covariance[None]
        return np.asarray(spread_points(end.lab[None], wide, points)[0])

    @cached_property
    def _normal(self) -> Array:
        return normal_points(DRAWN)

    @cached_property
    def _target_error(self) -> Array:
        normal = np.random.default_rng(2).permutation(self._normal)
        unsure = self.gap.target_covariance[None]
        return np.asarray(spread_points(np.zeros((1, 3)), unsure, normal)[0])


def play(left: Array, moves: Moves, more: int, noise: float, rng: np.random.Generator) -> Array:
    """How far from the target surfaces end, (n, 3), that are so far from it after one layer.

    All in the axes of the moves; up to `more` layers follow, none twice. Each time a reading with a
    root mean square error of `noise` says which one or two would come nearest, and the first of
    them is laid. Its scatter will be read before the second: only that of the last counts.
    """
    count = len(moves.layer)
    if not count:
        return left
    one, two = np.divmod(np.arange(count * (count + 1)), count + 1)  # two is count: one alone
    layer = np.append(moves.layer, -1)
    fits = (layer[one] != layer[two]) & ((two == count) | ~moves.last[one])
    one, two = one[fits], two[fits]
    last = np.where(two == count, one, two)
    shift, price = np.vstack([moves.shift, np.zeros(3)]), np.append(moves.price, 0.0)
    ahead = cKDTree(np.column_stack([shift[one] + shift[two], moves.scatter[last]]))
    price = price[one] + price[two]
    nearest = LOOKED_AT[: len(one)]
    left, going = left.copy(), np.arange(len(left))
    laid = np.zeros((len(left), layer.max() + 2), dtype=bool)
    for _ in range(more):
        seen = left[going] + _scatter(rng, np.full(len(going), noise))
        looked = ahead.query(np.column_stack([seen, np.zeros(len(seen))]), nearest)
        far, near = map(np.asarray, looked)
        again = laid[going[:, None], layer[one[near]]] | laid[going[:, None], layer[two[near]]]
        cost = np.where(again, np.inf, far + price[near])
        best = one[near[np.arange(len(near)), cost.argmin(axis=1)]]
        helps = cost.min(axis=1) < np.linalg.norm(seen, axis=1)
        going, best = going[helps], best[helps]
        if not len(going):
            break
        left[going] += _scatter(rng, moves.scatter[best]) - moves.shift[best]
        laid[going, moves.layer[best]] = True
        going = going[~moves.last[best]]
    return left


def _scatter(rng: np.random.Generator, size: Array) -> Array:
    """Errors of these root mean squares, shape (n, 3)."""
    return np.asarray(size[:, None] / np.sqrt(3.0) * rng.standard_normal((len(size), 3)))
