"""Evenness of light: a 30 % gradient leaves at most 0.5 CIEDE2000 once it is corrected."""

import numpy as np
import pytest
from numpy.typing import NDArray

from tests.measure.painted import photo_of
from tests.measure.uneven_light import CARD, FURTHER, GREY_18, THIRD, H, W, apart, scene, sheet
from tonematch.errors import PhotoError
from tonematch.measure.area.areas import box_area
from tonematch.measure.calibration.aids import Aids
from tonematch.measure.calibration.card import calibrate
from tonematch.measure.core import Area, Calibration
from tonematch.measure.reading.reading import read_area


@pytest.mark.parametrize("kind", ["across", "diagonal", "round"])
def test_a_plain_sheet_corrects(kind: str) -> None:
    photo = scene(kind)
    calibration = calibrate(photo, CARD, GREY_18, Aids(flat_field=sheet(kind)))
    assert apart(photo, calibration) < 0.5
    assert "light" in calibration.measured
    assert any("corrected" in warning for warning in calibration.warnings)
    if kind != "round":
        assert apart(photo, calibrate(photo, CARD, GREY_18)) > 2.0


@pytest.mark.parametrize(("kind", "cards"), [("diagonal", [FURTHER]), ("across", [FURTHER, THIRD])])
def test_further_cards_correct(kind: str, cards: list[Area]) -> None:
    """Two cards tell the slope along their line, three all of it."""
    photo = scene(kind)
    calibration = calibrate(photo, CARD, GREY_18, Aids(cards=cards))
    assert apart(photo, calibration) < 0.5
    assert "light" in calibration.measured


@pytest.mark.parametrize("tint", [0.0, 0.05])
def test_two_cards_tell_the_tint_of_the_light(tint: float) -> None:
    """Light that grows warmer to the right: red rises, blue falls, by 2.5 % each at 0.05."""
    x = np.mgrid[0:H, 0:W][1][..., None] / W - 0.5
    light = np.full((H, W, 3), 0.18) * (1 + tint * x * [1.0, 0.0, -1.0])
    photo = photo_of(light * (1 + 0.005 * np.random.default_rng(4).standard_normal(light.shape)))
    calibration = calibrate(photo, CARD, GREY_18, Aids(cards=[FURTHER]))
    # Both cards are grey: so is all that lies between them.
    a, b = read_area(photo, box_area("grey", (200, 120, 40, 40)), calibration).lab[1:]
    assert np.hypot(a, b) < 0.15
    told = [words for words in calibration.warnings if "colour of the light" in words]
    assert len(told) == (tint > 0)


def _of_strength(calibration: Calibration) -> NDArray[np.float64]:
    """Covariance of the slopes across and down, on average over the channels."""
    mean = np.kron(np.eye(2), np.full(3, 1 / 3))
    return np.asarray(mean @ calibration.relative_covariance[-6:, -6:] @ mean.T)


def test_what_is_left_in_doubt_is_stated() -> None:
    """Across the line of two cards the slope is not measured; a sheet measures it all over."""
    photo = scene("diagonal")
    two = _of_strength(calibrate(photo, CARD, GREY_18, Aids(cards=[FURTHER])))
    line = np.array([240.0, 160.0]) / np.hypot(240, 160)
    across = np.array([-line[1], line[0]])
    assert across @ two @ across > 20 * (line @ two @ line)
    flat = _of_strength(calibrate(photo, CARD, GREY_18, Aids(flat_field=sheet("diagonal"))))
    assert np.trace(flat) < np.trace(two) / 10


def test_a_gradient_on_the_card_alone_is_a_doubt_that_grows_with_distance() -> None:
    light = np.full((H, W, 3), 0.18) * (1 - 0.9 * np.mgrid[0:H, 0:W][1] / W)[..., None]
    photo = photo_of(light)
    calibration = calibrate(photo, CARD, GREY_18)
    assert calibration.even is not None
    assert "light" not in calibration.measured
    near = read_area(photo, box_area("near", (70, 20, 30, 30)), calibration)
    far = read_area(photo, box_area("far", (180, 20, 30, 30)), calibration)
    doubts = []
    for reading in (near, far):
        assert reading.by_calibration is not None
        part = reading.by_calibration[:, -6:]
        doubts.append(np.trace(part @ calibration.relative_covariance[-6:, -6:] @ part.T))
    assert doubts[1] > 2 * doubts[0] > 0


def test_even_light_is_not_corrected_in_words() -> None:
    random = np.random.default_rng(5)
    even = photo_of(0.18 * (1 + 0.005 * random.standard_normal((H, W, 3))))
    calibration = calibrate(even, CARD, GREY_18, Aids(cards=[FURTHER]))
    assert not calibration.warnings


@pytest.mark.parametrize(
    ("wrong", "says"),
    [
        (lambda: photo_of(np.full((H, W + 20, 3), 0.5)), "differ in size"),
        (lambda: photo_of(np.full((H, W, 3), 1.0)), "overexposed"),
        (lambda: photo_of(np.full((H, W, 3), 0.005)), "too dark"),
        (lambda: scene("across"), "plain sheet"),
    ],
)
def test_sheets_that_cannot_be_used(wrong: object, says: str) -> None:
    assert callable(wrong)
    with pytest.raises(PhotoError, match=says):
        calibrate(scene("across"), CARD, GREY_18, Aids(flat_field=wrong()))
