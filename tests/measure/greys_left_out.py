"""One, two and three neutrals beside the card: how the greys that were left out then read."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from itertools import combinations

import numpy as np

from tests.measure.chart_photographs import GREYS, ChartPhotograph
from tests.measure.tally import print_head, print_row, share
from tonematch.errors import CardError, ReadingError
from tonematch.measure.calibration.aids import Aids
from tonematch.measure.core import Calibration
from tonematch.measure.reading.reading import read_area

SHORT = dict(zip(GREYS, ("white", "N8", "N6.5", "N3.5", "black"), strict=True))


@dataclass(frozen=True)
class LeftOut:
    """A grey that was left out, read beside a set of neutrals.

    Attributes
    ----------
    alone, fewer, beside : float
        Error of L* without its sign: on the card alone; beside one neutral fewer, the mean over
        which; and beside all of the set.
    held : bool
        Whether L* beside the set is within 1.96 sigma of the truth.
    """

    camera: str
    half: str
    photograph: str
    neutrals: tuple[str, ...]
    alone: float
    fewer: float
    beside: float
    held: bool


def left_out(picture: ChartPhotograph) -> list[LeftOut]:
    """Every set of one to three neutrals, and every other grey that can be read with and without.

    A set that the tool refuses (a clipped white) is not taken, as a person would not.
    """
    by_set: dict[tuple[str, ...], dict[str, tuple[float, float]]] = {
        (): lightness_errors(picture, picture.calibration(), GREYS)
    }
    found = []
    for neutrals in (some for number in (1, 2, 3) for some in combinations(GREYS, number)):
        try:
            calibration = picture.calibration(Aids(picture.neutrals(*neutrals)))
        except CardError:
            continue
        rest = [name for name in by_set[()] if name not in neutrals]
        by_set[neutrals] = lightness_errors(picture, calibration, rest)
        subsets = [by_set.get(some, {}) for some in combinations(neutrals, len(neutrals) - 1)]
        for name, (error, sigma) in by_set[neutrals].items():
            fewer = np.mean([abs(read[name][0]) for read in subsets if name in read])
            found.append(
                LeftOut(picture.camera, picture.half, picture.name, neutrals,
                        abs(by_set[()][name][0]), float(fewer), abs(error),
                        abs(error) <= 1.96 * sigma)
            )  # fmt: skip
    return found


def lightness_errors(
    picture: ChartPhotograph, calibration: Calibration, names: Sequence[str]
) -> dict[str, tuple[float, float]]:
    """L* read minus true and its standard uncertainty, of every patch that can be read."""
    found = {}
    for name in names:
        try:
            reading = read_area(picture.photo, picture.areas[name], calibration)
        except ReadingError:
            continue
        error = float(reading.lab[0] - picture.lab[name][0])
        found[name] = error, float(np.sqrt(reading.covariance[0, 0]))
    return found


def print_greys(found: Sequence[LeftOut]) -> None:
    """By number of neutrals, by number and half or camera, and by set."""
    _table("Greys left out, by number of neutrals beside the card", "neutrals", found,
           lambda one: str(len(one.neutrals)))  # fmt: skip
    _table("The same by half", "half, neutrals", found,
           lambda one: f"{one.half}, {len(one.neutrals)}")  # fmt: skip
    _table("The same by camera", "camera, neutrals", found,
           lambda one: f"{one.camera}, {len(one.neutrals)}")  # fmt: skip
    _table("The same by set", "neutrals", found,
           lambda one: ", ".join(SHORT[name] for name in one.neutrals))  # fmt: skip


def _table(
    words: str, column: str, found: Sequence[LeftOut], group: Callable[[LeftOut], str]
) -> None:
    """One table, a row for each group."""
    print_head(words, column, "photographs", "greys read", "mean error of L* beside no neutral",
               "beside one fewer", "beside all", "greys made worse than beside none by over 0.5",
               "greatest, beside none / all", "L* in its 95 % interval")  # fmt: skip
    for name in dict.fromkeys(sorted(map(group, found))):
        ones = [one for one in found if group(one) == name]
        alone, beside = [one.alone for one in ones], [one.beside for one in ones]
        worse = sum(one.beside > one.alone + 0.5 for one in ones)
        print_row(name, str(len({one.photograph for one in ones})), str(len(ones)),
                  f"{np.mean(alone):.2f}", f"{np.mean([one.fewer for one in ones]):.2f}",
                  f"{np.mean(beside):.2f}", share(worse, len(ones)),
                  f"{max(alone):.1f} / {max(beside):.1f}",
                  share(sum(one.held for one in ones), len(ones)))  # fmt: skip
