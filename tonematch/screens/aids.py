"""What besides the card helps a reading: further neutrals, a chart, a plain sheet, a profile."""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from pathlib import Path
from tempfile import TemporaryDirectory

import streamlit as st

from tonematch.measure.areas import box_area
from tonematch.measure.camera_profile import read_profile, write_profile
from tonematch.measure.chart import Chart, find_chart
from tonematch.measure.core import Calibration, CameraProfile
from tonematch.measure.marked import Aids
from tonematch.measure.tone import Encoding
from tonematch.photo.core import Photo
from tonematch.screens.marking import CARDS, NEUTRALS, Box, Mark
from tonematch.screens.opening import opened
from tonematch.screens.session import Shot

_USUAL_NEUTRALS = (0.9, 0.05, 0.4)  # a white, a black and a light grey


@dataclass(frozen=True, eq=False)
class AskedAids:
    """What a person said; neutrals and further cards are areas only once they are marked."""

    reflectances: Mapping[str, float]
    cards: tuple[Mark, ...]
    chart: Chart | None
    profile: CameraProfile | None
    flat: Photo | None
    encoding: Encoding = "profile"

    def marked(self, boxes: Mapping[str, Box]) -> Aids:
        """All of it, with those neutrals and cards that are marked."""
        neutrals = tuple(
            (box_area(mark.label, boxes[mark.role]), self.reflectances[mark.role])
            for mark in NEUTRALS
            if mark.role in boxes and mark.role in self.reflectances
        )
        cards = tuple(
            box_area(mark.label, boxes[mark.role], "card")
            for mark in self.cards
            if mark.role in boxes
        )
        return Aids(neutrals, self.encoding, self.chart, self.profile, self.flat, cards)


def ask_for_aids(place: str, shot: Shot) -> tuple[tuple[Mark, ...], AskedAids]:
    """Ask what else is in the picture or known of the camera and the light.

    Returns
    -------
    marks : tuple of Mark
        Of neutrals and cards that are to be marked on the picture.
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
        again = st.number_input(
            "How often the same card lies elsewhere in the picture as well",
            0,
            len(CARDS),
            0,
            key=f"cards-{place}",
            help="By it uneven light is seen and taken out.",
        )
        chart = _ask_for_chart(place, shot)
        flat = _ask_for_sheet(place)
        linear = st.checkbox("The file holds linear light, whatever it says", key=f"linear-{place}")
        profile = None if chart is not None else _ask_for_profile(place)
    cards = CARDS[:again]
    return (*neutrals, *cards), AskedAids(
        reflectances, cards, chart, profile, flat, "linear" if linear else "profile"
    )


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


def offer_profile(calibration: Calibration | None) -> None:
    """What a chart taught of the camera, to be saved for pictures without the chart."""
    profile = None if calibration is None else calibration.profile
    if profile is None:
        return
    st.caption(f"Colours by {profile.words}.")
    lamp = st.text_input("Under which lamp", profile.lamp, placeholder="north window, two panels")
    with TemporaryDirectory() as folder:
        written = write_profile(replace(profile, lamp=lamp), Path(folder) / "profile.json")
        entry = written.read_bytes()
    st.download_button(
        "Save this camera profile",
        entry,
        "camera profile.json",
        "application/json",
        on_click="ignore",
        width="stretch",
    )
