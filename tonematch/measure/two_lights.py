"""One pair under two lights: where it was toned, and where it will hang.

Two surfaces may read alike under one lamp and part under another, where their spectra differ
(metamerism). How far the difference from original to repair changes from light to light is the
CIEDE2000 of two colours that lie apart by that change, about the middle of all four readings: a
special metamerism index for a change of illuminant (CIE 15:2018), with what is left between the
two under the first light taken off as a difference of L*, a*, b*. What is said of its error comes
from the budgets of the four readings, drawn together; the camera's own error is another one under
another lamp.

References
----------
CIE 15:2018, Colorimetry, special metamerism index (the clause from memory). JCGM 102:2011, 5.3.
"""

from dataclasses import dataclass, replace

import numpy as np

from tonematch.errors import ReadingError
from tonematch.measure.comparison import DRAWS, SEED
from tonematch.measure.core import CardValue, Comparison
from tonematch.measure.marked import Marked, compare_marked, one_of_several
from tonematch.measure.uncertainty.budget import draw_errors, shared_as
from tonematch.measure.uncertainty.interval import noisy_difference
from tonematch.measure.uncertainty.two_photographs import budgets_of
from tonematch.swatchbook import limits

# What to do: common practice, no source. Like pigments part less, whatever the lamp.
PARTING = (
    "The two part with the light. Tone and judge the piece where it will hang; to hold under both "
    "lights, take layers whose pigments are nearer to what lies on the old gold, such as earths, "
    "and try them on a strip under both."
)
ALIKE = "Nothing shows that the two part with the light."
UNSURE = "The two may part with the light, and these pictures cannot tell."
TO_SEE_MORE = (
    "To see a smaller change, take raw files, or have more greys of known value in both pictures, "
    "and mark larger areas."
)


@dataclass(frozen=True, eq=False)
class TwoLights:
    """A comparison beside that of the same pair under a second light.

    Attributes
    ----------
    change : float
        CIEDE2000 by which the difference from original to repair changes between the lights.
    interval : tuple of two float
        95 % interval of `change`.
    parts : bool
        Whether the interval lies above 0 and the change is at least ``parting`` of
        ``swatches/limits.toml`` times the tolerance.
    words : str
        What to make of it, and what to do.
    """

    first: Comparison
    second: Comparison
    change: float
    interval: tuple[float, float]
    parts: bool
    words: str

    @property
    def finding(self) -> str:
        """A sentence or two for the logbook and the record."""
        there = self.second
        low, high = there.interval
        return (
            f"Under a second light CIEDE2000 {there.delta_e:.1f} (95 % interval {low:.1f} to "
            f"{high:.1f}): {there.verdict}. {self.words} {self.numbers}"
        )

    @property
    def numbers(self) -> str:
        """How much the pair parts with the light (metamerism)."""
        low, high = self.interval
        return (
            "From one light to the other the difference changes (metamerism) by "
            f"CIEDE2000 {self.change:.1f} (95 % interval {low:.1f} to {high:.1f})."
        )


def compare_under_second_light(first: Comparison, second: Marked, value: CardValue) -> TwoLights:
    """Compare a pair once more, in one photograph of card, original and repair in another light.

    `first` has its readings' calibrations. Raises ReadingError where it is the same photograph once
    more, else as `compare_marked` does.
    """
    if second.photo.sha256 in (first.original.photo_sha256, first.repair.photo_sha256):
        raise ReadingError(
            f"'{second.photo.name}' is the photograph of the first light: take one of its own "
            "under the second, with the card, the original and the repair in it."
        )
    # By name, so that what is wrong there is told apart from the first light's.
    areas = {
        role: replace(area, name=f"{area.name} under the second light")
        for role, area in second.areas.items()
    }
    second = replace(second, areas=areas)
    with one_of_several(second.photo):
        there = compare_marked(second, second, value, first.tolerance)
    change, interval = _change(first, there)
    least = limits("two_lights")["parting"] * first.tolerance
    parts = interval[0] > 0.0 and change >= least
    words = PARTING if parts else ALIKE if change < least else UNSURE
    if not parts and interval[1] > first.tolerance:
        words += f" {TO_SEE_MORE}"
    return TwoLights(first, there, change, interval, parts, words)


def _change(first: Comparison, second: Comparison) -> tuple[float, tuple[float, float]]:
    here = budgets_of(first.original, first.repair)
    there = budgets_of(second.original, second.repair)
    under_another_lamp = {"camera": "the camera under the second light"}
    drawn = draw_errors(
        [*here, *(shared_as(budget, under_another_lamp) for budget in there)], DRAWS, SEED
    ).whole
    readings = (first.original, first.repair, second.original, second.repair)
    middle = np.mean([reading.lab for reading in readings], axis=0)
    apart = second.repair.lab - second.original.lab - (first.repair.lab - first.original.lab)
    found = noisy_difference(
        middle - apart / 2.0, middle + apart / 2.0, drawn[1] - drawn[0], drawn[3] - drawn[2]
    )
    return found.value, (found.low, found.high)
