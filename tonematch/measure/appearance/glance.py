"""What a marked area holds, told at once: before the card is marked, and so without calibration."""

from dataclasses import dataclass

import numpy as np

from tonematch.arrays import Vector3
from tonematch.errors import CardError, ReadingError
from tonematch.measure.appearance.cells import mottle, without_slope
from tonematch.measure.area.noise import part_means
from tonematch.measure.area.pixels import MIDDLE_GREY, Pixels, area_pixels, plain_pixels
from tonematch.measure.area.rounding import check_border
from tonematch.measure.calibration.card_checks import (
    check_card_exposure,
    check_evenness,
    evenness,
    steepest,
)
from tonematch.measure.colour.convert import xyz_to_lab
from tonematch.measure.core import Area
from tonematch.measure.reading.checks import check_area_exposure, check_left_out
from tonematch.photo.core import Photo
from tonematch.swatchbook import limits

# Parts along each side by which mottle is told; and mean CIEDE2000 from the mean up to which it is
# called so, above what is seen at all: choices of this project.
_ACROSS = 16
_GRADES = ((1.5, "softly mottled"), (3.0, "mottled"), (np.inf, "strongly mottled"))


@dataclass(frozen=True, eq=False)
class Glance:
    """An area as the file shows it.

    Attributes
    ----------
    lab : ndarray, shape (3,), or None
        CIELAB (D50, 2 degree), neither calibrated nor adapted to the lamp; None where it holds
        nothing that can be read.
    evenness : str
        How even or mottled, in a word or two.
    faults : tuple of str
        Clipped, too small, too dark, uneven, too near the edge: a sentence each.
    """

    lab: Vector3 | None
    evenness: str
    faults: tuple[str, ...]


def glance(photo: Photo, area: Area) -> Glance:
    """Look at a marked area; cards are to be even, gilding is as mottled as it is.

    Raises AreaError where it reaches outside the picture.
    """
    pixels = area_pixels(photo, area)
    level = np.median(pixels.light, axis=0) if len(pixels.light) else np.zeros(3)
    kept = plain_pixels(MIDDLE_GREY * pixels.light / max(level.max(), 1e-6), pixels.clipped)
    lab = xyz_to_lab(photo.to_xyz @ pixels.light[kept].mean(axis=0)) if kept.any() else None
    try:
        if area.role == "card":
            return Glance(lab, "even", (*_faults_of_card(pixels), *check_border(photo, area)))
        faults = check_area_exposure(area, pixels) + check_left_out(area, 1.0 - float(kept.mean()))
        faults += check_border(photo, area)
    except (CardError, ReadingError) as error:
        return Glance(lab, "", (str(error),))
    return Glance(lab, _grade(photo, area, pixels), tuple(faults))


def _faults_of_card(pixels: Pixels) -> list[str]:
    check_card_exposure(pixels)
    scaled = MIDDLE_GREY * pixels.light / np.median(pixels.light, axis=0)
    kept = plain_pixels(scaled, pixels.clipped)
    slope, uneven = evenness(pixels, kept, pixels.light[kept].mean(axis=0))
    return check_evenness(steepest(slope), uneven, 1.0 - float(kept.mean()))


def _grade(photo: Photo, area: Area, pixels: Pixels) -> str:
    used = ~pixels.clipped
    places = np.stack([pixels.x, pixels.y], axis=-1)[used]
    parts = xyz_to_lab(part_means(pixels.light[used], places, area, _ACROSS) @ photo.to_xyz.T)
    here = np.isfinite(parts).all(axis=-1)
    seen = mottle(without_slope(parts[here], np.argwhere(here).astype(np.float64)))
    if seen < limits("evenness")["seen_mottle"]:
        return "even"
    return next(word for most, word in _GRADES if seen < most)
