"""Raw files are developed linearly, by their own levels and matrix."""

import numpy as np
import pytest
from numpy.typing import NDArray

from tests.photo.dng_file import AS_SHOT_NEUTRAL, COLOUR_MATRIX, dng_file
from tonematch.measure.area.areas import box_area
from tonematch.measure.calibration.card import calibrate, card_from_lab
from tonematch.measure.colour.colour_science import colour
from tonematch.measure.colour.convert import lab_to_xyz
from tonematch.measure.colour.difference import delta_e_2000
from tonematch.measure.reading.reading import read_area
from tonematch.photo.decode import load_photo
from tonematch.photo.light import clipped, linear_light
from tonematch.photo.preview import preview_png

VALUES = np.array([[0.10, 0.22, 0.14], [0.55, 0.48, 0.05], [0.02, 0.03, 0.9]])


def patches(values: NDArray[np.float64]) -> NDArray[np.float64]:
    """Fields of 60 by 60 pixels side by side."""
    return np.repeat(np.repeat(values[None], 60, axis=0), 60, axis=1)


def test_known_values_come_back_linear() -> None:
    photo = load_photo(dng_file(patches(VALUES)))
    assert (photo.width, photo.height) == (180, 60)
    for k, value in enumerate(VALUES):
        light = linear_light(photo, 60 * k + 10, 10, 60 * k + 50, 50)
        # A 16-bit mosaic of 14488 levels: half a level is 3.5e-5.
        np.testing.assert_allclose(light, np.broadcast_to(value, light.shape), atol=8e-5)


def test_no_brightening_and_the_files_own_white_level() -> None:
    dim = load_photo(dng_file(patches(VALUES / 8)))
    np.testing.assert_allclose(linear_light(dim, 20, 20, 40, 40)[0, 0], VALUES[0] / 8, atol=8e-5)
    full = load_photo(dng_file(patches(np.array([[0.2, 1.0, 0.3], [0.2, 0.9, 0.3]]))))
    assert clipped(full, 10, 10, 50, 50).all()
    assert not clipped(full, 70, 10, 110, 50).any()


@pytest.mark.parametrize(("orientation", "turned"), [(1, False), (3, False), (6, True), (8, True)])
def test_turned_once(orientation: int, turned: bool) -> None:
    photo = load_photo(dng_file(patches(VALUES), orientation))
    assert (photo.width, photo.height) == ((60, 180) if turned else (180, 60))
    places = {1: (30, 30), 3: (150, 30), 6: (30, 30), 8: (30, 150)}
    x, y = places[orientation]
    np.testing.assert_allclose(linear_light(photo, x, y, x + 1, y + 1)[0, 0], VALUES[0], atol=8e-5)


def test_matrix_and_balance_as_shot() -> None:
    """A neutral as the file states it is D50's white; the matrix is the file's."""
    photo = load_photo(dng_file(patches(VALUES)))
    white = photo.to_xyz @ np.array(AS_SHOT_NEUTRAL)
    np.testing.assert_allclose(white / white[1], [0.9642, 1.0, 0.8249], atol=5e-4)
    assert photo.space == "linear camera RGB"
    assert preview_png(photo)[0].startswith(b"\x89PNG")


def test_colours_under_the_light_of_the_matrix_are_right() -> None:
    """Lab of patches whose camera values follow from the matrix, adapted by colour-science."""
    labs = np.array([[49.5, 0, 0], [62, 12, 45], [40, -20, 8], [70, 3, 20]], dtype=float)
    adapted = colour.chromatic_adaptation(
        lab_to_xyz(labs), [0.9642, 1, 0.8249], [0.95047, 1, 1.08883], method="Von Kries",
        transform="Bradford",
    )  # fmt: skip
    photo = load_photo(dng_file(patches(0.6 * adapted @ np.array(COLOUR_MATRIX).T)))
    card = box_area("card", (10, 10, 40, 40), "card")
    calibration = calibrate(photo, card, card_from_lab((49.5, 0.0, 0.0)))
    for k in (1, 2, 3):
        reading = read_area(photo, box_area("patch", (60 * k + 10, 10, 40, 40)), calibration)
        assert delta_e_2000(reading.lab, labs[k]) < 0.3


def test_a_composite_says_so() -> None:
    assert not load_photo(dng_file(patches(VALUES))).notes
    notes = load_photo(dng_file(patches(VALUES), composite=3)).notes
    assert any("several frames" in note for note in notes)
    assert load_photo(dng_file(patches(VALUES))).metadata["model"] == "camera"
