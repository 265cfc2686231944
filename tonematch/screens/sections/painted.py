"""A plan painted on the piece's own photograph, from now to its end."""

import pickle
from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache

import streamlit as st

from tonematch.logbook.store import Logbook
from tonematch.measure.core import Comparison, Reading
from tonematch.photo.core import Photo
from tonematch.screens.asking.opening import photos_on_bench
from tonematch.screens.showing.plain import plain
from tonematch.screens.showing.swatch import show_picture
from tonematch.toning.core import Coat, Layer, Plan, Surface
from tonematch.toning.model.layer_model import LayerModel
from tonematch.toning.planning.painted import Scene, painted, scene_of

LAMPS = {"as on the card": "D50", "warm light": "A", "cool light": "D75"}
CAPTION = (
    "Painted by computation, as what you laid foretells it on average. Warm and cool light are "
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

    def after(self, scene: Scene, plan: Plan, steps: int) -> Scene:
        """A scene after some steps of a plan."""
        coats = (Coat(self.layers[s.layer], s.strength, s.coats) for s in plan.steps[:steps])
        return _after(scene, tuple(coats), self.model, self.surface)


@lru_cache(maxsize=8)
def _after(scene: Scene, coats: tuple[Coat, ...], model: LayerModel, surface: Surface) -> Scene:
    """Painted once while scene and model are kept: every press on the page shows it again."""
    return [scene, *painted(scene, coats, model, surface)][-1]


def scene_on_bench(logbook: Logbook, gap: Comparison) -> Scene | None:
    """The photograph of a comparison, or None where it cannot be had any more."""
    photos = photos_on_bench(logbook, gap)
    return None if photos is None else _scene(gap.original, gap.repair, *photos)


@st.cache_resource(
    max_entries=4,
    show_spinner=False,
    hash_funcs={Reading: pickle.dumps, Photo: lambda one: one.sha256},
)
def _scene(original: Reading, repair: Reading, old: Photo, new: Photo) -> Scene:
    return scene_of(original, repair, old, new)


def show_end(brush: Brush, plan: Plan, number: int) -> None:
    """The repair at the end of a plan, beside the old gold."""
    _show_edge(brush, plan, number, len(plan.steps), "D50")


@st.fragment
def show_painted(brush: Brush, plan: Plan, number: int) -> None:
    """The repair now and after each layer, beside the old gold, and a slider between them."""
    ways = ["now", *(f"{i}. {plain(step.layer)}" for i, step in enumerate(plan.steps, start=1))]
    picture = st.container()
    at = st.select_slider("From now to the end", ways, value=ways[-1], key=f"painted-{number}")
    steps = ways.index(at)
    fold = st.expander(
        "The whole piece, and in other light", key=f"whole-{number}", on_change="rerun"
    )
    lamp = "D50"
    if fold.open:
        with fold:
            lamp = LAMPS[st.radio("Seen in", list(LAMPS), key=f"lamp-{number}", horizontal=True)]
            whole = brush.after(brush.scene, plan, steps).lab
            show_picture(f"piece-{number}", whole, f"The piece, {_when(steps)}", lamp)
            st.caption(CAPTION)
    with picture:
        _show_edge(brush, plan, number, steps, lamp)


def _show_edge(brush: Brush, plan: Plan, number: int, steps: int, lamp: str) -> None:
    seen = brush.after(brush.scene.close, plan, steps).edge_to_edge
    words = f"The old gold, and edge to edge with it the repair, {_when(steps)}"
    show_picture(f"edge-{number}", seen, words, lamp, caption=words)


def _when(steps: int) -> str:
    return f"after layer {steps}" if steps else "now"
