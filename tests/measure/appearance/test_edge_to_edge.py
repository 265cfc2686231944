"""Both areas edge to edge, beside the renderer's own truth (swatches/demo/truth.json)."""

import json

import numpy as np
import pytest

from tonematch.demonstration import PIECE, demo_photograph
from tonematch.measure.appearance.area_picture import edge_to_edge, pair_picture
from tonematch.measure.calibration.card import usual_card
from tonematch.measure.marked import compare_marked
from tonematch.swatchbook import swatch_path

TRUTH = json.loads(swatch_path("demo", "truth.json").read_text(encoding="utf-8"))["pictures"]


@pytest.mark.parametrize("name", ["scene-1.jpg", "scene-2-after-2.jpg"])
def test_crops_keep_their_true_relative_lightness(name: str) -> None:
    marked, areas = demo_photograph(name).marked(), TRUTH[name]["areas"]
    gap = compare_marked(marked, marked, usual_card(), PIECE.tolerance)
    lab = pair_picture(gap.original, gap.repair, marked.photo, marked.photo)
    half = lab.shape[1] // 2
    seen = lab[:, half:, 0].mean() - lab[:, :half, 0].mean()
    true = areas["repair"]["lab"][0] - areas["original"]["lab"][0]
    assert seen == pytest.approx(true, abs=1.0)


def test_a_tall_narrow_area_makes_no_tall_picture() -> None:
    tall, wide = np.zeros((400, 30, 3)), np.ones((90, 200, 3))
    assert edge_to_edge(tall, wide).shape == (20, 60, 3)
    assert edge_to_edge(tall[:1, :1], wide).tolist() == [[[0.0] * 3, [1.0] * 3]]
