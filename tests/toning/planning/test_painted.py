"""Plans painted on the bundled photographs, beside what was laid and photographed there."""

from collections.abc import Sequence
from itertools import pairwise

import numpy as np
import pytest

from tests.demonstration.render_demo import FIRST, SECOND
from tonematch.demonstration import PIECE, demo_photograph
from tonematch.measure.calibration.card import usual_card
from tonematch.measure.colour.convert import lab_to_srgb
from tonematch.measure.colour.difference import delta_e_2000
from tonematch.measure.marked import compare_marked
from tonematch.toning.core import Coat
from tonematch.toning.layers.shelf import load_shelf
from tonematch.toning.model.chain import predict_steps
from tonematch.toning.model.layer_model import LayerModel
from tonematch.toning.planning.painted import Scene, painted, scene_of

PHOTOGRAPHS = ("scene-1.jpg", "scene-2-after-1.jpg", "scene-2-after-2.jpg")
SURFACE = PIECE.surface(())


@pytest.fixture(scope="module")
def scenes() -> list[Scene]:
    """The piece before the first layer, and after each."""
    made = []
    for name in PHOTOGRAPHS:
        marked = demo_photograph(name).marked()
        gap = compare_marked(marked, marked, usual_card(), PIECE.tolerance)
        made.append(scene_of(gap.original, gap.repair, marked.photo, marked.photo))
    return made


def coats() -> Sequence[Coat]:
    shelf = load_shelf()
    return [Coat(shelf[name], strength) for name, strength in (FIRST, SECOND)]


def test_the_painted_repair_is_what_the_model_foretells(
    scenes: list[Scene], demo_model: LayerModel
) -> None:
    now = scenes[0].lab[scenes[0].repair].mean(axis=0)
    told = predict_steps(demo_model, now, coats(), SURFACE)
    for scene, step in zip(painted(scenes[0], coats(), demo_model, SURFACE), told, strict=True):
        seen = scene.lab[scene.repair].mean(axis=0)
        assert delta_e_2000(seen, step.prediction.lab) < 0.2


def test_its_mottle_is_within_a_fifth_of_what_was_photographed(
    scenes: list[Scene], demo_model: LayerModel
) -> None:
    for coat, (before, after) in zip(coats(), pairwise(scenes), strict=True):
        (foretold,) = painted(before, [coat], demo_model, SURFACE)
        spread = foretold.lab[foretold.repair][:, 0].std()
        assert spread == pytest.approx(after.lab[after.repair][:, 0].std(), rel=0.2)


def test_the_rest_of_the_repair_is_painted_and_the_old_gold_is_not(
    scenes: list[Scene], demo_model: LayerModel
) -> None:
    before = scenes[0]
    (after,) = painted(before, coats()[:1], demo_model, SURFACE)
    assert (after.lab == before.lab)[~before.toned].all()
    assert before.toned.sum() > 3 * before.repair.sum()
    # The old gold is the left third of this picture.
    assert before.toned[:, : before.toned.shape[1] // 3].mean() < 0.02


@pytest.mark.proof
def test_old_gold_of_another_photograph_lies_edge_to_edge(demo_model: LayerModel) -> None:
    old, new = (demo_photograph(f"separate-{role}.jpg").marked() for role in ("original", "repair"))
    gap = compare_marked(old, new, usual_card(), PIECE.tolerance)
    scene = scene_of(gap.original, gap.repair, old.photo, new.photo)
    both = scene.edge_to_edge
    half = both.shape[1] // 2
    for side, reading in ((both[:, :half], gap.original), (both[:, half:], gap.repair)):
        assert delta_e_2000(side.mean(axis=(0, 1)), reading.lab) < 1.0
    assert np.isfinite(painted(scene, coats(), demo_model, SURFACE)[-1].lab).all()


def test_glare_and_deep_shade_are_painted_too(demo_model: LayerModel) -> None:
    lab = np.array([[[110.0, 3.0, 20.0], [0.0, 0.0, 0.0], [88.0, 6.0, 35.0]]])
    everywhere = np.ones((1, 3), dtype=bool)
    scene = Scene(lab, everywhere, everywhere, lab)
    assert np.isfinite(painted(scene, coats(), demo_model, SURFACE)[-1].lab).all()


def test_warm_light_warms_and_cool_light_cools() -> None:
    grey = np.array([70.0, 0.0, 0.0])
    warm, day, cool = (lab_to_srgb(grey, lamp).astype(int) for lamp in ("A", "D50", "D75"))
    assert warm[0] - warm[2] > 40
    assert abs(day[0] - day[2]) <= 1
    assert cool[2] > cool[0]
