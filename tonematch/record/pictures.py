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
from tonematch.measure.appearance.same_place import View, same_place
from tonematch.measure.area.areas import around
from tonematch.measure.colour.convert import lab_to_srgb
from tonematch.measure.core import Area
from tonematch.photo.core import Photo
from tonematch.photo.decode import load_photo
from tonematch.photo.preview import preview

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


def close_ups(history: PieceHistory) -> list[tuple[KeptComparison, str]]:
    """The first and the last comparison, each with its place as a JPEG file in base64.

    It is the same place, as its card calibrates it each time; empty where a photograph is gone.
    """
    kept = [*history.comparisons[:1], *history.comparisons[1:][-1:]]
    try:
        views = [_view(history, one) for one in kept if one.repair.calibration is not None]
    except (LogbookError, PhotoError):
        views = []
    if len(views) < len(kept) or not kept:
        return [(one, "") for one in kept]
    place = same_place(views[0], views[-1], shown=_surroundings(views[0]))
    drawn = (_jpeg(lab_to_srgb(lab), CLOSE) for lab in (place.before, place.after))
    return list(zip(kept, drawn, strict=False))


def _surroundings(view: View) -> tuple[int, int, int, int]:
    """The marked areas with what is around them, three parts wide and two high if there is room."""
    photo = view.photo
    x, y, w, h = around(photo, view.areas)
    wide = min(max(w, h * 1.5), photo.width)
    high = min(max(h, w / 1.5), photo.height)
    left = min(max(x - (wide - w) / 2.0, 0.0), photo.width - wide)
    top = min(max(y - (high - h) / 2.0, 0.0), photo.height - high)
    return int(left), int(top), int(left + wide), int(top + high)


def _view(history: PieceHistory, kept: KeptComparison) -> View:
    repair, original = kept.repair.reading, kept.original.reading
    found = [photo for photo in history.photographs if photo.sha256 == repair.photo_sha256]
    if not found:
        raise LogbookError("The photograph of a comparison was not kept with its piece.")
    beside = (original.area,) if original.photo_sha256 == repair.photo_sha256 else ()
    return View(_load(found[0]), repair, (repair.area, *beside))


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
