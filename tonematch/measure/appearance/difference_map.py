"""Where a repair and its surroundings depart from the original: CIEDE2000, pixel by pixel.

The picture of it must survive a black-and-white printer and every kind of colour vision, so it
has no colours: steps of lightness, a hatching of its own for each step, contour lines between
them and the number of each step written into its patches.
"""

from collections.abc import Sequence
from io import BytesIO

import cv2
import numpy as np
from numpy.typing import NDArray
from PIL import Image, ImageDraw, ImageFont

from tonematch.measure.appearance.area_picture import balanced_part, picture_step
from tonematch.measure.area.areas import bounds, box_area, check_inside
from tonematch.measure.calibration.apply import calibrated_xyz
from tonematch.measure.colour.convert import xyz_to_lab
from tonematch.measure.colour.difference import picture_difference
from tonematch.measure.core import Area, Calibration, Reading
from tonematch.photo.core import Photo
from tonematch.photo.light import clipped

_MOST_ACROSS = 1200
"""Longest side of a map in pixels; larger boxes are mapped from every n-th pixel."""

# Upper ends of the steps in tolerances; beyond the last is a step of its own.
_ENDS = (0.5, 1.0, 2.0, 3.0)
# Grey of each step (sRGB codes); with their hatching their means are about 45 codes apart.
_GREYS = (255, 214, 178, 150, 40)
_WORDS = ("very near", "near enough", "not near enough", "far", "very far")
_LONGEST_SIDE, _SMALLEST_SIDE = 1000, 420
_font = ImageFont.load_default  # of so many points


def difference_map(
    photo: Photo, calibration: Calibration, original: Reading, box: Sequence[float]
) -> NDArray[np.float32]:
    """CIEDE2000 of every n-th pixel of a box against the original's reading, shape (h, w).

    nan where the picture is clipped. The calibration is from the card in this photo, the original
    maybe of another; the box is left, top, width and height in pixels of the upright picture.
    Raises AreaError where that reaches outside the picture or has no size.
    """
    area = box_area("map", box)
    check_inside(photo, area)
    part = bounds(area)
    step = picture_step(part, _MOST_ACROSS)
    xyz = calibrated_xyz(calibration, balanced_part(photo, calibration, part, step))
    lab = xyz_to_lab(xyz).astype(np.float32)
    found = picture_difference(lab, original.lab.astype(np.float32))
    found[clipped(photo, *part, step)] = np.nan
    return found


def map_png(
    found: NDArray[np.float32], tolerance: float, areas: Sequence[Area], box: Sequence[float]
) -> bytes:
    """A map as a picture with its legend, for screen and black-and-white print: a grey PNG file.

    On it are drawn areas with their names: the original and the repair, say.
    """
    height, width = found.shape
    scale = min(_LONGEST_SIDE / max(found.shape), max(1.0, _SMALLEST_SIDE / max(found.shape)))
    size = max(1, round(width * scale)), max(1, round(height * scale))
    steps = _steps(found, tolerance, size)
    picture = Image.fromarray(_hatched(steps))
    draw = ImageDraw.Draw(picture)
    across, down = size[0] / box[2], size[1] / box[3]
    for area in areas:
        corners = [((x - box[0]) * across, (y - box[1]) * down) for x, y in area.corners]
        _outline(draw, corners, area.name)
    _write_numbers(draw, steps)
    sheet = _with_legend(picture, tolerance, bool((steps < 0).any()))
    file = BytesIO()
    sheet.save(file, format="PNG", optimize=True)
    return file.getvalue()


def _steps(
    found: NDArray[np.float32], tolerance: float, size: tuple[int, int]
) -> NDArray[np.int64]:
    """Step of each pixel of the picture, -1 where clipped; single pixels of noise smoothed."""
    missing = np.isnan(found)
    known = np.where(missing, np.float32(0), found)
    sigma = max(1.0, max(found.shape) / 200.0)
    weight = cv2.GaussianBlur((~missing).astype(np.float32), (0, 0), sigma)
    smooth = cv2.GaussianBlur(known, (0, 0), sigma) / np.maximum(weight, 1e-3)
    large = cv2.resize(smooth, size, interpolation=cv2.INTER_LINEAR)
    steps = np.digitize(np.asarray(large, dtype=np.float64) / tolerance, _ENDS, right=True)
    lost = cv2.resize(missing.astype(np.float32), size, interpolation=cv2.INTER_LINEAR) > 0.5
    return np.where(lost, -1, steps).astype(np.int64)


