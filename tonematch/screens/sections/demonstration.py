"""The demonstration: an invented piece, its photographs and invented trials, for a first try."""

import streamlit as st

from tonematch.demonstration import PIECE, demo_photograph, load_demonstration
from tonematch.logbook.store import Logbook
from tonematch.measure.area.areas import shape_of
from tonematch.screens.asking.shots import marks_name
from tonematch.screens.marking import Marks
from tonematch.screens.session import Shot, bench, go_to

PHOTOGRAPH = "scene-1.jpg"


def offer_demonstration(logbook: Logbook) -> None:
    """A button that puts the invented piece and trials into the logbook, once."""
    names = {piece.name for piece in logbook.pieces()}
    if PIECE.name in names:
        return
    with st.expander("Try it first on an invented piece"):
        st.write(
            "This adds an invented piece with a calculated photograph, and invented layers to "
            "plan from. They are marked as invented wherever they are shown. To keep them apart "
            "from your own, start tonematch with another logbook."
        )
        if st.button("Put it on the bench", width="stretch"):
            load_demonstration(logbook)
            bench().take_up(PIECE.name)
            shown = demo_photograph(PHOTOGRAPH)
            shot = Shot(PHOTOGRAPH, shown.data)
            cards = {area.name: area for area, _ in shown.neutrals}
            boxes = {role: shape_of(area) for role, area in ({**shown.areas, **cards}).items()}
            bench().shots["both"] = shot
            bench().marks[marks_name("both", shot.sha256)] = Marks(boxes)
            go_to("Photograph", "The invented piece is on the bench, marked: compare the two.")
