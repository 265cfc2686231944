"""What many comparisons beside the truth come to: errors, and what their intervals are worth."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy.stats import binomtest

from tonematch.measure.core import Comparison

LEAST_SIDE = 1e-6
"""What one side of an interval counts as at least, CIEDE2000."""


@dataclass(frozen=True)
class Told:
    """A difference as it was told, beside the true one; all in CIEDE2000."""

    true: float
    value: float
    low: float
    high: float

    @property
    def error(self) -> float:
        """Told minus true."""
        return self.value - self.true

    @property
    def holds(self) -> bool:
        """Whether the 95 % interval holds the truth."""
        return self.low <= self.true <= self.high

    @property
    def width(self) -> float:
        """Of the 95 % interval."""
        return self.high - self.low

    @property
    def stretch(self) -> float:
        """By how much the interval would have to be stretched about its value to reach the truth.

        The 95th percentile of it over many comparisons is the factor that makes their intervals
        hold 95 % (split conformal prediction: Vovk et al. 2005).
        """
        side = self.high - self.value if self.true > self.value else self.value - self.low
        return abs(self.error) / max(side, LEAST_SIDE)


def told(true: float, comparison: Comparison) -> Told:
    """A comparison beside the truth."""
    return Told(true, comparison.delta_e, *comparison.interval)


def share(count: int, of: int) -> str:
    """A share in per cent with its exact 95 % interval (Clopper and Pearson 1934)."""
    if not of:
        return "-"
    between = binomtest(count, of).proportion_ci(method="exact")
    return f"{100 * count / of:.1f} % ({100 * between.low:.1f} to {100 * between.high:.1f})"


def held(found: Sequence[Told]) -> str:
    """Share of intervals that hold the truth."""
    return share(sum(one.holds for one in found), len(found))


def median_error(found: Sequence[Told]) -> str:
    """Median error without its sign."""
    return f"{np.median([abs(one.error) for one in found]):.2f}" if found else "-"


def median_width(found: Sequence[Told]) -> str:
    """Median width of the intervals."""
    return f"{np.median([one.width for one in found]):.2f}" if found else "-"


def width_for(found: Sequence[Told], percent: float) -> str:
    """Median width once all intervals are stretched alike, so that they hold `percent`."""
    if not found:
        return "-"
    factor = np.quantile([one.stretch for one in found], percent / 100, method="higher")
    return f"{factor * np.median([one.width for one in found]):.1f}"


def print_head(words: str, *columns: str) -> None:
    """A section's title and the head of its table."""
    print(f"\n**{words}**\n\n| {' | '.join(columns)} |\n|{' --- |' * len(columns)}", flush=True)


def print_row(*cells: str) -> None:
    """One row of a table."""
    print(f"| {' | '.join(cells)} |", flush=True)
