"""Calibration on a grey card: right gains, and cards that cannot calibrate."""

from collections.abc import Callable
from dataclasses import replace

import colour
import numpy as np
import pytest
from numpy.typing import NDArray

from tests.cases import in_ci
from tests.measure.painted import GREY, lab_to_light, painted_light, photo_of
from tonematch.errors import AreaError, CardError, ValueRefused
from tonematch.measure.area.areas import box_area
from tonematch.measure.area.pixels import area_pixels
from tonematch.measure.calibration.apply import balanced_light, calibrated_xyz
from tonematch.measure.calibration.card import (
    calibrate,
    card_from_lab,
    card_from_reflectance,
    usual_card,
)
from tonematch.measure.calibration.card_checks import evenness
from tonematch.measure.colour.convert import WHITE
from tonematch.measure.colour.difference import delta_e_2000
from tonematch.measure.reading.reading import read_area
from tonematch.photo.core import Photo
from tonematch.photo.light import linear_light

CARD_BOX = (10, 10, 60, 60)
CARD = box_area("card", CARD_BOX, "card")
GREY_18 = card_from_reflectance(0.18)


def card_light(noise: float = 0.01, lab: tuple[float, float, float] = GREY) -> NDArray[np.float64]:
    return painted_light({CARD_BOX: lab, (90, 10, 60, 60): (65.0, 8.0, 35.0)}, noise=noise)


@pytest.mark.parametrize("exposure", [0.35, 1.0, 1.4])
@pytest.mark.parametrize("lamp", [(1, 1, 1), (1.15, 1.0, 0.6)])
def test_exposure_and_lamp_are_taken_out(exposure: float, lamp: tuple[float, ...]) -> None:
    photo = photo_of(card_light() * exposure * np.array(lamp))
    calibration = calibrate(photo, CARD, GREY_18)
    card = area_pixels(photo, CARD)
    seen = balanced_light(calibration, card.light, card.x, card.y).mean(axis=0)
    np.testing.assert_allclose(calibrated_xyz(calibration, seen), GREY_18.xyz, rtol=2e-3)
    if lamp == (1, 1, 1):  # of a coloured lamp another balance takes another part of the colour
        gold = read_area(photo, box_area("gold", (95, 15, 50, 50)), calibration)
        np.testing.assert_allclose(gold.lab, [65, 8, 35], atol=0.15)
    assert not calibration.warnings


def test_card_of_measured_lab_reads_itself() -> None:
    photo = photo_of(card_light(lab=(62.0, 1.5, -2.0)))
    calibration = calibrate(photo, CARD, card_from_lab((62.0, 1.5, -2.0)))
    np.testing.assert_allclose(calibration.gains, 1, rtol=2e-3)


def test_reflectance_is_luminance() -> None:
    # ISO/CIE 11664-4: L* of Y = 0.18 is 49.496.
    np.testing.assert_allclose(GREY_18.xyz, card_from_lab(GREY).xyz, atol=1e-5)
    np.testing.assert_allclose(usual_card().xyz, GREY_18.xyz)


@pytest.mark.parametrize("reflectance", [0, -0.1, 1.01, 18, float("nan"), float("inf")])
def test_reflectance_refused(reflectance: float) -> None:
    with pytest.raises(ValueRefused, match="reflectance"):
        card_from_reflectance(reflectance)


@pytest.mark.parametrize(
    "lab", [(0, 0, 0), (101, 0, 0), (50, 60, 0), (50, 0), (50, 0, float("nan")), ()]
)
def test_card_lab_refused(lab: tuple[float, ...]) -> None:
    with pytest.raises(ValueRefused):
        card_from_lab(lab)


def ramp(change: float) -> NDArray[np.float64]:
    """Light that rises by a share of itself across the card."""
    x = (np.arange(200) - 40) / 60
    return (1 + change * x)[None, :, None]


def stained() -> NDArray[np.float64]:
    light = card_light()
    light[10:40, 10:40] *= 0.6
    light[40:70, 40:70] *= 1.3
    return light


def blotched(depth: float) -> NDArray[np.float64]:
    light = card_light()
    light[10:40, 10:40] *= 1 - depth
    light[40:70, 40:70] *= 1 - depth
    return light


REFUSED: dict[str, tuple[Callable[[], NDArray[np.float64]], str]] = {
    "clipped": (lambda: card_light() * 6, "overexposed"),
    "too dark": (lambda: card_light() * 0.02, "too dark"),
    "black": (lambda: card_light() * 0, "too dark"),
    "coloured": (
        lambda: painted_light({CARD_BOX: (50, 60, 50)}, noise=0.01),
        "strongly coloured",
    ),
    "stained": (stained, "uneven"),
    "gradient": (lambda: card_light() * ramp(0.6), "light changes"),
}


@pytest.mark.parametrize("case", REFUSED)
def test_card_refused_with_reason_and_remedy(case: str) -> None:
    make, says = REFUSED[case]
    with pytest.raises(CardError, match=says) as refusal:
        calibrate(photo_of(make()), CARD, GREY_18)
    reason, _, remedy = str(refusal.value).partition(":")
    assert reason
    assert remedy.endswith(".")


