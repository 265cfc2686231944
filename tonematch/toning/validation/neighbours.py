"""What a row's readings should agree with: the logbook's surfaces, and the rows around it.

On one piece each layer is laid on what the one before it left, so the reading before it should be
the reading after that one: where the columns of a row were swapped, both ends of it hang loose,
however little the layer did.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from tonematch.arrays import Array, Vector3
from tonematch.measure.core import BY_MEDIAN
from tonematch.toning.core import Trial

# All choices of this project, found on simulated logbooks, no source.
FREEDOM = 4.0  # degrees of freedom of Student's t
GOES_ON = 0.9  # how often the next step of a piece lies on the one before, not on another strip
# Least deviation of L*, a*, b* of the surfaces that a logbook holds.
SURFACES = np.array([12.0, 4.0, 12.0])


def tail(squared: float | Array) -> float:
    """Twice the negative log density of Student's t in 3 dimensions, to a constant."""
    return float((FREEDOM + 3.0) * np.log1p(squared / FREEDOM))


@dataclass(frozen=True, eq=False)
class Surfaces:
    """Where in CIELAB the surfaces of a logbook lie, the odd ones hardly counted."""

    centre: Vector3
    width: Vector3

    @classmethod
    def of(cls, trials: Sequence[Trial]) -> "Surfaces":
        """The surfaces on which these trials were laid."""
        before = np.array([t.application.before for t in trials])
        centre = np.median(before, axis=0)
        width = BY_MEDIAN * np.median(np.abs(before - centre), axis=0)
        return cls(centre, np.maximum(width, SURFACES))

    def distance(self, lab: Array) -> Array:
        """Squared distance from the middle, shape (...)."""
        return np.asarray((((lab - self.centre) / self.width) ** 2).sum(axis=-1))


@dataclass(frozen=True, eq=False)
class Neighbours:
    """Where a row stands: CIELAB read after the step before, and before the next, where rows tell.

    `reading_noise` is the standard deviation of each of L*, a*, b* of a reading.
    """

    surfaces: Surfaces
    reading_noise: float
    left: Vector3 | None
    taken_up: Vector3 | None

    @classmethod
    def of(
        cls, index: int, trials: Sequence[Trial], surfaces: Surfaces, reading_noise: float
    ) -> "Neighbours":
        """The neighbours of one of the trials."""
        here = trials[index]
        above = trials[index - 1] if index > 0 else None
        below = trials[index + 1] if index + 1 < len(trials) else None
        return cls(
            surfaces,
            reading_noise,
            above.after if above is not None and here.follows(above) else None,
            below.application.before if below is not None and below.follows(here) else None,
        )

    def unlikely(self, before: Vector3, after: Vector3) -> float:
        """Twice the negative log density of what was read, to a constant."""
        found = self._taken_up(before, self.left)
        return found if self.taken_up is None else found + self._taken_up(self.taken_up, after)

    def _taken_up(self, before: Vector3, left: Vector3 | None) -> float:
        anew = 2.0 * np.log(self.surfaces.width).sum() + tail(self.surfaces.distance(before))
        if left is None:
            return float(anew)
        variance = 2.0 * self.reading_noise**2
        same = 3.0 * np.log(variance) + tail(((before - left) ** 2).sum() / variance)
        either = np.logaddexp(np.log(GOES_ON) - same / 2.0, np.log(1.0 - GOES_ON) - anew / 2.0)
        return float(-2.0 * either)
