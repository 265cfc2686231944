"""Lustre: what one layer does to it, as a law and by first guesses.

Lustre is the rise of the gleam over the body in photographic stops: `measure/appearance/lustre.py`.
A layer has its own and draws the surface towards it, the nearer the more of it is laid:

    after = own + (before - own) exp(-pull t),    t = coats * strength,

so that a layer which hides what lies beneath ends at its own lustre, and what is hardly there
changes nothing. The law is this project's, no source: it has a layer's two limits, and between
them each further coat takes the same part of what is left.
"""

import math
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from statistics import NormalDist

import numpy as np
from numpy.typing import ArrayLike, NDArray

from tonematch.swatchbook import swatch_table

Array = NDArray[np.float64]

INTERVAL = 0.90  # the share of results that a stated interval of lustre should hold
REACH = NormalDist().inv_cdf(0.5 + INTERVAL / 2.0)  # standard deviations to its ends
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
class LustrePrediction:
    """A lustre to come: mean and standard deviation in stops, as it would be measured."""

    stops: float
    deviation: float

    @property
    def interval(self) -> tuple[float, float]:
        """The 90 % interval in stops; a rise is not below 0."""
        reach = REACH * self.deviation
        return max(0.0, self.stops - reach), self.stops + reach


@dataclass(frozen=True, eq=False)
class LayerLustre:
    """What is thought of one layer.

    Attributes
    ----------
    own, pull : float
        Its own lustre in stops, and how fast a full coat draws there (the median).
    covariance : ndarray, shape (2, 2)
        Of `own` and of the natural logarithm of `pull`.
    trials : int
        That it was learned from.
    """

    own: float
    pull: float
    covariance: Array
    trials: int

    @property
    def own_interval(self) -> tuple[float, float]:
        """The 90 % interval of `own` in stops."""
        reach = REACH * math.sqrt(self.covariance[0, 0])
        return max(0.0, self.own - reach), self.own + reach

    @property
    def taken(self) -> float:
        """Share of the way to its own lustre that one coat of full strength takes, 0 to 1."""
        return -math.expm1(-self.pull)

    @property
    def taken_interval(self) -> tuple[float, float]:
        """The 90 % interval of `taken`."""
        factor = math.exp(REACH * math.sqrt(self.covariance[1, 1]))
        return -math.expm1(-self.pull / factor), -math.expm1(-self.pull * factor)


@cache
def load_lustre_priors() -> LustrePriors:
    """The starting guesses, from swatches/lustre.toml."""
    table = swatch_table("lustre.toml")
    words = {word: LustrePrior(**e) for word, e in table.items() if isinstance(e, dict)}
    return LustrePriors(words, **{k: v for k, v in table.items() if k not in words})


def lustre_after(own: ArrayLike, pull: ArrayLike, before: ArrayLike, amount: ArrayLike) -> Array:
    """The law: lustre after a layer.

    Parameters
    ----------
    own, before : array_like
        Stops.
    pull : array_like
        Above 0.
    amount : array_like
        Coats times strength, 0 or more.

    Returns
    -------
    ndarray
        Stops.

    Examples
    --------
    >>> float(lustre_after(1.0, math.log(2.0), 3.0, 1.0).round(6))
    2.0
    """
    own = np.asarray(own, dtype=np.float64)
    kept = np.exp(-np.asarray(pull) * np.asarray(amount))
    return np.asarray(own + (np.asarray(before) - own) * kept)
