"""Tone curves from neutrals: files that are not what they claim read as if they were."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.typing import NDArray

from tests.cases import shared_by
from tests.measure.painted import lab_to_light, photo_of
from tonematch.errors import CardError, ValueRefused
from tonematch.measure.area.areas import box_area
from tonematch.measure.calibration.aids import Aids
from tonematch.measure.calibration.apply import true_light
from tonematch.measure.calibration.card import calibrate, card_from_reflectance
from tonematch.measure.calibration.tone_prior import modes_at
from tonematch.measure.colour.difference import delta_e_2000
from tonematch.measure.comparison import compare
from tonematch.measure.core import Area, Calibration
from tonematch.measure.reading.reading import read_area
from tonematch.photo.core import Photo

CARD = box_area("card", (10, 10, 40, 40), "card")
STEPS = (0.9, 0.5, 0.36, 0.09, 0.05)
GREYS = [box_area(f"grey {k}", (10 + 50 * k, 60, 40, 40)) for k in range(len(STEPS))]
LABS = np.array([[62.0, 8.0, 38.0], [55.0, 9.0, 33.0]])
OLD, NEW = (box_area(name, (10 + 50 * k, 110, 40, 40)) for k, name in enumerate(("old", "new")))
EXPOSURE = 0.8


def linear_scene(noise: float = 0.004) -> NDArray[np.float64]:
    light = np.full((160, 270, 3), 0.02)
    light[10:50, 10:50] = 0.18
    for k, step in enumerate(STEPS):
        light[60:100, 10 + 50 * k : 50 + 50 * k] = step
    for k, lab in enumerate(LABS):
        light[110:150, 10 + 50 * k : 50 + 50 * k] = lab_to_light(lab)
    random = np.random.default_rng(4)
    return EXPOSURE * light * (1 + noise * random.standard_normal(light.shape))


def claimed_srgb(gamma: float, noise: float = 0.004) -> Photo:
    """Linear light to the power of 1 / gamma, in a file that says that it is sRGB."""
    codes = np.clip(linear_scene(noise), 0, 1) ** (1 / gamma)
    decoded = np.where(codes <= 0.04045, codes / 12.92, ((codes + 0.055) / 1.055) ** 2.4)
    return photo_of(decoded)


def neutrals(*which: int) -> list[tuple[Area, float]]:
    return [(GREYS[k], STEPS[k]) for k in which]


def errors(photo: Photo, calibration: Calibration) -> tuple[float, float]:
    """Mean error of the two readings, and error of the compared difference."""
    readings = read_area(photo, OLD, calibration), read_area(photo, NEW, calibration)
    apart = [float(delta_e_2000(r.lab, lab)) for r, lab in zip(readings, LABS, strict=True)]
    true = float(delta_e_2000(*LABS))
    return float(np.mean(apart)), abs(compare(*readings).delta_e - true)


GREY_18 = card_from_reflectance(0.18)


@pytest.mark.parametrize("gamma", [1.0, 1.4, 1.8, 2.2, 2.6])
@pytest.mark.parametrize("which", [(0, 1, 2, 3, 4), (0, 3)])
def test_a_grey_scale_mends_a_file_that_is_not_as_claimed(
    gamma: float, which: tuple[int, ...]
) -> None:
    photo = claimed_srgb(gamma)
    mended = errors(photo, calibrate(photo, CARD, GREY_18, Aids(neutrals(*which))))
    # Two greys leave a curve so far from its file's short of what it is: light that is linear in a
    # file that says sRGB, 14 off before, and told to be so.
    farthest = 6.0 if gamma == 1.0 else 2.0
    assert mended[0] < (0.6 if len(which) > 2 else farthest)
    assert mended[1] < (0.4 if len(which) > 2 else 1.0)
    if gamma < 1.9:
        alone = errors(photo, calibrate(photo, CARD, GREY_18))
        assert alone[0] > 2.0


@pytest.mark.parametrize("gamma", [1.0, 1.4, 1.8, 2.6])
def test_one_further_neutral_is_enough_to_warn_and_mend(gamma: float) -> None:
    photo = claimed_srgb(gamma)
    calibration = calibrate(photo, CARD, GREY_18, Aids(neutrals(0)))
    alone = errors(photo, calibrate(photo, CARD, GREY_18))[0]
    assert errors(photo, calibration)[0] < min(0.7 * alone, 6.0 if gamma == 1.0 else 3.5)
    assert any("keeps light and dark otherwise" in warning for warning in calibration.warnings)
    if gamma == 1.0:
        assert any("as in linear light" in warning for warning in calibration.warnings)
    assert "tone" in calibration.measured


def test_an_honest_file_is_left_as_it_is() -> None:
    light = linear_scene()
    photo = photo_of(light)
    alone = errors(photo, calibrate(photo, CARD, GREY_18))
    for which in ((0,), (0, 3), (0, 1, 2, 3, 4)):
        calibration = calibrate(photo, CARD, GREY_18, Aids(neutrals(*which)))
        assert not calibration.warnings
        assert errors(photo, calibration)[0] < alone[0] + 0.1


def test_more_neutrals_make_the_curve_surer() -> None:
    photo = claimed_srgb(1.4)
    sizes = []
    for which in ((0,), (0, 1, 2, 3, 4)):
        calibration = calibrate(photo, CARD, GREY_18, Aids(neutrals(*which)))
        reading = read_area(photo, OLD, calibration)
        assert reading.by_calibration is not None
        by_tone = reading.by_calibration[:, 3:]
        part = by_tone @ calibration.relative_covariance[3:, 3:] @ by_tone.T
        sizes.append(np.sqrt(np.trace(part)))
    assert 0 < 3 * sizes[1] < sizes[0] < 11.0


def test_a_dark_looking_card_of_a_linear_file_is_not_refused_once_neutrals_are_known() -> None:
    """Read as sRGB it would seem 4.5 stops under; the greys show that it is not."""
    codes = np.clip(0.45 * linear_scene(), 0, 1)
    photo = photo_of(np.where(codes <= 0.04045, codes / 12.92, ((codes + 0.055) / 1.055) ** 2.4))
    with pytest.raises(CardError, match="too dark"):
        calibrate(photo, CARD, GREY_18)
    assert errors(photo, calibrate(photo, CARD, GREY_18, Aids(neutrals(0, 1, 2, 3))))[0] < 0.8


def test_linear_by_order() -> None:
    photo = claimed_srgb(1.0)
    calibration = calibrate(photo, CARD, GREY_18, Aids(encoding="linear"))
    assert errors(photo, calibration)[0] < 0.3
    assert "tone" not in calibration.measured


def test_neutrals_that_contradict_each_other_are_told() -> None:
    photo = photo_of(linear_scene())
    wrong = [(GREYS[k], value) for k, value in enumerate((0.9, 0.36, 0.5, 0.05, 0.09))]
    warnings = calibrate(photo, CARD, GREY_18, Aids(wrong)).warnings
    assert any("do not agree" in warning for warning in warnings)


@pytest.mark.parametrize(("grey", "value", "words"), [(0, 0.04, "lighter"), (3, 0.9, "darker")])
def test_a_white_card_taken_for_the_black_one_is_refused(
    grey: int, value: float, words: str
) -> None:
    with pytest.raises(CardError, match=f"is {words} than the card in the picture"):
        calibrate(photo_of(linear_scene()), CARD, GREY_18, Aids([(GREYS[grey], value)]))


def test_neutrals_that_cannot_be_used_are_refused() -> None:
    photo = photo_of(linear_scene() * 1.6)
    with pytest.raises(CardError, match="overexposed"):
        calibrate(photo, CARD, GREY_18, Aids(neutrals(0)))
    for value in (0.0, -1.0, 1.2, float("nan")):
        with pytest.raises(ValueRefused, match="reflectance"):
            calibrate(photo, CARD, GREY_18, Aids([(GREYS[1], value)]))
    with pytest.raises(CardError, match="pixels only"):
        calibrate(photo, CARD, GREY_18, Aids([(box_area("tiny", (12, 62, 3, 3)), 0.5)]))


@shared_by(4)
@given(gamma=st.floats(1.0, 2.6), which=st.sets(st.integers(0, 4), min_size=2))
def test_curves_rise(gamma: float, which: set[int]) -> None:
    photo = claimed_srgb(gamma, noise=0.02)
    calibration = calibrate(photo, CARD, GREY_18, Aids(neutrals(*sorted(which))))
    assert calibration.tone is not None
    ramp = np.linspace(0.01, 1.0, 200)[:, None] + np.zeros(3)
    assert (np.diff(true_light(calibration.tone, ramp), axis=0) >= 0).all()


def test_modes_keep_their_meaning() -> None:
    """Weights are kept in logbooks and profiles: of these modes and no others."""
    light = np.array([[0.05] * 3, [0.7] * 3])
    rise = np.diff(modes_at(light), axis=0)[0, 1]
    kept = [
        1.048,
        1.268,
        0.689,
        0.024,
        -0.195,
        -0.061,
        0.055,
        0.006,
        -0.083,
        -0.089,
        -0.037,
        -0.001,
        -0.002,
        -0.908,
        -1.098,
        -0.597,
        -0.021,
        0.524,
        0.634,
        0.345,
        0.012,
    ]
    np.testing.assert_allclose(rise, kept, atol=2e-3)
