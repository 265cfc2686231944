"""Small pictures of pieces, made once for each photograph."""

import streamlit as st

from tonematch.errors import TonematchError
from tonematch.logbook.core import Piece
from tonematch.logbook.standing import Standing
from tonematch.logbook.store import Logbook
from tonematch.measure.area.areas import Box, around
from tonematch.measure.core import Area
from tonematch.photo.core import Photo
from tonematch.photo.decode import load_photo
from tonematch.photo.preview import part_jpeg

SMALL = 320  # longest side in pixels: twice what it takes on the page, for sharp screens


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
