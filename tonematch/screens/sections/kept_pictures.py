"""What the logbook's photographs show: pieces, areas as they were read, a place before and after.

Each is a JPEG file, or None where no photograph shows it any more: the page stands without.
"""

from collections.abc import Callable
from typing import TypeVar

import streamlit as st

from tonematch.errors import TonematchError
from tonematch.logbook.core import KeptReading, Piece
from tonematch.logbook.standing import Standing
from tonematch.logbook.store import Logbook
from tonematch.measure.appearance.area_picture import pair_picture, part_lab, picture_step
from tonematch.measure.appearance.same_place import View, same_place
from tonematch.measure.area.areas import Box, around, shown_part
from tonematch.measure.colour.convert import lab_to_srgb
from tonematch.measure.core import Area
from tonematch.photo.core import Photo
from tonematch.photo.decode import load_photo
from tonematch.photo.preview import jpeg_file, part_jpeg
from tonematch.screens.asking.opening import photo_of

Made = TypeVar("Made")

PAIR_WORDS = "The old gold at the left and, edge to edge with it, the repair, as photographed"
OF_PIECE = 320  # longest side in pixels: twice what it takes on a page, for sharp screens
SMALL = 160  # longest side of a crop in a row of the logbook, pixels


def small_crop(logbook: Logbook, kept: KeptReading | None) -> bytes | None:
    """The area that was read."""
    return None if kept is None else _shown(_small, logbook, kept)


def edge_to_edge_crop(logbook: Logbook, original: KeptReading, repair: KeptReading) -> bytes | None:
    """The old gold and, edge to edge with it, the repair."""
    return _shown(_pair, logbook, original, repair)


def before_and_after(
    logbook: Logbook, before: KeptReading, after: KeptReading, *beside: KeptReading
) -> tuple[bytes, bytes, float] | None:
    """The place of a repair in two photographs, with the old gold where both show it.

    `beside` are the old gold's two readings, where there are any. Last comes how far across the
    picture the repair lies, as a share.
    """
    return _shown(_place, logbook, before, after, *beside)


def _shown(make: Callable[..., Made], logbook: Logbook, *kept: KeptReading) -> Made | None:
    if any(one.calibration is None for one in kept):
        return None
    try:
        return make(logbook, *kept)
    except TonematchError:  # the photograph was lost or is damaged
        return None


def _key(kept: KeptReading) -> str:
    return f"{kept.id} {kept.made_at} {kept.reading.photo_sha256} {kept.reading.area}"


def _small(logbook: Logbook, kept: KeptReading) -> bytes:
    def make() -> bytes:
        box = shown_part(kept.reading.area)
        photo = photo_of(logbook, kept.reading)
        lab = part_lab(photo, kept.reading, box, picture_step(box, SMALL))
        return jpeg_file(lab_to_srgb(lab))

    return logbook.small_picture(kept.reading.photo_sha256, f"area {SMALL} {_key(kept)}", make)


def _pair(logbook: Logbook, original: KeptReading, repair: KeptReading) -> bytes:
    def make() -> bytes:
        old, new = (photo_of(logbook, kept.reading) for kept in (original, repair))
        return jpeg_file(lab_to_srgb(pair_picture(original.reading, repair.reading, old, new)))

    shown = f"pair {_key(original)} {_key(repair)}"
    return logbook.small_picture(repair.reading.photo_sha256, shown, make)


@st.cache_data(max_entries=50, show_spinner=False, hash_funcs={KeptReading: _key})
def _place(_logbook: Logbook, *kept: KeptReading) -> tuple[bytes, bytes, float]:
    place = same_place(*(_view(_logbook, *side) for side in (kept[::2], kept[1::2])))
    before, after = (jpeg_file(lab_to_srgb(lab)) for lab in (place.before, place.after))
    return before, after, place.repair


def _view(logbook: Logbook, repair: KeptReading, *beside: KeptReading) -> View:
    reading = repair.reading
    there = [k for k in (repair, *beside) if k.reading.photo_sha256 == reading.photo_sha256]
    return View(photo_of(logbook, reading), reading, tuple(k.reading.area for k in there))


def show_piece(logbook: Logbook, piece: Piece) -> None:
    """The piece that a page is about, where it was photographed."""
    standing = logbook.standing(piece.name, piece.zone)
    if standing is not None:
        show_small_picture(logbook, standing, width=240)


def show_small_picture(logbook: Logbook, standing: Standing, width: int = 112) -> None:
    """Both golds as last photographed, where there is a photograph of them."""
    with st.spinner(""):
        picture = _picture_of(logbook, standing)
    if picture is not None:
        alt = f"The golds of {standing.piece.title}, as photographed"
        st.image(picture, width=width, alt=alt)


def _picture_of(logbook: Logbook, standing: Standing) -> bytes | None:
    """As JPEG."""
    if not standing.photo_sha256:
        return None
    of = standing.photo_sha256, standing.file_name, standing.areas
    try:
        return logbook.small_picture(of[0], f"{OF_PIECE} {of[2]}", lambda: _both(logbook, *of))
    except TonematchError:  # it was lost or is damaged: the page stands without
        return None


def _both(logbook: Logbook, sha256: str, file_name: str, areas: tuple[Area, ...]) -> bytes:
    photo = load_photo(logbook.photo_bytes(sha256), file_name)
    return part_jpeg(photo, _shaped(around(photo, areas), photo), OF_PIECE)


def _shaped(part: Box, photo: Photo) -> Box:
    """A part made higher or wider to four by three, as far as the picture goes."""
    x, y, w, h = part
    width, height = min(max(w, h * 4 / 3), photo.width), min(max(h, w * 3 / 4), photo.height)
    left = min(max(0.0, x + (w - width) / 2), photo.width - width)
    top = min(max(0.0, y + (h - height) / 2), photo.height - height)
    return left, top, width, height
