"""A chart is found at any size and slant, and every box of it lies inside its patch.

The real photographs' patches were marked and checked by eye; the rendered chart's are known.
"""

import json
from pathlib import Path

import cv2
import numpy as np
import pytest
from numpy.typing import NDArray

from tests.measure.calibration.test_chart import drawn_chart
from tests.measure.chart_photographs import NO_PHOTOS, PHOTOS, are_there
from tests.measure.painted import photo_of
from tonematch.errors import CardError
from tonematch.measure.calibration.chart import Chart, chart_at, chart_reference, find_chart
from tonematch.photo.core import Photo
from tonematch.photo.decode import load_photo
from tonematch.photo.light import linear_light

GRID = np.array([(x, y) for y in range(4) for x in range(6)], dtype=np.float64)
# Half a patch, in distances between patches, of the small chart; measured on the photographs.
HALF_PATCH = 0.39


def reach(chart: Chart, to_grid: NDArray[np.float64]) -> float:
    """How far a corner of any box lies from its patch's middle, in distances between patches."""
    corners = np.array([chart.patches[name].corners for name in chart_reference()])
    seen = cv2.perspectiveTransform(corners.reshape(-1, 1, 2), to_grid).reshape(24, 4, 2)
    return float(np.abs(seen - GRID[:, None]).max())


def on_a_desk(share: float, degrees: float, slant: float) -> tuple[Photo, NDArray[np.float64]]:
    """The drawn chart on a rough desk, and the homography from the picture to its grid."""
    drawn, corners = drawn_chart(0)
    light = linear_light(drawn, 0, 0, drawn.width, drawn.height)
    width, height = 1500, 1100
    scale, turn = share * width / drawn.width, np.deg2rad(degrees)
    c, s = scale * np.cos(turn), scale * np.sin(turn)
    middle = np.array([(1, 0, -drawn.width / 2), (0, 1, -drawn.height / 2), (0, 0, 1)])
    turned = np.array([(c, -s, 0), (s, c, 0), (slant / width, slant / width, 1)])
    placed = np.array([(1, 0, 0.45 * width), (0, 1, 0.55 * height), (0, 0, 1)])
    at = placed @ turned @ middle
    random = np.random.default_rng(4)
    desk = np.full((height, width, 3), (0.3, 0.2, 0.12), dtype=np.float32)
    desk *= 1 + 0.5 * cv2.GaussianBlur(random.standard_normal((height, width, 1)), (0, 0), 1.5)[
        ..., None
    ].astype(np.float32)
    seen = cv2.warpPerspective(light, at, (width, height), desk, cv2.INTER_LINEAR,
                               cv2.BORDER_TRANSPARENT)  # fmt: skip
    # In `drawn_chart` patches are 52 pixels wide and 60 apart.
    grid = np.array([(60, 0, corners[0, 0] + 26), (0, 60, corners[0, 1] + 26), (0, 0, 1)])
    return photo_of(np.clip(seen, 0, 1)), np.linalg.inv(at @ grid)


@pytest.mark.parametrize(
    ("share", "degrees", "slant"), [(0.13, 10, 0), (0.3, 33, 0.6), (0.6, -75, -0.4)]
)
def test_small_turned_and_slanted(share: float, degrees: float, slant: float) -> None:
    photo, to_grid = on_a_desk(share, degrees, slant)
    found = find_chart(photo)
    assert found is not None
    assert reach(found, to_grid) < 0.33


def test_corners_marked_by_a_loose_hand_come_to_lie_on_their_patches() -> None:
    photo, corners = drawn_chart(0)
    loose = corners + np.array([(14, -10), (-12, 9), (10, 12), (-9, -13)])
    grid = np.array([(60, 0, corners[0, 0] + 26), (0, 60, corners[0, 1] + 26), (0, 0, 1)])
    found = chart_at(photo, [(float(x), float(y)) for x, y in loose])
    assert reach(found, np.linalg.inv(grid)) < 0.29


def test_what_is_seen_in_a_mirror_or_lies_across_patches_is_no_chart() -> None:
    photo, corners = drawn_chart(0)
    light = linear_light(photo, 0, 0, photo.width, photo.height).astype(np.float64)
    assert find_chart(photo_of(light[:, ::-1])) is None
    across = light.copy()
    for x, y in corners[0] + 60 * GRID[[2, 8, 15, 20]]:  # a label that hides parts of four patches
        across[int(y) + 15 : int(y) + 30, int(x) : int(x) + 52] = 0.9
    with pytest.raises(CardError, match="does not have its colours"):
        chart_at(photo_of(across), [(float(x), float(y)) for x, y in corners])


def marked_by_eye() -> dict[Path, list[NDArray[np.float64]]]:
    """Middles of the patches of every real photograph, in the order of the reference."""
    if not are_there():
        return {}
    found = {}
    for name, told in json.loads((PHOTOS / "patches.json").read_text(encoding="utf-8")).items():
        boxes = [told["boxes_xywh"][patch] for patch in chart_reference()]
        found[PHOTOS / name] = [np.array([x + w / 2, y + h / 2]) for x, y, w, h in boxes]
    phones = PHOTOS / "phones"
    for name, told in json.loads((phones / "patches.json").read_text(encoding="utf-8")).items():
        patches = [told["corners_xy"][patch] for patch in chart_reference()]
        found[phones / name] = [np.mean(corners, axis=0) for corners in patches]
    return found


# The few that were missed or whose boxes left their patches; the others are proofs.
HARD = {"target_img.png", "jtvd_color_checker_mini_4_.jpg"}


@pytest.mark.skipif(not are_there(), reason=NO_PHOTOS)
@pytest.mark.parametrize(
    ("path", "middles"),
    [
        pytest.param(path, middles, id=path.stem,
                     marks=[] if path.name in HARD else pytest.mark.proof)
        for path, middles in marked_by_eye().items()
    ],
)  # fmt: skip
def test_every_box_on_a_real_photograph_lies_inside_its_patch(
    path: Path, middles: list[NDArray[np.float64]]
) -> None:
    found = find_chart(load_photo(path))
    assert found is not None
    to_grid, _ = cv2.findHomography(np.array(middles), GRID)
    assert reach(found, np.asarray(to_grid, dtype=np.float64)) < HALF_PATCH
