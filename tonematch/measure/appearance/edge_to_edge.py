"""Two areas edge to edge, at their true relative lightness: what an eye would judge."""

import numpy as np

from tonematch.arrays import Array
from tonematch.measure.appearance.area_picture import balanced_part
from tonematch.measure.area.areas import shown_part
from tonematch.measure.calibration.apply import calibrated_xyz
from tonematch.measure.colour.convert import xyz_to_lab
from tonematch.measure.core import Reading
from tonematch.photo.core import Photo

# Longest side of each crop in pixels, and how high it may be by its width: what a screen shows
# beside the verdict. Choices of this project, no source.
_LONGEST, _HIGHEST = 450, 2 / 3


def pair_picture(original: Reading, repair: Reading, old: Photo, new: Photo) -> Array:
    """CIELAB (h, w, 3) of the middle of both areas, the original at the left.

    Nothing that lies beside them is in it. The readings carry their calibrations; `old` and `new`
    are the photos that they were read from.
    """
    sides = (original.area, old), (repair.area, new)
    step = max(picture_step(shown_part(area), _LONGEST) for area, _ in sides)
    return edge_to_edge(
        part_lab(old, original, shown_part(original.area), step),
        part_lab(new, repair, shown_part(repair.area), step),
    )


def edge_to_edge(original: Array, repair: Array) -> Array:
    """Two parts (h, w, 3) beside each other, as large as both and a screen allow."""
    width = min(original.shape[1], repair.shape[1])
    height = min(len(original), len(repair), max(1, round(_HIGHEST * width)))
    return np.hstack([_middle(part, height, width) for part in (original, repair)])


def part_lab(photo: Photo, reading: Reading, part: tuple[int, int, int, int], step: int) -> Array:
    """CIELAB (h, w, 3) of every step-th pixel of a part, as the reading's card has it."""
    assert reading.calibration is not None  # the logbook keeps it
    light = balanced_part(photo, reading.calibration, part, step)
    return xyz_to_lab(calibrated_xyz(reading.calibration, light))


def picture_step(part: tuple[int, int, int, int], longest: int) -> int:
    """Every how many pixels are taken, so that no side is longer."""
    return max(1, -(-max(part[2] - part[0], part[3] - part[1]) // longest))


def _middle(part: Array, height: int, width: int) -> Array:
    top, left = (len(part) - height) // 2, (part.shape[1] - width) // 2
    return part[top : top + height, left : left + width]
