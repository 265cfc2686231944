"""A picture whose light falls by 30 %, and the plain sheet and further cards that undo it."""

import numpy as np
from numpy.typing import NDArray

from tests.measure.painted import lab_to_light, photo_of
from tonematch.measure.area.areas import box_area
from tonematch.measure.calibration.card import card_from_reflectance
from tonematch.measure.colour.difference import delta_e_2000
from tonematch.measure.core import Calibration
from tonematch.measure.reading.reading import read_area
from tonematch.photo.core import Photo

W, H = 320, 240
LAB = np.array([60.0, 8.0, 34.0])
GREY_18 = card_from_reflectance(0.18)
CARD = box_area("card", (20, 20, 40, 40), "card")
FURTHER = box_area("second card", (260, 180, 40, 40))
THIRD = box_area("third card", (20, 180, 40, 40))
ONE, OTHER = box_area("one", (70, 20, 40, 40)), box_area("other", (210, 180, 40, 40))


def field(kind: str) -> NDArray[np.float64]:
    """Light that falls by 30 % over the picture, shape (H, W, 1)."""
    y, x = np.mgrid[0:H, 0:W]
    if kind == "across":
        share = 1 - 0.3 * x / W
    elif kind == "diagonal":
        share = 1 - 0.15 * x / W - 0.15 * y / H
    else:
        share = 1 - 0.3 * ((x / W - 0.5) ** 2 + (y / H - 0.3) ** 2) / 0.74
    return np.asarray(share[..., None], dtype=np.float64)


def scene(kind: str, noise: float = 0.005) -> Photo:
    """Cards, and two equal patches far apart."""
    light = np.full((H, W, 3), 0.05)
    for area in (CARD, FURTHER, THIRD):
        (x0, y0), (x1, y1) = area.corners[0], area.corners[2]
        light[int(y0) : int(y1), int(x0) : int(x1)] = 0.18
    for area in (ONE, OTHER):
        (x0, y0), (x1, y1) = area.corners[0], area.corners[2]
        light[int(y0) : int(y1), int(x0) : int(x1)] = lab_to_light(LAB)
    random = np.random.default_rng(2)
    return photo_of(light * field(kind) * (1 + noise * random.standard_normal(light.shape)))


def sheet(kind: str, level: float = 0.6, grain: float = 0.01) -> Photo:
    """A plain sheet in the same light."""
    random = np.random.default_rng(3)
    paper = level * (1 + grain * random.standard_normal((H, W, 3)))
    return photo_of(paper * field(kind))


def apart(photo: Photo, calibration: Calibration) -> float:
    """CIEDE2000 between the two equal patches as read."""
    one, other = (read_area(photo, area, calibration) for area in (ONE, OTHER))
    return float(delta_e_2000(one.lab, other.lab))
