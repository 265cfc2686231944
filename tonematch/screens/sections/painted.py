"""A plan painted on the piece's own photograph, from now to its end."""

import numpy as np
import streamlit as st

from tonematch.arrays import Array
from tonematch.errors import TonematchError
from tonematch.logbook.store import Logbook
from tonematch.measure.colour.convert import lab_to_srgb
from tonematch.measure.core import Comparison
from tonematch.screens.asking.opening import photo_of
from tonematch.screens.showing.plain import plain
from tonematch.toning.planning.painted import Scene, scene_of

NOW = "now"
LAMPS = {"as on the card": "D50", "warm light": "A", "cool light": "D75"}
CAPTION = (
    "Painted by computation, as your trials foretell it on average: only the part that you marked "
    "changes. Warm and cool light are guessed from three bands of colour; whether the two golds "
    "part in another light only a photograph there can show."
)


@st.cache_resource(max_entries=4, show_spinner="Opening the photograph")
def _scene(_logbook: Logbook, _gap: Comparison, key: str) -> Scene:  # noqa: ARG001
    old, new = photo_of(_logbook, _gap.original), photo_of(_logbook, _gap.repair)
    return scene_of(_gap.original, _gap.repair, old, new)


def scene_on_bench(logbook: Logbook, gap: Comparison) -> Scene | None:
    """The photograph of a comparison, or None where it cannot be had any more."""
    sides = gap.original, gap.repair
    if any(side.calibration is None or side.area is None for side in sides):
        return None
    key = " ".join(f"{s.photo_sha256} {s.area.corners} {s.lab.tolist()}" for s in sides)
    try:
        return _scene(logbook, gap, key)
    except TonematchError:  # it was lost, or says no more what it did: the plan stands without
        return None


@st.fragment
def show_painted(scenes: list[Scene], names: list[str], number: int) -> None:
    """The repair now and after each layer, beside the old gold, and a slider between them.

    `scenes` are now and after each of the layers whose names are given.
    """
    ways = [NOW, *(f"{i}. {name}" for i, name in enumerate(names, start=1))]
    at = st.select_slider(
        "From now to the end", ways, value=ways[-1], key=f"painted-{number}", format_func=plain
    )
    scene = scenes[ways.index(at)]
    lamp = LAMPS[st.session_state.get(f"lamp-{number}", next(iter(LAMPS)))]
    after = at if at == NOW else f"after {at}"
    st.image(
        _picture(scene.edge_to_edge, lamp), plain(f"Old gold | repair, {after}"), width="stretch"
    )
    st.image(_picture(scene.lab, lamp), plain(f"The piece, {after}"), width="stretch")
    st.radio("Seen in", list(LAMPS), key=f"lamp-{number}", horizontal=True)
    st.caption(CAPTION)


def _picture(lab: Array, lamp: str) -> Array:
    return np.asarray(lab_to_srgb(lab, lamp))
