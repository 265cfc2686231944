"""One place in two photographs: the second lies as the first, whatever the camera did between."""

from dataclasses import replace
from io import BytesIO

import cv2
import numpy as np
import pytest
from PIL import Image

from tests.cases import in_ci
from tonematch.demonstration import demo_photograph
from tonematch.measure.appearance.same_place import View, same_place
from tonematch.measure.calibration.card import usual_card
from tonematch.measure.core import Area, Comparison
from tonematch.measure.marked import Marked, compare_marked
from tonematch.photo.core import Photo
from tonematch.photo.decode import load_photo


def demo(name: str) -> tuple[Photo, Comparison]:
    marked = demo_photograph(name).marked()
    return marked.photo, compare_marked(marked, marked, usual_card(), 2.0)


def view(photo: Photo, gap: Comparison) -> View:
    return View(photo, gap.repair, (gap.repair.area, gap.original.area))


def retaken(name: str, turn: float, scale: float) -> tuple[Photo, Comparison]:
    """The same picture as a camera takes it that was turned (degrees) and stood elsewhere."""
    shown = demo_photograph(name)
    with Image.open(BytesIO(shown.data)) as opened:
        picture, profile = np.asarray(opened.convert("RGB")), opened.info.get("icc_profile")
    height, width = picture.shape[:2]
    warp = cv2.getRotationMatrix2D((width / 2, height / 2), turn, scale)
    moved = cv2.warpAffine(picture, warp, (width, height), borderMode=cv2.BORDER_REFLECT)
    file = BytesIO()
    Image.fromarray(moved).save(file, "PNG", icc_profile=profile)
    areas = {role: _moved(area, warp) for role, area in shown.areas.items()}
    photo = load_photo(file.getvalue(), "moved.png")
    marked = Marked(photo, areas)
    return photo, compare_marked(marked, marked, usual_card(), 2.0)


def _moved(area: Area, warp: np.ndarray) -> Area:
    corners = [tuple(warp @ (x, y, 1.0)) for x, y in area.corners]
    return replace(area, corners=tuple((float(x), float(y)) for x, y in corners))


@pytest.mark.parametrize(("turn", "scale"), [(3.0, 0.9), in_ci(0.0, 1.0), in_ci(0.0, 0.8)])
def test_a_photograph_retaken_elsewhere_lies_over_the_first(turn: float, scale: float) -> None:
    """OpenCV turns and scales the picture; laid back, mottle lies on its own mottle."""
    first = demo("scene-1.jpg")
    place = same_place(view(*first), view(*retaken("scene-1.jpg", turn, scale)))
    assert place.before.shape == place.after.shape
    middle = np.s_[place.before.shape[0] // 4 : 3 * place.before.shape[0] // 4, :]
    one, other = (lab[middle][..., 0].ravel() for lab in (place.before, place.after))
    assert np.corrcoef(one, other)[0, 1] > 0.98
    assert abs(float(np.mean(one - other))) < 1.0


def test_what_was_toned_is_darker_in_the_second_picture_by_what_was_read() -> None:
    (photo, gap), (photo_2, gap_2) = demo("scene-1.jpg"), demo("scene-2-after-2.jpg")
    place = same_place(view(photo, gap), view(photo_2, gap_2))
    x = int(place.repair * place.before.shape[1])
    rows = np.s_[place.before.shape[0] // 2 - 20 : place.before.shape[0] // 2 + 20, x - 20 : x + 20]
    darker = float(np.mean(place.before[rows][..., 0] - place.after[rows][..., 0]))
    assert darker == pytest.approx(gap.repair.lab[0] - gap_2.repair.lab[0], abs=1.0)


def test_an_original_marked_at_another_place_turns_nothing() -> None:
    photo, gap = demo("scene-1.jpg")
    elsewhere = replace(gap.original.area, corners=((500, 90), (700, 90), (700, 190), (500, 190)))
    there = View(photo, gap.repair, (gap.repair.area, elsewhere))
    place = same_place(view(photo, gap), there)
    np.testing.assert_allclose(place.before, place.after, atol=0.01)
