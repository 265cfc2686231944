"""What besides the card helps a reading: further neutrals, a chart, a plain sheet, a profile."""

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from tempfile import TemporaryDirectory

import streamlit as st

from tonematch.measure.areas import box_area
from tonematch.measure.camera_profile import read_profile
from tonematch.measure.chart import Chart, find_chart
from tonematch.measure.core import CameraProfile
from tonematch.measure.marked import Aids
from tonematch.photo.core import Photo
from tonematch.screens.marking import NEUTRALS, Box, Mark
from tonematch.screens.opening import opened
from tonematch.screens.session import Shot

_USUAL_NEUTRALS = (0.9, 0.05, 0.4)  # a white, a black and a light grey


@dataclass(frozen=True, eq=False)
class AskedAids:
    """What a person said; neutrals are areas only once they are marked."""

    reflectances: Mapping[str, float]
    chart: Chart | None
    profile: CameraProfile | None
    flat: Photo | None

    def with_neutrals(self, boxes: Mapping[str, Box]) -> Aids:
        """All of it, with those neutrals that are marked."""
        neutrals = tuple(
            (box_area(mark.label, boxes[mark.role]), self.reflectances[mark.role])
            for mark in NEUTRALS
            if mark.role in boxes and mark.role in self.reflectances
        )
        return Aids(neutrals, chart=self.chart, profile=self.profile, flat=self.flat)


def ask_for_aids(place: str, shot: Shot) -> tuple[tuple[Mark, ...], AskedAids]:
    """Ask what else is in the picture or known of the camera and the light.

    Returns
    -------
    neutrals : tuple of Mark
        To be marked on the picture.
    asked : AskedAids
    """
    with st.expander("More that makes the reading surer"):
        count = st.number_input(
            "Further greys of known value in the picture", 0, len(NEUTRALS), 0, key=f"greys-{place}"
        )
        neutrals = NEUTRALS[:count]
        reflectances = {
            mark.role: st.number_input(
                f"{mark.label}: reflectance, 0 to 1",
                0.01,
                1.0,
                usual,
                step=0.01,
                key=f"{mark.role}-{place}",
            )
            for mark, usual in zip(neutrals, _USUAL_NEUTRALS, strict=False)
        }
        chart = _ask_for_chart(place, shot)
        flat = _ask_for_sheet(place)
        profile = None if chart is not None else _ask_for_profile(place)
    return neutrals, AskedAids(reflectances, chart, profile, flat)


def _ask_for_chart(place: str, shot: Shot) -> Chart | None:
    if not st.checkbox("A 24-patch chart is in the picture", key=f"chart-{place}"):
        return None
    chart = _found_chart(shot.source, shot.name)
    if chart is None:
        st.warning(
            "No chart was found: photograph it larger, flat and whole, or go on without it.",
            icon=":material/warning:",
        )
    else:
        st.caption("The chart was found. The camera's colours are corrected by its patches.")
    return chart


@st.cache_resource(max_entries=4, show_spinner="Looking for the chart")
def _found_chart(source: bytes, name: str) -> Chart | None:
    return find_chart(opened(source, name))


def _ask_for_sheet(place: str) -> Photo | None:
    handed = st.file_uploader(
        "A picture of a plain white or grey sheet in the same light and place",
        key=f"flat-{place}",
        help="By it the light is made even over the whole picture.",
    )
    return None if handed is None else opened(handed.getvalue(), handed.name)


def _ask_for_profile(place: str) -> CameraProfile | None:
    handed = st.file_uploader(
        "A saved camera profile, for this camera under this lamp", type=["json"], key=f"own-{place}"
    )
    if handed is None:
        return None
    with TemporaryDirectory() as folder:
        path = Path(folder) / Path(handed.name).name
        path.write_bytes(handed.getvalue())
        return read_profile(path)
