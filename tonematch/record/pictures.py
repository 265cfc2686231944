"""Photographs as small pictures inside the record, with the marked areas."""

from base64 import b64encode
from collections.abc import Iterable
from dataclasses import dataclass
from io import BytesIO

from PIL import Image

from tonematch.errors import LogbookError, PhotoError
from tonematch.logbook.core import KeptPhoto, PieceHistory
from tonematch.logbook.photo_folder import read_bytes
from tonematch.measure.core import Area
from tonematch.photo.decode import load_photo
from tonematch.photo.preview import preview_png

LONGEST = 1000  # pixels: about 150 to the inch on the width of an A4 page
QUALITY = 85


@dataclass(frozen=True)
class Outline:
    """A marked area in pixels of the small picture."""

    name: str
    points: str
    x: float
    y: float


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

    file_name: str
    sha256: str
    made_at: str
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


def _picture(photo: KeptPhoto, areas: Iterable[Area]) -> Picture:
    try:
        data = read_bytes(photo.path, photo.sha256)
        png, scale = preview_png(load_photo(data, photo.file_name), LONGEST)
    except (LogbookError, PhotoError) as error:
        return Picture(photo.file_name, photo.sha256, photo.made_at, fault=str(error))
    jpeg = BytesIO()
    with Image.open(BytesIO(png)) as image:
        width, height = image.size
        image.convert("RGB").save(jpeg, format="JPEG", quality=QUALITY)
    return Picture(
        photo.file_name,
        photo.sha256,
        photo.made_at,
        width,
        height,
        b64encode(jpeg.getvalue()).decode("ascii"),
        tuple(_outline(area, scale) for area in areas),
    )


def _outline(area: Area, scale: float) -> Outline:
    corners = [(x * scale, y * scale) for x, y in area.corners]
    return Outline(
        name=area.name,
        points=" ".join(f"{x:.1f},{y:.1f}" for x, y in corners),
        x=min(x for x, _ in corners),
        y=min(y for _, y in corners),
    )
