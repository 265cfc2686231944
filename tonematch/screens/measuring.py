"""From marked photographs to a comparison: calls to the measuring room, in order."""

from collections.abc import Mapping
from dataclasses import dataclass

from tonematch.measure.areas import check_areas
from tonematch.measure.card import calibrate
from tonematch.measure.comparison import compare
from tonematch.measure.core import Area, Calibration, CardValue, Comparison
from tonematch.measure.reading import read_area
from tonematch.photo.core import Photo


@dataclass(frozen=True, eq=False)
class Marked:
    """A photograph with its areas by role."""

    photo: Photo
    areas: Mapping[str, Area]


@dataclass(frozen=True, eq=False)
class Compared:
    """A comparison with the calibrations that its readings stand on."""

    comparison: Comparison
    original_calibration: Calibration | None
    repair_calibration: Calibration | None

    @property
    def calibrations(self) -> tuple[Calibration, ...]:
        """The original's and the repair's, or none where either is not known."""
        pair = (self.original_calibration, self.repair_calibration)
        known = tuple(calibration for calibration in pair if calibration is not None)
        return known if len(known) == len(pair) else ()


def compare_marked(
    original: Marked, repair: Marked, value: CardValue, tolerance: float
) -> Compared:
    """Read the original in one photograph and the repair in another, or in the same.

    Parameters
    ----------
    original, repair : Marked
        The same object where one photograph carries both.
    value : CardValue
        What the card in them is known to be.
    tolerance : float
        Greatest CIEDE2000 that counts as a match.

    Raises
    ------
    CardError, AreaError, ReadingError
        As the measuring room says.
    """
    for marked in (original, repair):
        check_areas(marked.photo, list(marked.areas.values()))
    first = calibrate(original.photo, original.areas["card"], value)
    same = repair is original
    second = first if same else calibrate(repair.photo, repair.areas["card"], value)
    comparison = compare(
        read_area(original.photo, original.areas["original"], first),
        read_area(repair.photo, repair.areas["repair"], second),
        tolerance,
        same_calibration=same,
    )
    return Compared(comparison, first, second)


def compare_after(earlier: Compared, after: Marked, value: CardValue, tolerance: float) -> Compared:
    """Read the repair again after a layer.

    The original is read in the same photograph where it is marked there; otherwise it keeps the
    reading that it had.

    Parameters
    ----------
    earlier : Compared
    after : Marked
        With a card and a repair, and perhaps the original.
    value : CardValue
    tolerance : float

    Raises
    ------
    CardError, AreaError, ReadingError
        As the measuring room says.
    """
    if "original" in after.areas:
        return compare_marked(after, after, value, tolerance)
    check_areas(after.photo, list(after.areas.values()))
    calibration = calibrate(after.photo, after.areas["card"], value)
    repair = read_area(after.photo, after.areas["repair"], calibration)
    comparison = compare(earlier.comparison.original, repair, tolerance, same_calibration=False)
    return Compared(comparison, earlier.original_calibration, calibration)
