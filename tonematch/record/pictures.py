"""Photographs as small pictures inside the record: whole with the marked areas, and close to."""

from base64 import b64encode
from collections.abc import Iterable
from dataclasses import dataclass
from io import BytesIO

import numpy as np
from numpy.typing import NDArray
from PIL import Image

from tonematch.errors import LogbookError, PhotoError
from tonematch.logbook.core import KeptComparison, KeptPhoto, PieceHistory
from tonematch.logbook.photo_folder import read_bytes
from tonematch.measure.appearance.area_picture import balanced_part
from tonematch.measure.area.areas import around
from tonematch.measure.calibration.apply import calibrated_xyz
from tonematch.measure.colour.convert import lab_to_srgb, xyz_to_lab
from tonematch.measure.core import Area
from tonematch.photo.core import Photo
from tonematch.photo.decode import load_photo
from tonematch.photo.light import linear_light
from tonematch.photo.preview import preview, to_srgb_codes

LONGEST = 1000  # pixels: about 150 to the inch on the width of an A4 page
CLOSE = (540, 360)  # pixels: about 200 to the inch where two stand side by side
QUALITY = 85


@dataclass(frozen=True)
class Outline:
    """A marked area in pixels of the small picture, and its part of the picture in per cent."""

    name: str
    points: str
    x: float
    y: float
    share: float


@dataclass(frozen=True)
class Picture:
    """A photograph as it stands in the record.

    Attributes
    ----------
    width, height : int
        Of the small picture, pixels.
    jpeg : str
        The small picture, base64; empty where there is none.
    fault : str
        Why there is no picture, one sentence.
    """

    photo: KeptPhoto
    width: int = 0
    height: int = 0
    jpeg: str = ""
    outlines: tuple[Outline, ...] = ()
    fault: str = ""


def pictures_of(history: PieceHistory) -> list[Picture]:
    """The small pictures of a piece, in the order in which they were kept.

    A photograph that is gone or damaged leaves a sentence in its place.
    """
    areas = _areas_by_photo(history)
    return [_picture(photo, areas.get(photo.sha256, {})) for photo in history.photographs]


def close_up(history: PieceHistory, kept: KeptComparison) -> str:
    """The place of a comparison, as a JPEG file in base64; empty where its photograph is gone.

    It is drawn as the card calibrates it, so that the same place at two times may be compared.
    """
    found = [p for p in history.photographs if p.sha256 == kept.repair.reading.photo_sha256]
    if not found:
        return ""
    try:
        photo = _load(found[0])
    except (LogbookError, PhotoError):
        return ""
    x0, y0, x1, y1 = part = _surroundings(photo, kept)
    step = max(1, min((x1 - x0) // CLOSE[0], (y1 - y0) // CLOSE[1]))
    calibration = kept.repair.calibration
    if calibration is None:
        codes = to_srgb_codes(linear_light(photo, *part, step), photo)
    else:
        light = balanced_part(photo, calibration, part, step)
        codes = lab_to_srgb(xyz_to_lab(calibrated_xyz(calibration, light)))
    return _jpeg(codes, CLOSE)


def _surroundings(photo: Photo, kept: KeptComparison) -> tuple[int, int, int, int]:
    """The marked areas with what is around them, three parts wide and two high if there is room."""
    pair = (kept.original.reading, kept.repair.reading)
    areas = [reading.area for reading in pair if reading.photo_sha256 == photo.sha256]
    x, y, w, h = around(photo, areas)
    wide = min(max(w, h * 1.5), photo.width)
    high = min(max(h, w / 1.5), photo.height)
    left = min(max(x - (wide - w) / 2.0, 0.0), photo.width - wide)
    top = min(max(y - (high - h) / 2.0, 0.0), photo.height - high)
    return int(left), int(top), int(left + wide), int(top + high)


def _areas_by_photo(history: PieceHistory) -> dict[str, dict[Area, None]]:
    """Areas that were marked on each photograph, each once, in order."""
    readings = [
        reading for kept in history.comparisons for reading in (kept.original, kept.repair)
    ] + [
        reading
        for kept in history.trials
        for reading in (kept.before, kept.after)
        if reading is not None
    ]
    areas: dict[str, dict[Area, None]] = {}
    for kept in readings:
        for sha256, marked in kept.areas.items():
            areas.setdefault(sha256, {}).update(dict.fromkeys(marked))
    return areas


def _load(photo: KeptPhoto) -> Photo:
    return load_photo(read_bytes(photo.path, photo.sha256), photo.file_name)


def _picture(kept: KeptPhoto, areas: Iterable[Area]) -> Picture:
    try:
        photo = _load(kept)
    except (LogbookError, PhotoError) as error:
        return Picture(kept, fault=str(error))
    codes, scale = preview(photo, LONGEST)
    height, width = codes.shape[:2]
    outlines = tuple(_outline(area, scale, width * height) for area in areas)
    return Picture(kept, width, height, _jpeg(codes, (LONGEST, LONGEST)), outlines)


def _outline(area: Area, scale: float, pixels: int) -> Outline:
    x, y = corners = np.array(area.corners).T * scale
    twice = np.dot(x, np.roll(y, -1)) - np.dot(y, np.roll(x, -1))
    return Outline(
        name=area.name,
        points=" ".join(f"{x:.1f},{y:.1f}" for x, y in corners.T),
        x=float(x.min()),
        y=float(y.min()),
        share=float(100.0 * abs(twice) / 2.0 / pixels),
    )


def _jpeg(codes: NDArray[np.uint8], most: tuple[int, int]) -> str:
    image, file = Image.fromarray(codes), BytesIO()
    image.thumbnail(most)
    image.save(file, format="JPEG", quality=QUALITY)
    return b64encode(file.getvalue()).decode("ascii")
