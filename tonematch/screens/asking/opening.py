"""Photographs opened once: decoded light, and a smaller picture for the page."""

import streamlit as st

from tonematch.errors import TonematchError
from tonematch.logbook.store import Logbook
from tonematch.measure.core import Comparison, Reading
from tonematch.photo.core import Photo
from tonematch.photo.decode import load_photo
from tonematch.photo.preview import preview_png
from tonematch.screens.session import bench

PREVIEW_PIXELS = 1200


@st.cache_resource(max_entries=4, show_spinner="Opening the photograph")
def opened(source: bytes, name: str) -> Photo:
    """The photograph, decoded once; a Photo is never changed, so it can be shared."""
    return load_photo(source, name)


@st.cache_data(max_entries=4, show_spinner=False)
def preview(source: bytes, name: str) -> bytes:
    """A smaller picture of it for the page, as PNG."""
    return preview_png(opened(source, name), PREVIEW_PIXELS)[0]


def photo_of(logbook: Logbook, reading: Reading) -> Photo:
    """The photograph of a reading, from the bench or else from the logbook."""
    for shot in bench().shots.values():
        if shot.sha256 == reading.photo_sha256:
            return opened(shot.source, shot.name)
    return opened(logbook.photo_bytes(reading.photo_sha256), "the kept photograph")


def photos_on_bench(logbook: Logbook, gap: Comparison) -> tuple[Photo, Photo] | None:
    """The photographs of original and repair, or None where they cannot be shown as read."""
    if gap.original.calibration is None or gap.repair.calibration is None:
        return None
    try:
        return photo_of(logbook, gap.original), photo_of(logbook, gap.repair)
    except TonematchError:  # it was lost, or says no more what it did: the page stands without
        return None
