"""Areas carried over to the next photograph: by known movements, and between real photographs."""

import json
from io import BytesIO
from itertools import permutations

import cv2
import numpy as np
import pytest
from PIL import Image

from tests.cases import in_ci
from tests.measure.chart_photographs import NO_PHOTOS, are_there, chart_photograph
from tonematch.measure.area.areas import Box, bounds, corners_of, shape_of
from tonematch.measure.area.card_place import find_cards
from tonematch.measure.area.carried import carried_over
from tonematch.photo.core import Photo
from tonematch.photo.decode import load_photo
from tonematch.swatchbook import swatch_path

TRUTH = json.loads(swatch_path("demo", "truth.json").read_text(encoding="utf-8"))["pictures"]


def _photo(name: str) -> Photo:
    return load_photo(swatch_path("demo", name))


def _boxes(name: str) -> dict[str, Box]:
    areas = TRUTH[name]["areas"]
    return {role: tuple(areas[role]["box"]) for role in ("original", "repair") if role in areas}


def _moved(name: str, turn: float, size: float) -> tuple[Photo, np.ndarray]:
    """A demonstration picture taken from elsewhere, and the homography to it."""
    picture = np.asarray(Image.open(swatch_path("demo", name)))
    height, width = picture.shape[:2]
    at = np.eye(3)
    at[:2] = cv2.getRotationMatrix2D((width / 2, height / 2), turn, size)
    at[2, 0] = 3e-5
    seen = cv2.warpPerspective(picture, at, (width, height), borderMode=cv2.BORDER_REPLICATE)
    file = BytesIO()
    Image.fromarray(seen).save(file, "JPEG", quality=90)
    return load_photo(file.getvalue()), at


@pytest.mark.parametrize(
    ("turn", "size"), [(4.0, 0.9), (2.0, 1.1), in_ci(0.0, 1.0), in_ci(-7.0, 0.8)]
)
def test_areas_lie_where_the_camera_moved_them_though_a_layer_was_laid(
    turn: float, size: float
) -> None:
    """The second picture shows the repair toned; what the cards say does not count."""
    earlier, (later, at) = _photo("scene-1.jpg"), _moved("scene-2-after-1.jpg", turn, size)
    cards = find_cards(earlier).values(), find_cards(later).values()
    boxes = _boxes("scene-1.jpg")
    x, y, w, h = boxes["repair"]
    corners = (x, y, x + w, y + h, x, y + h)
    found = carried_over(earlier, later, {**boxes, "carved": corners}, cards)
    true = cv2.perspectiveTransform(np.array(corners, dtype=float).reshape(1, -1, 2), at)
    assert np.abs(np.array(found.pop("carved")) - true.ravel()).max() < 8
    assert found.keys() == boxes.keys()
    for role, (x, y, w, h) in boxes.items():
        middle = np.array([[[x + w / 2, y + h / 2]]])
        true = cv2.perspectiveTransform(middle, at)[0, 0]
        left, top, across, down = found[role]
        assert np.hypot(*(true - (left + across / 2, top + down / 2))) < 8, role
        assert 0.5 < across * down / (w * h * size**2) < 1.1, role


@pytest.mark.parametrize(
    ("earlier", "later"),
    [
        ("scene-1.jpg", "separate-repair.jpg"),
        ("separate-repair.jpg", "scene-1.jpg"),
        in_ci("scene-1.jpg", "overexposed.jpg"),
        in_ci("scene-3.jpg", "scene-1.jpg"),
    ],
)
def test_another_place_is_refused(earlier: str, later: str) -> None:
    pair = _photo(earlier), _photo(later)
    cards = find_cards(pair[0]).values(), find_cards(pair[1]).values()
    assert carried_over(*pair, _boxes(earlier), cards) == {}


@pytest.mark.proof
@pytest.mark.skipif(not are_there(), reason=NO_PHOTOS)
def test_patches_of_real_charts_are_carried_to_the_same_patches_or_not_at_all() -> None:
    shown = [chart_photograph(f"phones/jtvd_color_checker_{i}_.jpg") for i in (1, 2, 4)]
    right = 0
    for one, other in permutations(shown, 2):
        boxes = {name: shape_of(one.areas[name]) for name in ("orange", "cyan")}
        for name, shape in carried_over(one.photo, other.photo, boxes).items():
            x, y = np.mean(corners_of(shape), axis=0)
            x0, y0, x1, y1 = bounds(other.areas[name])
            assert x0 < x < x1, (one.name, other.name, name)
            assert y0 < y < y1, (one.name, other.name, name)
            right += 1
    assert right >= 4
