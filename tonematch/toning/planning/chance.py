"""The chance that a plan ends within the tolerance: laid blind, and read after each layer.

A plan is seldom laid as it stands: each layer is read, and the next is chosen from where the
surface really is. That is played many times over. The first layer lands somewhere in what is
predicted of it, then the layer that promises to come nearest is laid, and so on until stopping is
best. What a layer does is taken to be the shift that it makes where the first should leave the
surface.
"""

from dataclasses import dataclass, replace

import numpy as np
import scipy

from tonematch.arrays import Array
from tonematch.measure.colour.difference import delta_e_2000
from tonematch.toning.core import Prediction
from tonematch.toning.model.mahalanobis import ENDLESS
from tonematch.toning.planning.gap import Gap
from tonematch.toning.planning.objective import normal_points, spread_points
from tonematch.toning.planning.recipes import Moves
from tonematch.toning.planning.search import Search

# From the share of what is played that gets there to the chance that comes true, as logarithms of
# odds: the best of many recipes looks better than it is; and what is played learns nothing from its
# layers, while one who lays them does from each that may follow. By maximum likelihood together, of
# 773 readings and 1,621 plans laid blind in the loops of tests/toning/ways_table.py, on seeds 1204
# to 1307; on those from 1248 on CHOSEN was held blind first, and TAUGHT, then 0.2, was too low.
CHOSEN, TAUGHT = -0.45, 0.3
# Choices: surfaces that are drawn, and played; ways ahead that are weighed, the nearest.
DRAWN, PLAYED = 4096, 256
LOOKED_AT = 8


def comes_true(share: float, more: int = 0) -> float:
    """The chance to get there, from the share, 0 to 1, of what is played that does.

    `more` layers may follow, each planned anew from a reading; none where a plan is laid blind.
    """
    return float(scipy.special.expit(scipy.special.logit(share) + CHOSEN + TAUGHT * more))


@dataclass(frozen=True, eq=False)
class Chances:
    """Where plans of one search may end."""

    search: Search
    gap: Gap

    def differences(self, end: Prediction) -> Array:
        """CIEDE2000 to the target over what the surface, and the target, may be."""
        covariance = end.covariance + self.gap.target_covariance
        ends = _drawn(replace(end, covariance=covariance), DRAWN)
        return np.asarray(delta_e_2000(ends, self.gap.target))

    def read(self, first: int, end: Prediction, more: int) -> Array:
        """The same for where an option, and up to `more` layers planned anew, lead.

        `end` is what the option should leave.
        """
        objective, rng = self.search.objective, np.random.default_rng(1)
        moves = self.search.moves_after(first)
        noise = objective.size(self.gap.before_covariance[None])[0]
        left = objective.ruled(self.gap.target - _drawn(end, PLAYED))
        left = play(left, moves, more, float(noise), rng)
        ends = self.gap.target - objective.unruled(left)
        unsure = np.linalg.cholesky(self.gap.target_covariance + 1e-9 * np.eye(3))
        ends += rng.standard_normal(ends.shape) @ unsure.T
        return np.asarray(delta_e_2000(ends, self.gap.target))


def _drawn(end: Prediction, count: int) -> Array:
    """Student's t about a prediction, shape (count, 3)."""
    freedom = min(end.freedom, ENDLESS)
    # The even quantiles of chi-squared in an order of their own.
    mixed = np.random.default_rng(0).permutation(count)
    tails = np.sqrt((freedom - 2.0) / scipy.special.chdtri(freedom, (mixed + 0.5) / count))
    points = normal_points(count) * tails[:, None]
    return np.asarray(spread_points(end.lab[None], end.covariance[None], points)[0])


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
    ahead = scipy.spatial.cKDTree(np.column_stack([shift[one] + shift[two], moves.scatter[last]]))
    looked_at = [*range(1, min(LOOKED_AT, len(one)) + 1)]
    price = price[one] + price[two]
    left, going = left.copy(), np.arange(len(left))
    laid = np.zeros((len(left), layer.max() + 2), dtype=bool)
    for _ in range(more):
        seen = left[going] + _scatter(rng, np.full(len(going), noise))
        far, near = map(np.asarray, ahead.query(np.pad(seen, ((0, 0), (0, 1))), looked_at))
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
