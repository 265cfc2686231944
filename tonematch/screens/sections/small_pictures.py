"""Small pictures of pieces, made once for each photograph."""

from tonematch.errors import TonematchError
from tonematch.logbook.standing import Standing
from tonematch.logbook.store import Logbook
from tonematch.measure.area.areas import Box, around
from tonematch.measure.core import Area
from tonematch.photo.core import Photo
from tonematch.photo.decode import load_photo
from tonematch.photo.preview import part_jpeg

SMALL = 320  # longest side in pixels: twice what it takes on the page, for sharp screens


def picture_of(logbook: Logbook, standing: Standing) -> bytes | None:
    """Both golds as last photographed, as JPEG; None where there is no photograph of them."""
    if not standing.photo_sha256:
        return None
    of = standing.photo_sha256, standing.file_name, standing.areas
    try:
        return logbook.small_picture(of[0], f"{SMALL} {of[2]}", lambda: _small(logbook, *of))
    except TonematchError:  # it was lost or is damaged: the page stands without
        return None


def _small(logbook: Logbook, sha256: str, file_name: str, areas: tuple[Area, ...]) -> bytes:
    photo = load_photo(logbook.photo_bytes(sha256), file_name)
    return part_jpeg(photo, _shaped(around(photo, areas), photo), SMALL)


def _shaped(part: Box, photo: Photo) -> Box:
    """A part made higher or wider to four by three, as far as the picture goes."""
    x, y, w, h = part
    width, height = min(max(w, h * 4 / 3), photo.width), min(max(h, w * 3 / 4), photo.height)
    left = min(max(0.0, x + (w - width) / 2), photo.width - width)
    top = min(max(0.0, y + (h - height) / 2), photo.height - height)
    return left, top, width, height
