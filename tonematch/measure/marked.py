"""From marked photographs to a comparison: the steps of the measuring room, in order."""

from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, replace

from tonematch.errors import CardError, TonematchError
from tonematch.measure.area.areas import check_areas
from tonematch.measure.calibration.aids import CARD_ALONE, Aids
from tonematch.measure.calibration.camera_profile import learned, taken_on
from tonematch.measure.calibration.card import calibrate
from tonematch.measure.comparison import compare
from tonematch.measure.core import Area, Calibration, CameraProfile, CardValue, Comparison, Reading
from tonematch.measure.reading.asked import with_asked
from tonematch.measure.reading.reading import read_area
from tonematch.photo.core import Photo


@dataclass(frozen=True, eq=False)
class Marked:
    """A photograph with its areas by role, and what helps to calibrate it."""

    photo: Photo
    areas: Mapping[str, Area]
    aids: Aids = CARD_ALONE


def calibrate_marked(marked: Marked, value: CardValue) -> Calibration:
    """Check the marked areas against each other, then calibrate on the card and the aids."""
    aids = marked.aids
    greys = [*(area for area, _ in aids.neutrals), *aids.cards]
    check_areas(marked.photo, [*marked.areas.values(), *greys])
    return calibrate(marked.photo, marked.areas["card"], value, aids)


def profile_marked(marked: Marked, value: CardValue, lamp: str) -> CameraProfile:
    """The camera profile that the chart or the neutrals in a photograph teach.

    Raises CardError where neither is among the aids, and whatever the measuring room raises.
    """
    profile = learned(calibrate_marked(marked, value), taken_on(marked.photo))
    if profile is None:
        raise CardError(
            "A camera profile needs a 24-patch chart, or white and black cards beside the grey: "
            "photograph them, and mark what is not found."
        )
    return replace(profile, lamp=lamp)


def read_marked(marked: Marked, value: CardValue) -> tuple[dict[str, Reading], tuple[str, ...]]:
    """Read every area of a photograph but its card, whose known value is given.

    Gives the readings by the area's name, and the warnings of the file, the card and the areas,
    each once. Raises CardError, AreaError and ReadingError, as the functions after it do.
    """
    calibration = calibrate_marked(marked, value)
    readings = {
        name: read_area(marked.photo, area, calibration)
        for name, area in marked.areas.items()
        if area.role != "card"
    }
    said = [*marked.photo.notes, *calibration.warnings]
    for reading in readings.values():
        said += reading.warnings
    return readings, _asked(said, marked, *readings.values())


def compare_marked(
    original: Marked, repair: Marked, value: CardValue, tolerance: float
) -> Comparison:
    """Read the original in one photograph and the repair in another, or in the same, and compare.

    Both are the same object where one photograph carries both.
    """
    same = repair is original
    if same:
        one, other = _read(original, value, "original", "repair")
    else:
        with one_of_several(original.photo):
            (one,) = _read(original, value, "original")
        with one_of_several(repair.photo):
            (other,) = _read(repair, value, "repair")
    found = compare(one, other, tolerance, same_calibration=same)
    if same:
        said = _asked(found.warnings, original, found.original, found.repair)
    else:
        said = _asked(_asked(found.warnings, repair, found.repair), original, found.original)
    return replace(found, warnings=said)


@contextmanager
def one_of_several(photo: Photo) -> Iterator[None]:
    """What is wrong with one of several photographs names it."""
    try:
        yield
    except TonematchError as refusal:
        raise type(refusal)(f"{photo.name}: {refusal}") from refusal


def _read(marked: Marked, value: CardValue, *roles: str) -> list[Reading]:
    calibration = calibrate_marked(marked, value)
    return [read_area(marked.photo, marked.areas[role], calibration) for role in roles]


def compare_after(
    earlier: Comparison, after: Marked, value: CardValue, tolerance: float
) -> Comparison:
    """Read the repair again after a layer, and compare.

    The original is read in the same photograph where it is marked there; otherwise it keeps the
    reading that it had.
    """
    if "original" in after.areas:
        return compare_marked(after, after, value, tolerance)
    (repair,) = _read(after, value, "repair")
    found = compare(earlier.original, repair, tolerance, same_calibration=False)
    return replace(found, warnings=_asked(found.warnings, after, repair))


def _asked(said: Sequence[str], marked: Marked, *readings: Reading) -> tuple[str, ...]:
    return with_asked(said, marked.photo, marked.aids.cards, readings)
