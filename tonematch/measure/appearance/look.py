"""From a comparison and its photographs to what shows beside the colour."""

from collections.abc import Iterable
from dataclasses import dataclass, replace

from tonematch.errors import ReadingError
from tonematch.measure.appearance.alignment import overlay
from tonematch.measure.appearance.area_picture import AreaPicture, area_picture, scale_from_card
from tonematch.measure.appearance.difference_map import difference_map, map_png
from tonematch.measure.appearance.evenness import EvennessComparison, compare_evenness
from tonematch.measure.appearance.last_step import say_last_step
from tonematch.measure.appearance.lustre import lustre_of
from tonematch.measure.appearance.lustre_comparison import LustreComparison, compare_lustre
from tonematch.measure.appearance.viewing import (
    ACROSS_THE_ROOM,
    ARM_LENGTH,
    SeenComparison,
    compare_seen,
)
from tonematch.measure.appearance.wear import find_wear
from tonematch.measure.area.areas import around
from tonematch.measure.calibration.card import calibrate
from tonematch.measure.core import Calibration, Comparison, Reading
from tonematch.photo.core import Photo


@dataclass(frozen=True, eq=False)
class SurfaceLook:
    """Evenness, what to do about it, and the look from some distances where the scale is known."""

    evenness: EvennessComparison
    last_step: tuple[str, ...]
    seen: tuple[SeenComparison, ...]

    @property
    def findings(self) -> tuple[str, ...]:
        """Sentences for the logbook and the record."""
        return (self.evenness.words, *self.last_step, *(seen.words for seen in self.seen))


def look_at_surfaces(
    gap: Comparison,
    original: Photo,
    repair: Photo,
    card_mm: float | None,
    distance_m: float | None,
    card_height_mm: float | None = None,
) -> SurfaceLook:
    """Compare the two areas of a comparison as surfaces, in the photographs they were read from.

    Parameters
    ----------
    card_mm, card_height_mm : float or None
        Width and height of the marked part of the card; without the width nothing is said of afar.
    distance_m : float or None
        Where the piece will be seen from, besides an arm's length and across the room.

    Raises
    ------
    ReadingError
        Where an area is too small, or more than half of it is glare.
    ValueRefused
        Where the card's size or the distance cannot be used.
    """
    old, new = (
        _surface(photo, reading, card_mm, card_height_mm)
        for photo, reading in ((original, gap.original), (repair, gap.repair))
    )
    evenness = compare_evenness(old, new)
    distances = {ARM_LENGTH, ACROSS_THE_ROOM, ARM_LENGTH if distance_m is None else distance_m}
    seen: tuple[SeenComparison, ...] = ()
    if card_mm is not None:
        seen = tuple(
            compare_seen(old, new, evenness, metres, gap.tolerance) for metres in sorted(distances)
        )
    return SurfaceLook(evenness, say_last_step(evenness, find_wear(old, new)), seen)


def last_step_of(gap: Comparison, original: Photo, repair: Photo) -> tuple[str, ...]:
    """What is left to do of a repair whose colour matches; nothing where that cannot be told."""
    try:
        return look_at_surfaces(gap, original, repair, None, None).last_step
    except ReadingError:
        return ()


def _surface(
    photo: Photo, reading: Reading, card_mm: float | None, card_height_mm: float | None
) -> AreaPicture:
    calibration = _calibration(reading)
    scale = None
    if card_mm is not None:
        scale = scale_from_card(calibration.card, card_mm, card_height_mm)
    return area_picture(photo, reading.area, calibration, scale)


def look_at_lustre(gap: Comparison, photos: Iterable[Photo]) -> LustreComparison:
    """Compare lustre where the lamp was moved before a fixed camera.

    Both areas were read in the first photograph, and the card is in each where it is in the first.
    Each is asked for once and not kept, as by `overlay`. Raises CardError where a card cannot
    calibrate its picture, AreaError where the pictures differ in size, ReadingError where the same
    one comes twice or an area cannot be read.
    """
    card = _calibration(gap.repair)
    calibrations: list[Calibration] = []
    names: dict[str, str] = {}

    def calibrated(photo: Photo) -> Photo:
        if photo.sha256 in names:  # one lamp counted twice would make the rise look surer
            raise ReadingError(
                f"'{photo.name}' is the same picture as '{names[photo.sha256]}': give one picture "
                "for each place of the lamp."
            )
        names[photo.sha256] = photo.name
        first = not calibrations
        calibrations.append(card if first else calibrate(photo, card.card, card.value))
        return photo

    areas = gap.original.area, gap.repair.area
    original, repair = (
        lustre_of(laid, area, calibrations)
        for laid, area in zip(overlay(map(calibrated, photos), areas), areas, strict=True)
    )
    return compare_lustre(original, repair, gap.tolerance)


def with_lustre(gap: Comparison, found: LustreComparison) -> Comparison:
    """The comparison with the lustre of both surfaces in its readings, where that is known."""
    original, repair = (
        replace(reading, lustre=reading.lustre if body.lustre is None else body.lustre)
        for reading, body in ((gap.original, found.body.original), (gap.repair, found.body.repair))
    )
    return replace(gap, original=original, repair=repair)


def map_of(gap: Comparison, photo: Photo) -> bytes:
    """The repair and its surroundings against the original, as a map: a grey PNG file.

    The photo is that of the repair; the original is mapped too where it lies in the same one.
    """
    shown = [gap.repair.area]
    if gap.original.photo_sha256 == gap.repair.photo_sha256:
        shown.insert(0, gap.original.area)
    box = around(photo, shown)
    found = difference_map(photo, _calibration(gap.repair), gap.original, box)
    return map_png(found, gap.tolerance, shown, box)


def _calibration(reading: Reading) -> Calibration:
    assert reading.calibration is not None  # read_area gives it, and the logbook keeps it
    return reading.calibration
