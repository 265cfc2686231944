"""Small pictures of pieces, made once for each photograph."""

from dataclasses import replace

import streamlit as st

from tonematch.errors import TonematchError
from tonematch.logbook.standing import Standing
from tonematch.logbook.store import Logbook
from tonematch.measure.area.areas import around
from tonematch.measure.core import Area
from tonematch.photo.preview import part_jpeg, reduced

# Longest sides in pixels: of a picture on the page of all pieces, twice what it takes there for
# sharp screens, and of the photograph that it is cut from.
SMALL, CUT_FROM = 320, 1000


def picture_of(logbook: Logbook, standing: Standing) -> bytes | None:
    """Both golds as last photographed, as JPEG; None where there is no photograph of them."""
    if not standing.photo_sha256:
        return None
    try:
        return _small(logbook, standing.photo_sha256, standing.file_name, standing.areas)
    except TonematchError:  # it was lost or is damaged: the page stands without
        return None


@st.cache_data(max_entries=500, show_spinner=False, hash_funcs={Area: repr})
def _small(_logbook: Logbook, sha256: str, file_name: str, areas: tuple[Area, ...]) -> bytes:
    photo, scale = reduced(_logbook.photo_bytes(sha256), file_name, CUT_FROM)
    scaled = [
        replace(area, corners=tuple((x * scale, y * scale) for x, y in area.corners))
        for area in areas
    ]
    return part_jpeg(photo, around(photo, scaled), SMALL)
