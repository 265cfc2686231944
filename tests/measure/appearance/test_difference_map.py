"""The map of differences: its numbers against colour-science, and its legend without colours."""

from collections.abc import Sequence
from io import BytesIO
from itertools import pairwise

import colour
import numpy as np
import pytest
from numpy.typing import NDArray
from PIL import Image

from tests.measure.painted import GREY, painted_light, photo_of
from tonematch.errors import AreaError
from tonematch.measure.appearance.area_picture import picture_step
from tonematch.measure.appearance.difference_map import difference_map, map_png
from tonematch.measure.area.areas import box_area
from tonematch.measure.calibration.card import calibrate, card_from_reflectance
from tonematch.measure.core import Area, Calibration, Reading
from tonematch.measure.reading.reading import read_area
from tonematch.photo.core import Photo

OLD, NEW = (60.0, 8.0, 30.0), (66.0, 6.0, 34.0)
CARD_BOX, OLD_BOX, NEW_BOX = (5, 5, 50, 50), (70, 20, 60, 100), (130, 20, 60, 100)
BOX = (70.0, 20.0, 120.0, 100.0)


def scene(noise: float = 0.0) -> NDArray[np.float64]:
    return painted_light({CARD_BOX: GREY, OLD_BOX: OLD, NEW_BOX: NEW}, noise=noise)


def read(light: NDArray[np.float64]) -> tuple[Photo, Calibration, Reading]:
    photo = photo_of(light)
    card = box_area("card", (8, 8, 44, 44), "card")
    calibration = calibrate(photo, card, card_from_reflectance(0.18))
    return photo, calibration, read_area(photo, box_area("old", (75, 25, 50, 90)), calibration)


def grey_levels(png: bytes) -> NDArray[np.uint8]:
    picture = Image.open(BytesIO(png))
    assert picture.mode == "L"  # no colour at all: nothing for a colour-blind eye to miss
    return np.asarray(picture)


def drawn(found: NDArray[np.float32], areas: Sequence[Area] = ()) -> NDArray[np.uint8]:
    """The map as it is drawn for a tolerance of 2."""
    height, width = found.shape
    return grey_levels(map_png(found, 2.0, areas, (0.0, 0.0, width, height)))


def test_map_holds_the_published_difference() -> None:
    found = difference_map(*read(scene()), BOX)
    assert found.shape == (100, 120)
    assert found.dtype == np.float32
    np.testing.assert_allclose(found[:, :60], 0.0, atol=0.05)
    expected = float(colour.delta_E(np.array(OLD), np.array(NEW), method="CIE 2000"))
    np.testing.assert_allclose(found[:, 60:], expected, atol=0.05)


def test_clipped_pixels_have_no_value() -> None:
    light = scene()
    light[40:50, 80:90] = 1.5
    found = difference_map(*read(light), BOX)
    assert np.isnan(found[20:30, 10:20]).all()
    assert np.isnan(found).sum() == 100
    with_lost, without = (len(drawn(m)) for m in (found, np.nan_to_num(found)))
    assert with_lost > without  # the legend has a row more


def test_large_box_is_mapped_from_a_part_of_its_pixels() -> None:
    assert picture_step((0, 0, 1200, 300), 1200) == 1
    assert picture_step((0, 0, 1201, 300), 1200) == 2
    light = np.broadcast_to(scene()[60, 80], (1300, 100, 3)).copy()
    light[:60, :60] = scene()[10, 10]
    photo, _, original = read(scene())
    large = photo_of(light)
    calibration = calibrate(
        large, box_area("card", (8, 8, 44, 44), "card"), card_from_reflectance(0.18)
    )
    found = difference_map(large, calibration, original, (60.0, 0.0, 40.0, 1300.0))
    assert found.shape == (650, 20)
    np.testing.assert_allclose(found, 0.0, atol=0.05)
    assert photo.sha256 != large.sha256


def test_steps_differ_in_lightness_and_in_hatching() -> None:
    # Each field of one step: means fall from step to step, and so stay apart in grey print;
    # the variation inside a field is its hatching.
    fields = []
    for value in (0.5, 1.5, 3.0, 5.0, 9.0):
        levels = drawn(np.full((400, 400), value, dtype=np.float32))
        fields.append(levels[60:160, 60:160].astype(np.float64))
    means = [field.mean() for field in fields]
    assert all(lighter - darker > 35 for lighter, darker in pairwise(means))
    assert fields[0].std() == 0
    assert all(field.std() > 5 for field in fields[1:])
    shares = [float((field != np.median(field)).mean()) for field in fields]
    assert len({round(share, 2) for share in shares}) == 5


def test_contours_numbers_and_names_are_drawn() -> None:
    found = np.full((300, 500), 0.3, dtype=np.float32)
    found[:, 250:] = 9.0
    plain = drawn(found)
    edge = plain[50:250, 16 + 250 - 20 : 16 + 250 + 20]
    assert (edge.min(axis=1) == 0).all()  # a black line all along the step
    assert (plain[30:300, 30:240] < 100).any()  # the number of the light field
    areas = [box_area("old gold", (20.0, 30.0, 100.0, 80.0))]
    named = drawn(found, areas)
    changed = named != plain
    assert changed[16 + 30 - 4 : 16 + 30 + 5, 16 + 22 : 16 + 118].any(axis=0).all()
    assert not changed[16 + 300 :].any()


def test_bad_calls_are_told_in_a_sentence() -> None:
    with pytest.raises(AreaError, match="outside"):
        difference_map(*read(scene()), (150.0, 20.0, 90.0, 50.0))
