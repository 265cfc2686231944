"""How many millimetres of the piece a pixel spans, from a card of known size."""

import math

import cv2
import numpy as np

from tonematch.errors import ValueRefused
from tonematch.measure.core import Area

# How far the two scales of a card may part before the marking or the size must be wrong: a card
# that is tilted by 30 degrees is foreshortened by 13 %.
_APART = 1.25
_LEAST, _MOST = 1.0, 2000.0  # millimetres of a card that a person holds or props up; a choice


def scale_from_card(card: Area, width_mm: float, height_mm: float | None = None) -> float:
    """Millimetres per pixel in the plane of the card.

    Parameters
    ----------
    card : Area
        The part of the card that was marked, a polygon of any shape and turn; what is measured
        is the smallest rectangle around it.
    width_mm : float
        Size of that part from left to right, above 0.
    height_mm : float, optional
        Size from top to bottom. With both, a card that is seen a little from the side gives the
        mean scale of its two directions (geometric).

    Returns
    -------
    float

    Raises
    ------
    ValueRefused
        Where a size is not a number above 0, or width and height do not fit the marked shape.
    """
    across, down = _sides(card)
    width = _check_size(width_mm) / across
    if height_mm is None:
        return width
    height = _check_size(height_mm) / down
    if max(width / height, height / width) > _APART:
        raise ValueRefused(
            f"A card of {width_mm:g} by {height_mm:g} mm does not have the shape that was marked "
            f"({across:.0f} by {down:.0f} pixels): give width and height of the marked part, and "
            "photograph the card from the front."
        )
    return math.sqrt(width * height)


def check_scale(mm_per_pixel: float) -> float:
    """A scale that can be used.

    Raises
    ------
    ValueRefused
        Where it is not a finite number above 0.
    """
    if not math.isfinite(mm_per_pixel) or mm_per_pixel <= 0:
        raise ValueRefused(
            f"A scale of {mm_per_pixel:g} mm per pixel cannot be: give a number above 0, such as "
            "0.1."
        )
    return float(mm_per_pixel)


def _sides(card: Area) -> tuple[float, float]:
    """Pixels from left to right and from top to bottom of the smallest rectangle around it."""
    corners = cv2.boxPoints(cv2.minAreaRect(np.array(card.corners, dtype=np.float32)))
    one, other = corners[1] - corners[0], corners[2] - corners[1]
    if abs(one[0]) < abs(one[1]):  # the side that lies nearer the horizontal is the width
        one, other = other, one
    return float(np.hypot(*one)), float(np.hypot(*other))


def _check_size(millimetres: float) -> float:
    if not _LEAST <= millimetres <= _MOST:
        raise ValueRefused(
            f"A card of {millimetres:g} mm cannot be: measure the part of it that is marked, and "
            f"give millimetres above 0, from {_LEAST:g} to {_MOST:g}, such as 50."
        )
    return millimetres
