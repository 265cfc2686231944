"""A plan painted on the piece's own photograph, from now to its end."""

from collections.abc import Mapping
from dataclasses import dataclass

import streamlit as st

from tonematch.logbook.store import Logbook
from tonematch.measure.colour.convert import lab_to_srgb
from tonematch.measure.core import Comparison
from tonematch.screens.asking.opening import photos_on_bench
from tonematch.screens.showing.plain import plain
from tonematch.toning.core import Coat, Layer, Plan, Surface
from tonematch.toning.model.layer_model import LayerModel
from tonematch.toning.planning.painted import Scene, painted, scene_of

LAMPS = {"as on the card": "D50", "warm light": "A", "cool light": "D75"}
CAPTION = (
    "Painted by computation, as your trials foretell it on average. Warm and cool light are "
    "guessed from three bands of colour: whether the two golds part in another light only a "
    "photograph there can show."
)


@dataclass(frozen=True, eq=False)
class Brush:
    """What plans are painted with: the photograph, and what is known of the layers."""

    scene: Scene
    model: LayerModel
    layers: Mapping[str, Layer]
    surface: Surface

    def after(self, plan: Plan, steps: int) -> Scene:
        """The scene after some steps of a plan."""
        coats = [Coat(self.layers[s.layer], s.strength, s.coats) for s in plan.steps[:steps]]
        return [self.scene, *painted(self.scene, coats, self.model, self.surface)][-1]


def scene_on_bench(logbook: Logbook, gap: Comparison) -> Scene | None:
    """The photograph of a comparison, or None where it cannot be had any more."""
    photos = photos_on_bench(logbook, gap)
    return None if photos is None else scene_of(gap.original, gap.repair, *photos)


@st.fragment
def show_painted(brush: Brush, plan: Plan, number: int) -> None:
    """The repair now and after each layer, beside the old gold, and a slider between them."""
    if number > 1 and not st.toggle("Paint it on the photograph", key=f"paint-{number}"):
        return
    ways = ["now", *(f"{i}. {plain(step.layer)}" for i, step in enumerate(plan.steps, start=1))]
    at = st.select_slider("From now to the end", ways, value=ways[-1], key=f"painted-{number}")
    lamp = st.session_state.get(f"lamp-{number}", next(iter(LAMPS)))
    scene = brush.after(plan, ways.index(at))
    when = "now" if at == ways[0] else f"after {at}"
    for lab, words in (
        (scene.edge_to_edge, f"The old gold, and edge to edge with it the repair, {when}"),
        (scene.lab, f"The piece, {when}"),
    ):
        st.image(lab_to_srgb(lab, LAMPS[lamp]), words, width="stretch", alt=words)
    st.radio("Seen in", list(LAMPS), key=f"lamp-{number}", horizontal=True)
    st.caption(CAPTION)