WARNED: dict[str, tuple[Callable[[], NDArray[np.float64]], str]] = {
    "dark": (lambda: card_light() * 0.1, "dark"),
    "coloured": (lambda: card_light() * np.array([1.6, 1.0, 0.35]), "coloured"),
    "uneven": (lambda: blotched(0.1), "uneven"),
    "gradient": (lambda: card_light() * ramp(0.2), "light changes"),
}


@pytest.mark.parametrize("case", WARNED)
def test_card_warned_about(case: str) -> None:
    make, says = WARNED[case]
    warnings = calibrate(photo_of(make()), CARD, GREY_18).warnings
    assert len(warnings) == 1
    assert says in warnings[0]


def test_gradient_widens_the_uncertainty() -> None:
    even = calibrate(photo_of(card_light()), CARD, GREY_18)
    sloping = calibrate(photo_of(card_light() * ramp(0.2)), CARD, GREY_18)
    # A uniform distribution 0.2 wide has a standard deviation of 0.2 / sqrt(12)
    # (JCGM 100:2008, 4.3.7).
    spread = np.sqrt(np.diag(sloping.relative_covariance))[:3]
    np.testing.assert_allclose(spread, 0.2 / np.sqrt(12), rtol=0.05)
    assert (np.diag(even.relative_covariance)[:3] < spread**2 / 50).all()


@pytest.mark.proof
def test_gain_scatter_is_as_stated() -> None:
    light = lab_to_light(np.array(GREY))
    gains, stated = [], []
    for seed in range(120):
        noisy = painted_light({CARD_BOX: GREY}, noise=0.15, seed=seed)
        calibration = calibrate(photo_of(noisy), CARD, GREY_18)
        gains.append(np.log(calibration.gains))
        stated.append(np.diag(calibration.relative_covariance)[:3])
    scatter = np.std(gains, axis=0)
    assert light.shape == (3,)
    np.testing.assert_allclose(np.sqrt(np.mean(stated, axis=0)), scatter, rtol=0.35)


def test_small_card_and_card_outside() -> None:
    photo = photo_of(card_light())
    with pytest.raises(CardError, match="larger part"):
        calibrate(photo, box_area("card", (12, 12, 4, 4), "card"), GREY_18)
    with pytest.raises(AreaError, match="outside the picture"):
        calibrate(photo, box_area("card", (190, 12, 40, 40), "card"), GREY_18)


@pytest.mark.parametrize("change", [0.0, 0.1, in_ci(0.2)])
def test_a_noisy_cards_gradient_counts_as_far_as_it_exceeds_its_noise(change: float) -> None:
    """Over many cards with noise of 30 % a pixel: no false gradient, and no clear one lost."""
    found = []
    for seed in range(60):
        light = painted_light({CARD_BOX: GREY}, noise=0.3, seed=seed)
        light[10:70, 10:70] *= 1 + change * (np.arange(60) / 60 - 0.5)[None, :, None]
        pixels = area_pixels(photo_of(light), CARD)
        slope, _ = evenness(pixels, ~pixels.clipped, pixels.light.mean(axis=0))
        found.append(np.hypot(*slope))
    slopes = np.array(found)
    if change:
        assert slopes.mean() == pytest.approx(change, abs=0.015)
    else:
        assert (slopes == 0).all(axis=1).mean() >= 0.93  # 99 % of cards, of which 60 are tried
        assert slopes.mean() < 0.003


@pytest.mark.parametrize("lamp", [(1.0, 1.0, 1.0), (1.25, 1.0, 0.55)])
def test_the_same_light_reads_the_same_from_any_rgb_space(lamp: tuple[float, ...]) -> None:
    """Spaces by colour-science: IEC 61966-2-1, SMPTE EG 432-1 (Display P3), Adobe RGB (1998)."""
    srgb = photo_of(card_light(noise=0.0) * 0.8 * np.array(lamp))
    xyz = decoded(srgb) @ srgb.to_xyz.T
    gold = box_area("gold", (95, 15, 50, 50))
    read = []
    for name in ("sRGB", "Display P3", "Adobe RGB (1998)"):
        space = colour.RGB_COLOURSPACES[name]
        adapted = _to_d50(space)
        light = xyz @ np.linalg.inv(adapted).T
        photo = replace(photo_of(light), to_xyz=adapted, space=name)
        read.append(read_area(photo, gold, calibrate(photo, CARD, GREY_18)).lab)
    for other in read[1:]:
        assert delta_e_2000(read[0], other) < 0.1


def _to_d50(space: colour.RGB_Colourspace) -> NDArray[np.float64]:
    """Matrix to CIE XYZ under the white of ISO 15076-1, by Bradford as profiles have it."""
    white = colour.xy_to_XYZ(space.whitepoint)
    adaptation = colour.adaptation.matrix_chromatic_adaptation_VonKries(white, WHITE, "Bradford")
    return np.asarray(adaptation @ space.matrix_RGB_to_XYZ)


def decoded(photo: Photo) -> NDArray[np.float64]:
    return linear_light(photo, 0, 0, photo.width, photo.height).astype(np.float64)
