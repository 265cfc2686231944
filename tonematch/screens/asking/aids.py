"""What besides the card helps a reading: more cards, a chart, a plain sheet, a profile."""

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace

import cv2
import numpy as np
import streamlit as st

from tonematch.errors import HOLDS_LINEAR, TonematchError
from tonematch.logbook.own_cards import OWN_CARDS
from tonematch.logbook.store import Logbook
from tonematch.measure.area.areas import Shape, shape_area
from tonematch.measure.calibration.aids import Aids, Encoding
from tonematch.measure.calibration.camera_profile import (
    camera_of,
    profile_file,
    profile_in,
)
from tonematch.measure.calibration.chart import CHART_BUYS, Chart, chart_at, find_chart
from tonematch.measure.core import Area, Calibration, CameraProfile
from tonematch.photo.core import Photo
from tonematch.photo.decode import SUFFIXES
from tonematch.screens.asking.opening import opened
from tonematch.screens.asking.proposals import chart_in
from tonematch.screens.marking import (
    BLACK,
    CARDS,
    CHART_CORNERS,
    NEUTRALS,
    WHITE,
    Mark,
    middle,
)
from tonematch.screens.session import Shot, bench
from tonematch.screens.showing.plain import offer_file, plain, say_wrong, warn

Corners = Sequence[tuple[float, float]]

_USUAL_NEUTRAL = 0.4  # a light grey
_TONES = {"white": WHITE, "black": BLACK}


@dataclass(frozen=True, eq=False)
class AskedAids:
    """What a person said; cards, neutrals and corners count only once they are marked."""

    reflectances: Mapping[str, float]
    cards: tuple[Mark, ...] = ()
    chart: Chart | None = None
    corners: tuple[Mark, ...] = ()
    profile: CameraProfile | None = None
    flat_field: Photo | None = None
    encoding: Encoding = "profile"

    @property
    def marks(self) -> tuple[Mark, ...]:
        """What is to be marked on the picture for all this."""
        neutrals = (mark for mark in NEUTRALS if mark.role in self.reflectances)
        return (*_TONES.values(), *neutrals, *self.cards, *self.corners)

    def cards_marked(self, boxes: Mapping[str, Shape]) -> dict[str, Area]:
        """White and black card, as far as they are marked."""
        return {
            name: shape_area(mark.label, boxes[mark.role])
            for name, mark in _TONES.items()
            if mark.role in boxes
        }

    def marked(self, boxes: Mapping[str, Shape], photo: Photo) -> Aids:
        """All of it, as far as it is marked on the photograph."""
        tones = self.cards_marked(boxes)
        greys = [
            (shape_area(mark.label, boxes[mark.role]), self.reflectances[mark.role])
            for mark in NEUTRALS
            if mark.role in boxes and mark.role in self.reflectances
        ]
        neutrals = (*OWN_CARDS.value().marked(tones), *greys)
        cards = tuple(
            shape_area(mark.label, boxes[mark.role], "card")
            for mark in self.cards
            if mark.role in boxes
        )
        chart = self.chart
        corners = [middle(boxes[mark.role]) for mark in self.corners if mark.role in boxes]
        if len(corners) == len(CHART_CORNERS):
            chart = chart_at(photo, corners)
        return Aids(neutrals, self.encoding, chart, self.profile, self.flat_field, cards)


def ask_for_aids(place: str, shot: Shot, logbook: Logbook) -> AskedAids:
    """Ask what else is in the picture or known of the camera and the light."""
    held = bench()
    remembered = _ask_for_remembered(place, opened(shot.source, shot.name), logbook)
    with st.expander("More that makes the reading surer"):
        count = _ask_number(
            f"greys-{place}", "Further greys of known value in the picture", len(NEUTRALS)
        )
        reflectances = {
            mark.role: _ask_reflectance(f"{mark.role}-{place}", mark) for mark in NEUTRALS[:count]
        }
        again = _ask_number(
            f"cards-{place}",
            "How often the same card lies elsewhere in the picture as well",
            len(CARDS),
            "By it uneven light is seen and taken out.",
        )
        chart, corners = _ask_for_chart(place, shot)
        flat_field = _ask_for_sheet(place)
        key = f"linear-{place}"
        linear = st.checkbox(HOLDS_LINEAR.capitalize(), held.recall(key, False), key=key)
        held.remember(key, linear)
        asked = remembered is None and chart is None and not corners
        profile = _ask_for_profile(place) if asked else remembered
    encoding: Encoding = "linear" if linear else "profile"
    return AskedAids(reflectances, CARDS[:again], chart, corners, profile, flat_field, encoding)


def _ask_for_remembered(place: str, photo: Photo, logbook: Logbook) -> CameraProfile | None:
    """What an earlier picture taught of this camera, where a person chooses it."""
    held, key = bench(), f"remembered-{place}"
    camera = camera_of(photo)
    known = logbook.camera_profiles(camera, photo.space)
    if not known:
        return None
    days = ["", *known]
    before = held.recall(key, "")
    day = st.selectbox(
        f"{plain(camera)} was measured before: use what was learned then?",
        days,
        days.index(before) if before in days else 0,
        format_func=lambda day: f"{day}: {known[day].words}" if day else "No",
        key=key,
    )
    return known.get(held.remember(key, day))


