"""What is found in a photograph by itself and proposed: cards, a chart, the areas of the last one.

Nothing of it counts until a person takes it.
"""

import streamlit as st

from tonematch.errors import TonematchError
from tonematch.logbook.store import Logbook
from tonematch.measure.area.areas import Box, Shape, shape_of
from tonematch.measure.area.card_place import find_cards
from tonematch.measure.area.carried import carried_over
from tonematch.measure.calibration.chart import Chart, find_chart
from tonematch.measure.core import Comparison, Reading
from tonematch.screens.asking.opening import opened, photo_of
from tonematch.screens.marking import BLACK, CARD, WHITE
from tonematch.screens.session import Shot

_ROLES = {"grey": CARD.role, "white": WHITE.role, "black": BLACK.role}


def proposed(shot: Shot, earlier: Comparison | None, logbook: Logbook) -> dict[str, Shape]:
    """Shapes by role: cards that are seen, and the areas of an earlier comparison, moved along."""
    found: dict[str, Shape] = {}
    for reading in () if earlier is None else (earlier.original, earlier.repair):
        found |= _carried(shot, reading, logbook)
    return found | cards_in(shot.source, shot.name)


@st.cache_data(max_entries=8, show_spinner=False)
def cards_in(source: bytes, name: str) -> dict[str, Box]:
    """Where cards seem to lie, by the roles of their marks."""
    return {_ROLES[card]: box for card, box in find_cards(opened(source, name)).items()}


@st.cache_resource(max_entries=8, show_spinner=False)
def chart_in(source: bytes, name: str) -> Chart | None:
    """A 24-patch chart that is seen at a glance."""
    return find_chart(opened(source, name), at_a_glance=True)


def _same(reading: Reading) -> tuple[object, ...]:
    card = reading.calibration.card.corners if reading.calibration else ()
    return reading.photo_sha256, reading.area.role, reading.area.corners, card


@st.cache_data(
    max_entries=8,
    show_spinner="Looking for the same place",
    hash_funcs={Reading: _same, Logbook: lambda _: None},
)
def _carried(shot: Shot, reading: Reading, logbook: Logbook) -> dict[str, Shape]:
    """The area of an earlier reading and its card, where they lie in this photograph."""
    if reading.calibration is None:
        return {}
    areas = (reading.area, reading.calibration.card)
    boxes = {str(area.role): shape_of(area) for area in areas}
    if reading.photo_sha256 == shot.sha256:
        return boxes
    try:
        earlier = photo_of(logbook, reading)
    except TonematchError:  # it was lost: there is nothing to propose by it
        return {}
    cards = find_cards(earlier).values(), cards_in(shot.source, shot.name).values()
    return carried_over(earlier, opened(shot.source, shot.name), boxes, cards)
