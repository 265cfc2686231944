"""Pictures that arrive in a watched folder, as a phone's are synchronised: one press takes one."""

import time
from collections.abc import Callable
from pathlib import Path

import streamlit as st

from tonematch.errors import PhotoError, TonematchError
from tonematch.photo.decode import SUFFIXES
from tonematch.screens.showing.plain import plain, refuse

# Choices of this project: pictures offered, seconds between two looks, and seconds without a change
# after which a picture has come whole.
MOST, EVERY, SETTLED = 4, 5.0, 2.0
DAY = 24 * 3600.0


def newest(folder: Path, now: float) -> list[Path]:
    """The last day's pictures in a folder that have come whole, the newest first.

    `now` is in seconds since the epoch.
    """
    found: list[tuple[float, Path]] = []
    for path in folder.iterdir() if folder.is_dir() else ():
        if path.suffix.lower().lstrip(".") not in SUFFIXES or path.name.startswith("."):
            continue
        try:
            stat = path.stat()
        except OSError:  # gone again since it was listed
            continue
        if stat.st_size and SETTLED <= now - stat.st_mtime <= DAY:
            found.append((stat.st_mtime, path))
    return [path for _, path in sorted(found, key=lambda one: -one[0])[:MOST]]


@st.fragment(run_every=EVERY)
def offer_arrivals(folder: Path, place: str, take: Callable[[str, bytes], None]) -> None:
    """Offer what arrived; what is pressed is taken as a photograph that was handed over."""
    arrived = newest(folder, time.time())
    if not arrived:
        st.caption(f"Waiting for pictures in {plain(str(folder))}.")
    for path in arrived:
        label = f"Take {plain(path.name)}, {time.strftime('%H:%M', _local(path))}"
        if st.button(label, key=f"arrived-{place}-{path.name}", width="stretch"):
            try:
                take(path.name, _bytes_of(path))
            except TonematchError as error:  # this part of the page runs by itself
                refuse(str(error))
            else:
                st.rerun()


def _local(path: Path) -> time.struct_time:
    try:
        return time.localtime(path.stat().st_mtime)
    except OSError:
        return time.localtime()


def _bytes_of(path: Path) -> bytes:
    try:
        return path.read_bytes()
    except OSError as error:
        raise PhotoError(
            f"'{path.name}' cannot be read from the watched folder: hand it over by itself."
        ) from error
