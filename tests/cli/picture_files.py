"""Photographs painted from known colours, as files for the command line."""

from collections.abc import Sequence
from pathlib import Path

import numpy as np
from numpy.typing import NDArray
from PIL import Image

from tests.measure.metal_renders import Metal, lit, photograph, ring, tilts
from tests.measure.painted import GREY, encode, lab_to_light, painted_light
from tonematch.measure.area.areas import corners_of
from tonematch.measure.calibration.chart import chart_reference
from tonematch.measure.colour.convert import xyz_to_lab
from tonematch.record.strip_layout import FRAME, PAGE, StripLayout

Lab = tuple[float, float, float]

PITCH, PATCH = 60, 52
CHART_AT = (60, 40)
CORNERS = "60,40,412,40,412,272,60,272"
"""Outer corners of the chart's corner patches."""
CARD, OLD, NEW = "500,40,100,100", "500,180,100,80", "500,290,100,80"
OLD_LAB, NEW_LAB = (70.0, 8.0, 32.0), (74.0, 7.0, 34.0)


# Each channel sees a little of the others, as a camera's does; greys stay grey.
_CAMERA = np.array([(0.80, 0.15, 0.05), (0.10, 0.80, 0.10), (0.02, 0.18, 0.80)])


def chart_picture(path: Path) -> Path:
    """A chart with its published colours, a card and two golds, by a camera that mixes colours."""
    light = painted_light(
        {
            (500, 40, 100, 100): GREY,
            (500, 180, 100, 80): OLD_LAB,
            (500, 290, 100, 80): NEW_LAB,
        },
        (660, 400),
    )
    light[:320, :460] = 0.03
    for k, xyz in enumerate(chart_reference().values()):
        row, column = divmod(k, 6)
        x, y = CHART_AT[0] + column * PITCH, CHART_AT[1] + row * PITCH
        light[y : y + PATCH, x : x + PATCH] = lab_to_light(xyz_to_lab(xyz))
    return saved(0.9 * light @ _CAMERA.T, path, noise=0.01)


def lamp_pictures(folder: Path, original: Metal, repair: Metal, lamps: int = 5) -> list[Path]:
    """Both metals under every lamp, from the tests' renders of metal; files in order."""
    rng = np.random.default_rng(8)
    fields = tilts(rng, (90, 100)), tilts(rng, (90, 100))
    paths = []
    for number, lamp in enumerate(ring(lamps, rng), start=1):
        path = folder / f"lamp-{number}.png"
        light = [
            lit(metal, field, lamp) for metal, field in zip((original, repair), fields, strict=True)
        ]
        codes = photograph(light[0], light[1], lamp, rng, 0.4).encoded
        Image.fromarray(np.asarray(codes, dtype=np.uint8)).save(path, compress_level=1)
        paths.append(path)
    return paths


def saved(light: NDArray[np.float64], path: Path, noise: float = 0.0) -> Path:
    """Linear sRGB as an 8-bit PNG."""
    random = np.random.default_rng(5)
    grained = light * (1.0 + noise * random.standard_normal(light.shape))
    Image.fromarray(np.asarray(encode(grained, 8))).save(path, compress_level=1)
    return path


PER_MM = 2.5
FRAME_CORNERS = ",".join(f"{PER_MM * v:g}" for corner in corners_of(FRAME) for v in corner)
"""Of the black frame in `sheet_picture`, as the command line takes them."""


def sheet_picture(path: Path, colours: Sequence[Sequence[Lab]]) -> Path:
    """A sheet of strips, each with the colours of its fields, seen from straight above."""
    layout = StripLayout(tuple(len(fields) - 1 for fields in colours))
    paint = [(layout.card, GREY)]
    for strip, labs in enumerate(colours):
        paint += list(zip(layout.fields(strip), labs, strict=True))
    fields = {_pixels(place): lab for place, lab in paint}
    width, height = (round(side * PER_MM) for side in PAGE)
    light = painted_light(fields, (width, height))
    light[light.sum(axis=-1) == 0] = 0.7
    return saved(light * 0.9, path, noise=0.01)


def _pixels(place: tuple[float, float, float, float]) -> tuple[int, int, int, int]:
    x, y, w, h = (round(PER_MM * value) for value in place)
    return x, y, w, h