def _ask_number(key: str, label: str, most: int, help: str | None = None) -> int:
    held = bench()
    count = st.number_input(label, 0, most, held.recall(key, 0), key=key, help=help)
    return held.remember(key, count)


def _ask_reflectance(key: str, mark: Mark) -> float:
    held = bench()
    reflectance = st.number_input(
        f"{mark.label}: reflectance, 0 to 1",
        0.01,
        1.0,
        held.recall(key, _USUAL_NEUTRAL),
        step=0.01,
        key=key,
    )
    return held.remember(key, reflectance)


def _ask_for_chart(place: str, shot: Shot) -> tuple[Chart | None, tuple[Mark, ...]]:
    """The chart that was found, or the corners to mark where none was."""
    held, key = bench(), f"chart-{place}"
    label = "A 24-patch chart is in the picture"
    if not held.remember(key, st.checkbox(label, held.recall(key, False), key=key)):
        return None, ()
    chart = _found_chart(shot.source, shot.name)
    if chart is None:
        warn(
            "No chart was found by itself: tap its four corners on the picture, or go on without "
            "it."
        )
        return None, CHART_CORNERS
    st.caption("The chart was found. The camera's colours are corrected by its patches.")
    return chart, ()


def outline_of_chart(place: str, shot: Shot) -> dict[str, Corners]:
    """Where a chart is seen at a glance, to be shown on the picture: a question until used."""
    chart = chart_in(shot.source, shot.name)
    if chart is None:
        return {}
    corners = np.array([area.corners for area in chart.patches.values()], dtype=np.float32)
    outline = [(float(x), float(y)) for x, y in cv2.convexHull(corners.reshape(-1, 2))[:, 0]]
    return {"Chart" if bench().recall(f"chart-{place}", False) else "Chart?": outline}


def offer_chart(place: str, shot: Shot) -> None:
    """Propose the chart that was seen: one press uses it."""
    key = f"chart-{place}"

    def use() -> None:
        st.session_state[key] = bench().remember(key, True)

    if chart_in(shot.source, shot.name) is not None and not bench().recall(key, False):
        st.button("Use the 24-patch chart that was found", on_click=use, width="stretch")
        st.caption(CHART_BUYS)


@st.cache_resource(max_entries=4, show_spinner="Looking for the chart")
def _found_chart(source: bytes, name: str) -> Chart | None:
    return find_chart(opened(source, name))


def _ask_for_file(
    key: str, label: str, kinds: Iterable[str], use: str, take: Callable[[str, bytes], None]
) -> None:
    """Ask for a file; where it cannot be taken that is said beside it, and the page stays."""
    handed = st.file_uploader(label, type=list(kinds), key=key, help=use)
    if handed is None:
        return
    try:
        take(handed.name, handed.getvalue())
    except TonematchError as error:
        say_wrong(str(error), key)
    else:
        st.rerun()


def _ask_for_sheet(place: str) -> Photo | None:
    held, key = bench(), f"sheet-{place}"

    def take(name: str, source: bytes) -> None:
        opened(source, name)
        held.shots[key] = Shot(name, source)

    if key not in held.shots:
        label = "A picture of a plain white or grey sheet in the same light and place"
        use = "By it the light is made even over the whole picture."
        _ask_for_file(key, label, SUFFIXES, use, take)
        return None
    shot = held.shots[key]
    st.caption(f"The light is made even by the picture of a plain sheet, {plain(shot.name)}.")
    if st.button("Go on without the sheet", key=f"no-{key}", width="stretch"):
        del held.shots[key]
        st.rerun()
    return opened(shot.source, shot.name)


def _ask_for_profile(place: str) -> CameraProfile | None:
    held, key = bench(), f"own-{place}"

    def take(name: str, source: bytes) -> None:
        held.remember(key, profile_in(source, name))

    if key not in held.answers:
        label = "A saved camera profile, for this camera under this lamp"
        use = "Of a chart, of three tones, or of exposures: as 'tonematch profile' saves it."
        _ask_for_file(key, label, ["json"], use, take)
        return None
    profile: CameraProfile = held.answers[key]
    st.caption(f"By a saved profile: {plain(profile.words)}.")
    if st.button("Go on without the profile", key=f"no-{key}", width="stretch"):
        del held.answers[key]
        st.rerun()
    return profile


def offer_profile(calibration: Calibration | None) -> None:
    """What a chart taught of the camera, to be saved for pictures without the chart."""
    profile = None if calibration is None else calibration.profile
    if profile is None or not profile.patches:
        return
    st.caption(f"Colours by {plain(profile.words)}.")
    lamp = st.text_input("Under which lamp", profile.lamp, placeholder="north window, two panels")
    entry = profile_file(replace(profile, lamp=lamp))
    offer_file("Save this camera profile", entry, "camera profile.json", "application/json")
