"""How near readings and comparisons come to the truth, on photographs by the simulated camera.

``python -m tests.measure.accuracy_table`` prints the table of the README. Lab is CIELAB D50, 2
degree; differences are CIEDE2000.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from typing import TypeVar

import numpy as np

from tests.measure.simulated_camera import (
    CARD,
    Conditions,
    Patch,
    Scene,
    chart,
    neutral,
    photograph,
    random_pair,
)
from tonematch.errors import CardError, ReadingError
from tonematch.measure.area.areas import box_area
from tonematch.measure.calibration.aids import Aids
from tonematch.measure.calibration.card import calibrate, card_from_reflectance
from tonematch.measure.calibration.chart import Chart, chart_reference
from tonematch.measure.colour.convert import lab_to_xyz
from tonematch.measure.colour.difference import USUAL_TOLERANCE, delta_e_2000
from tonematch.measure.comparison import compare
from tonematch.measure.core import (
    Area,
    Calibration,
    CameraProfile,
    Comparison,
    Reading,
    Role,
)
from tonematch.measure.marked import Marked, compare_marked
from tonematch.measure.reading.reading import read_area
from tonematch.photo.core import Photo
from tonematch.photo.decode import load_photo

Made = TypeVar("Made")
GREYS = (0.90, 0.59, 0.36, 0.09, 0.035)
WHITE_AND_BLACK = GREYS[0], GREYS[-1]
"""A grey scale beside the card."""


@dataclass(frozen=True, eq=False)
class Compared:
    """A comparison beside the truth.

    Attributes
    ----------
    true : float
        CIEDE2000 of the two surfaces.
    comparison : Comparison
    readings : tuple of two float
        CIEDE2000 of each reading from its surface.
    how : Conditions
    """

    true: float
    comparison: Comparison
    readings: tuple[float, float]
    how: Conditions

    @property
    def error(self) -> float:
        """Compared minus true CIEDE2000."""
        return self.comparison.delta_e - self.true

    @property
    def holds(self) -> bool:
        """Whether the stated interval holds the truth."""
        low, high = self.comparison.interval
        return low <= self.true <= high


def _marked(scene: Scene, place: int, name: str) -> Area:
    return box_area(name, scene.box(place))


def _taken(
    scene: Scene, how: Conditions, rng: np.random.Generator, surface: int | None = None
) -> Photo:
    return load_photo(photograph(scene, how, rng, surface), "simulated")


def _compared(photo: Photo, scene: Scene, calibration: Calibration, first: int) -> Comparison:
    """Read original and repair, side by side from place `first` on, and compare."""
    original = read_area(photo, _marked(scene, first, "original"), calibration)
    repair = read_area(photo, _marked(scene, first + 1, "repair"), calibration)
    return compare(original, repair)


def compare_on_card(
    pair: tuple[Patch, Patch],
    how: Conditions,
    rng: np.random.Generator,
    card: Patch | None = None,
    surface: int | None = None,
    second_card: bool = False,
) -> Compared:
    """Photograph a grey card, an original and a repair side by side, and compare on the card.

    `card` is what the card really is, where it is not the neutral that it is said to be;
    `surface` the seed of the mottle, where the same places are photographed again. A second card
    lies below the repair.
    """
    below = [neutral(0.05), neutral(0.05), neutral(CARD)] if second_card else []
    scene = Scene([card or neutral(CARD), *pair, *below], 3)
    roles: tuple[Role, ...] = ("card", "original", "repair")
    areas: dict[str, Area] = {
        role: box_area(role, scene.box(place), role) for place, role in enumerate(roles)
    }
    cards = [_marked(scene, 5, "card 2")] if second_card else []
    marked = Marked(_taken(scene, how, rng, surface), areas, Aids(cards=cards))
    found = compare_marked(marked, marked, card_from_reflectance(CARD), USUAL_TOLERANCE)
    return beside_truth(pair, found, how)


def compare_apart(
    pair: tuple[Patch, Patch],
    hows: tuple[Conditions, Conditions],
    rng: np.random.Generator,
    surface: int,
) -> Compared:
    """Original and repair each in a photograph of its own, with the card."""

    def read(k: int, name: str) -> Reading:
        scene = Scene([neutral(CARD), pair[k]], 2)
        photo = _taken(scene, hows[k], rng, surface + k)
        calibration = calibrate(photo, _marked(scene, 0, "card"), card_from_reflectance(CARD))
        return read_area(photo, _marked(scene, 1, name), calibration)

    return beside_truth(pair, compare(read(0, "original"), read(1, "repair")), hows[0])


def compare_on_greys(
    pair: tuple[Patch, Patch],
    how: Conditions,
    rng: np.random.Generator,
    values: Sequence[float] = GREYS,
) -> Compared:
    """The same with further greys above, by which the tone curve is found."""
    # Original and repair lie side by side, below the greys.
    columns = len(values) // 2 + 2
    scene = Scene([*(neutral(value) for value in values), neutral(CARD), *pair], columns)
    photo = _taken(scene, how, rng)
    greys = [(_marked(scene, k, f"grey {k}"), value) for k, value in enumerate(values)]
    card = _marked(scene, len(values), "card")
    calibration = calibrate(photo, card, card_from_reflectance(CARD), Aids(greys))
    return beside_truth(pair, _compared(photo, scene, calibration, len(values) + 1), how)


def compare_on_chart(
    pair: tuple[Patch, Patch], how: Conditions, rng: np.random.Generator
) -> tuple[Compared, CameraProfile]:
    """The same with a chart of 24 measured patches above; also the profile that it teaches."""
    known = chart()
    scene = Scene([*known, neutral(CARD), *pair], 6)
    photo = _taken(scene, how, rng)
    names = list(chart_reference())
    patches = {name: _marked(scene, place, name) for place, name in enumerate(names)}
    truth = {name: lab_to_xyz(patch.lab) for name, patch in zip(names, known, strict=True)}
    card = _marked(scene, len(known), "card")
    calibration = calibrate(
        photo, card, card_from_reflectance(CARD), Aids(chart=Chart(patches, truth))
    )
    assert calibration.profile is not None
    compared = beside_truth(pair, _compared(photo, scene, calibration, len(known) + 1), how)
    return compared, calibration.profile


def compare_on_profile(
    pair: tuple[Patch, Patch], how: Conditions, profile: CameraProfile, rng: np.random.Generator
) -> Compared:
    """On the card, with what an earlier chart taught of camera and lamp."""
    scene = Scene([neutral(CARD), *pair], 3)
    photo = _taken(scene, how, rng)
    card = _marked(scene, 0, "card")
    calibration = calibrate(photo, card, card_from_reflectance(CARD), Aids(profile=profile))
    return beside_truth(pair, _compared(photo, scene, calibration, 1), how)


def beside_truth(pair: tuple[Patch, Patch], comparison: Comparison, how: Conditions) -> Compared:
    """A comparison beside what the simulated camera knows."""
    read = comparison.original.lab, comparison.repair.lab
    errors = [float(delta_e_2000(lab, patch.lab)) for lab, patch in zip(read, pair, strict=True)]
    true = float(delta_e_2000(pair[0].lab, pair[1].lab))
    return Compared(true, comparison, (errors[0], errors[1]), how)


@dataclass(frozen=True)
class Summary:
    """What many comparisons come to.

    Attributes
    ----------
    pairs : int
    reading : float
        Mean CIEDE2000 of readings from their surfaces.
    median, at_95 : float
        Of the error of the compared CIEDE2000, without its sign.
    bias : float
        Mean error.
    held : float
        Share of intervals that hold the truth.
    width : float
        Median width of the intervals.
    called_apart : float
        Share of verdicts "no match".
    lost : float
        Share of differences told at less than half of what they are.
    """

    pairs: int
    reading: float
    median: float
    at_95: float
    bias: float
    held: float
    width: float
    called_apart: float
    lost: float


def summarise(found: Sequence[Compared]) -> Summary:
    """Figures over comparisons, of which there must be at least one."""
    errors = np.array([one.error for one in found])
    return Summary(
        pairs=len(found),
        reading=float(np.mean([one.readings for one in found])),
        median=float(np.median(np.abs(errors))),
        at_95=float(np.quantile(np.abs(errors), 0.95)),
        bias=float(errors.mean()),
        held=float(np.mean([one.holds for one in found])),
        width=float(np.median([np.ptp(one.comparison.interval) for one in found])),
        called_apart=float(np.mean([one.comparison.verdict == "no match" for one in found])),
        lost=float(np.mean([one.comparison.delta_e < one.true / 2.0 for one in found])),
    )


def retaken(compared: Callable[[Conditions], Made], how: Conditions) -> Made:
    """What a person does whose photograph is refused: take it again at another exposure.

    Raises
    ------
    TonematchError
        Where five further exposures are refused as well.
    """
    for _ in range(5):
        try:
            return compared(how)
        except (CardError, ReadingError) as refusal:
            change = 0.8 if "overexposed" in str(refusal) else 1.15
            how = replace(how, exposure=how.exposure * change)
    return compared(how)


def again(how: Conditions, stops: float, rng: np.random.Generator) -> Conditions:
    """The same lamp, place and camera at another exposure and white balance."""
    red, blue = rng.uniform(0.92, 1.08, 2)
    return replace(how, exposure=how.exposure * 2.0**stops, balance=(red, 1.0, blue))


def random_pairs(
    count: int, rng: np.random.Generator, difference: float | None = None, mottling: float = 1.0
) -> list[tuple[Patch, Patch]]:
    """Pairs of an original and a repair; see `simulated_camera.random_pair`."""
    return [random_pair(rng, difference, mottling) for _ in range(count)]