def _hatched(steps: NDArray[np.int64]) -> NDArray[np.uint8]:
    """Greys, hatching and contour lines; what is clipped is a field of small crosses."""
    y, x = np.indices(steps.shape)
    grey = np.choose(np.maximum(steps, 0), _GREYS)
    marks = [
        (steps == 1) & (x % 14 < 2) & (y % 14 < 2),
        (steps == 2) & ((x + y) % 12 < 2),
        (steps == 3) & (((x + y) % 10 < 2) | ((x - y) % 10 < 2)),
    ]
    grey = np.where(np.logical_or.reduce(marks), 40, grey)
    grey = np.where((steps == 4) & (x % 9 < 2) & (y % 9 < 2), 235, grey)
    u, v = x % 16 - 8, y % 16 - 8
    cross = (np.maximum(np.abs(u), np.abs(v)) <= 4) & (np.abs(np.abs(u) - np.abs(v)) <= 0)
    grey = np.where(steps < 0, np.where(cross, 0, 255), grey)
    edge = np.zeros(steps.shape, dtype=bool)
    edge[1:] |= steps[1:] != steps[:-1]
    edge[:, 1:] |= steps[:, 1:] != steps[:, :-1]
    edge |= np.roll(edge, 1, axis=1)
    return np.where(edge, 0, grey).astype(np.uint8)


def _write_numbers(draw: ImageDraw.ImageDraw, steps: NDArray[np.int64]) -> None:
    """The step's number in every patch that has room for it, where it is widest."""
    for step in range(len(_GREYS)):
        count, labels, stats, _ = cv2.connectedComponentsWithStats((steps == step).astype(np.uint8))
        for patch in range(1, count):
            left, top, width, height, area = (int(value) for value in stats[patch])
            if area < 900:
                continue
            part = np.pad((labels[top : top + height, left : left + width] == patch), 1)
            depth = cv2.distanceTransform(part.astype(np.uint8), cv2.DIST_L2, 3)
            row, column = np.unravel_index(int(depth.argmax()), depth.shape)
            if depth[row, column] >= 13:
                at = left + int(column) - 1, top + int(row) - 1
                _label(draw, at, str(step + 1), 20)


def _label(draw: ImageDraw.ImageDraw, at: tuple[int, int], text: str, points: int) -> None:
    draw.text(at, text, fill=0, font=_font(points), anchor="mm", stroke_width=4, stroke_fill=255)


def _outline(draw: ImageDraw.ImageDraw, corners: list[tuple[float, float]], name: str) -> None:
    closed = [*corners, corners[0]]
    draw.line(closed, fill=255, width=7)
    draw.line(closed, fill=0, width=3)
    x, y = (sum(values) / len(corners) for values in zip(*corners, strict=True))
    top = min(corner[1] for corner in corners)
    _label(draw, (round(x), round(max(top + 16, 16) if top > 0 else y)), name, 18)


def _with_legend(picture: Image.Image, tolerance: float, lost: bool) -> Image.Image:
    """The map above, its steps below, each with grey, hatching, number, bounds and words."""
    steps = [*range(len(_GREYS)), *([-1] if lost else [])]
    row, margin = 40, 16
    width = max(picture.width, 560) + 2 * margin
    height = picture.height + 3 * margin + 34 + row * len(steps)
    sheet = Image.new("L", (width, height), 255)
    sheet.paste(picture, (margin, margin))
    draw = ImageDraw.Draw(sheet)
    draw.rectangle(
        (margin - 1, margin - 1, margin + picture.width, margin + picture.height), outline=0
    )
    y = picture.height + 2 * margin
    draw.text((margin, y), "How far from the original, in CIEDE2000", fill=0, font=_font(20))
    ends = (0.0, *(end * tolerance for end in _ENDS))
    for i, step in enumerate(steps):
        at = y + 34 + i * row
        swatch = Image.fromarray(_hatched(np.full((row - 8, 72), step)))
        sheet.paste(swatch, (margin, at))
        draw.rectangle((margin, at, margin + 72, at + row - 8), outline=0)
        if step < 0:
            words = "clipped: no reading"
        else:
            _label(draw, (margin + 36, at + row // 2 - 4), str(step + 1), 18)
            upper = f"to {ends[step + 1]:g}" if step < len(_ENDS) else "and more"
            words = f"{step + 1}:  {ends[step]:g} {upper}, {_WORDS[step]}"
        draw.text((margin + 88, at + row // 2 - 4), words, fill=0, font=_font(18), anchor="lm")
    return sheet
