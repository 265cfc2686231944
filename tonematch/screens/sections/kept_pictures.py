"""What the logbook's photographs show: areas as they were read, and one place before and after.

Each is None where no photograph shows it any more: the page stands without. Cropped once and then
remembered, for opening a photograph takes its time.
"""

from collections.abc import Callable
from typing import TypeVar

import numpy as np
import streamlit as st
from numpy.typing import NDArray

from tonematch.errors import TonematchError
from tonematch.logbook.core import KeptReading
from tonematch.logbook.store import Logbook
from tonematch.measure.appearance.edge_to_edge import pair_picture, part_lab, picture_step
from tonematch.measure.appearance.same_place import View, same_place
from tonematch.measure.area.areas import bounds
from tonematch.measure.colour.convert import lab_to_srgb
from tonematch.screens.asking.opening import photo_of

Codes = NDArray[np.uint8]
Made = TypeVar("Made")

SMALL = 160  # longest side of a crop in a row of the logbook, pixels


def small_crop(logbook: Logbook, kept: KeptReading | None) -> Codes | None:
    """The area that was read, as sRGB codes (h, w, 3)."""
    return None if kept is None else _shown(_small, logbook, kept)


def edge_to_edge_crop(logbook: Logbook, original: KeptReading, repair: KeptReading) -> Codes | None:
    """The old gold and, edge to edge with it, the repair."""
    return _shown(_pair, logbook, original, repair)


def before_and_after(
    logbook: Logbook, before: KeptReading, after: KeptReading, *beside: KeptReading
) -> tuple[Codes, Codes, float] | None:
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


def _key(kept: KeptReading) -> tuple[int, str, str]:
    return kept.id, kept.made_at, kept.reading.photo_sha256


@st.cache_data(max_entries=1000, show_spinner=False, hash_funcs={KeptReading: _key})
def _small(_logbook: Logbook, kept: KeptReading) -> Codes:
    box = bounds(kept.reading.area)
    photo = photo_of(_logbook, kept.reading)
    return lab_to_srgb(part_lab(photo, kept.reading, box, picture_step(box, SMALL)))


@st.cache_data(max_entries=50, show_spinner=False, hash_funcs={KeptReading: _key})
def _pair(_logbook: Logbook, original: KeptReading, repair: KeptReading) -> Codes:
    old, new = (photo_of(_logbook, kept.reading) for kept in (original, repair))
    return lab_to_srgb(pair_picture(original.reading, repair.reading, old, new))


@st.cache_data(max_entries=50, show_spinner=False, hash_funcs={KeptReading: _key})
def _place(_logbook: Logbook, *kept: KeptReading) -> tuple[Codes, Codes, float]:
    place = same_place(*(_view(_logbook, *side) for side in (kept[::2], kept[1::2])))
    return lab_to_srgb(place.before), lab_to_srgb(place.after), place.repair


def _view(logbook: Logbook, repair: KeptReading, *beside: KeptReading) -> View:
    reading = repair.reading
    there = [k for k in (repair, *beside) if k.reading.photo_sha256 == reading.photo_sha256]
    return View(photo_of(logbook, reading), reading, tuple(k.reading.area for k in there))
