"""What the logbook's photographs show: areas as they were read, and one place before and after.

Each is a JPEG file, or None where no photograph shows it any more: the page stands without.
"""

from collections.abc import Callable
from typing import TypeVar

import streamlit as st

from tonematch.errors import TonematchError
from tonematch.logbook.core import KeptReading
from tonematch.logbook.store import Logbook
from tonematch.measure.appearance.area_picture import pair_picture, part_lab, picture_step
from tonematch.measure.appearance.same_place import View, same_place
from tonematch.measure.area.areas import shown_part
from tonematch.measure.colour.convert import lab_to_srgb
from tonematch.photo.preview import jpeg_file
from tonematch.screens.asking.opening import photo_of

Made = TypeVar("Made")

PAIR_WORDS = "The old gold at the left and, edge to edge with it, the repair, as photographed"
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
