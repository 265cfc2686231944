"""Lustre: what one layer does to it, and what trials in which it was measured teach of that.

Lustre is the rise of the gleam over the body in photographic stops: `measure/appearance/lustre.py`.
A layer has its own and draws the surface towards it, the nearer the more of it is laid:

    after = own + (before - own) exp(-pull t),    t = coats * strength,

so that a layer which hides what lies beneath ends at its own lustre, and what is hardly there
changes nothing. The law is this project's, no source: it has a layer's two limits, and between
them each further coat takes the same part of what is left. Layers of one word of the shelf
("raises", "lowers", "satin", or none) are partly pooled.
"""

import math
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from statistics import NormalDist

import numpy as np
import scipy
from numpy.typing import ArrayLike

from tonematch.arrays import Array
from tonematch.measure.core import REACH_95
from tonematch.swatchbook import swatch_table
from tonematch.toning.model.fit import ROW_FREEDOM

# Share of readings up to which the fit's Student's t strays as the normal distribution does.
ALIKE = 0.90
MOST_LUSTRE = 10.0  # stops: from the body to the peak no photograph holds more


@dataclass(frozen=True)
class LustrePrior:
    """What is thought of a word's layers before any trial; see the head of swatches/lustre.toml."""

    own: float
    own_deviation: float
    pull: float
    pull_deviation: float


@dataclass(frozen=True)
class LustrePriors:
    """Priors by the word of the shelf ("none" where it has none), and how trials scatter.

    `burnished` and `matte` are guesses at bare gold in stops.
    """

    words: Mapping[str, LustrePrior]
    reading: float
    hand: float
    scatter_deviation: float
    common: float
    burnished: float
    matte: float


@dataclass(frozen=True)
class LustreComponents:
    """How readings stray from the law: `reading` in stops, `hand` as a share of the change."""

    reading: float
    hand: float

    def spread(self, changes: Array) -> Array:
        """Standard deviation where the law changes the lustre by so many stops."""
        return np.hypot(self.reading, self.hand * changes)


@dataclass(frozen=True)
class LustrePrediction:
    """A lustre to come: mean and standard deviation in stops, as it would be measured."""

    stops: float
    deviation: float

    @property
    def interval(self) -> tuple[float, float]:
        """The 95 % interval in stops; a rise is not below 0."""
        tail = float(scipy.special.stdtrit(ROW_FREEDOM, 0.975))
        reach = normal_as_t() * tail * self.deviation
        return max(0.0, self.stops - reach), self.stops + reach


@dataclass(frozen=True, eq=False)
class LayerLustre:
    """What is thought of one layer, by so many trials.

    `own` is its own lustre in stops, `pull` how fast a full coat draws there (the median), and
    `covariance`, (2, 2), that of `own` and of the natural logarithm of `pull`.
    """

    own: float
    pull: float
    covariance: Array
    trials: int

    @property
    def own_interval(self) -> tuple[float, float]:
        """The 95 % interval of `own` in stops."""
        reach = REACH_95 * math.sqrt(self.covariance[0, 0])
        return max(0.0, self.own - reach), self.own + reach

    @property
    def taken(self) -> float:
        """Share of the way to its own lustre that one coat of full strength takes, 0 to 1."""
        return -math.expm1(-self.pull)

    @property
    def taken_interval(self) -> tuple[float, float]:
        """The 95 % interval of `taken`."""
        factor = math.exp(REACH_95 * math.sqrt(self.covariance[1, 1]))
        return -math.expm1(-self.pull / factor), -math.expm1(-self.pull * factor)


@cache
def load_lustre_priors() -> LustrePriors:
    """The starting guesses, from swatches/lustre.toml."""
    table = swatch_table("lustre.toml")
    words = {word: LustrePrior(**e) for word, e in table.items() if isinstance(e, dict)}
    return LustrePriors(words, **{k: v for k, v in table.items() if k not in words})


@cache
def normal_as_t() -> float:
    """Scale of the Student's t of ROW_FREEDOM that strays like a normal of deviation 1."""
    end = 0.5 + ALIKE / 2.0
    return NormalDist().inv_cdf(end) / float(scipy.special.stdtrit(ROW_FREEDOM, end))


def lustre_after(own: ArrayLike, pull: ArrayLike, before: ArrayLike, amount: ArrayLike) -> Array:
    """The law: lustre after a layer, in stops, for an amount of coats times strength.

    Examples
    --------
    >>> float(lustre_after(1.0, math.log(2.0), 3.0, 1.0).round(6))
    2.0
    """
    own = np.asarray(own, dtype=np.float64)
    kept = np.exp(-np.asarray(pull) * np.asarray(amount))
    return np.asarray(own + (np.asarray(before) - own) * kept)
