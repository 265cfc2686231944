"""Readings of areas whose CIELAB is known."""

from collections.abc import Callable

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st
from numpy.typing import NDArray

from tests.cases import shared_by
from tests.measure.painted import GREY, lab_to_light, painted_light, photo_of
from tonematch.errors import AreaError, ReadingError
from tonematch.measure.area.areas import box_area, polygon_area
from tonematch.measure.area.noise import covariance_of_mean
from tonematch.measure.calibration.card import calibrate, card_from_reflectance
from tonematch.measure.colour.convert import xyz_to_lab
from tonematch.measure.core import Area, Reading
from tonematch.measure.reading.reading import read_area
from tonematch.measure.uncertainty.budget import metamerism_covariance

CARD_BOX, GOLD_BOX = (5, 5, 50, 50), (70, 20, 100, 100)
GOLD = (62.0, 7.0, 32.0)
CARD = box_area("card", CARD_BOX, "card")
AREA = box_area("cheek", (72, 22, 96, 96))
GREY_18 = card_from_reflectance(0.18)


def scene(noise: float = 0.02, seed: int = 3) -> NDArray[np.float64]:
    return painted_light({CARD_BOX: GREY, GOLD_BOX: GOLD}, noise=noise, seed=seed)


def read(light: NDArray[np.float64], area: Area = AREA, bits: int = 16) -> Reading:
    photo = photo_of(light, bits)
    return read_area(photo, area, calibrate(photo, CARD, GREY_18))


@shared_by(4)
@given(st.tuples(st.floats(25, 80), st.floats(-2, 12), st.floats(5, 35)))
def test_painted_colour_is_read_back(lab: tuple[float, float, float]) -> None:
    assume(lab_to_light(np.array(lab)).min() > 0)  # within sRGB
    light = painted_light({CARD_BOX: GREY, GOLD_BOX: lab})
    reading = read(light)
    np.testing.assert_allclose(reading.lab, lab, atol=0.03)
    assert reading.left_out == 0
    assert reading.pixels == 96 * 96
    assert read(light, bits=8).lab == pytest.approx(np.array(lab), abs=0.6)


def test_polygon_reads_as_the_box_around_it() -> None:
    triangle = polygon_area("part", [(75, 25), (160, 30), (90, 110)])
    np.testing.assert_allclose(read(scene(), triangle).lab, GOLD, atol=0.15)


def test_glare_is_left_out_and_counted() -> None:
    light = scene()
    light[30:40, 80:100] = 0.95
    light[60:70, 110:112] *= 1.6
    reading = read(light)
    np.testing.assert_allclose(reading.lab, GOLD, atol=0.1)
    assert reading.left_out == pytest.approx(220, abs=15)


def test_glints_over_a_fifth_of_the_area_hardly_move_it() -> None:
    light = scene()
    random = np.random.default_rng(8)
    spots = random.random((96, 96)) < 0.2
    light[22:118, 72:168][spots] *= random.uniform(1.3, 2.0, (int(spots.sum()), 1))
    reading = read(light)
    np.testing.assert_allclose(reading.lab, GOLD, atol=0.5)


def test_few_specks_are_dirt_and_many_are_the_surface() -> None:
    few, many = scene(), scene()
    few[50:54, 80:150] *= 0.3
    many[22:60, 72:168] *= 0.3
    assert read(few).left_out == pytest.approx(280, abs=15)
    np.testing.assert_allclose(read(few).lab, GOLD, atol=0.1)
    assert read(many).left_out < 20
    # The mean is taken in linear light: 38 of 96 rows at 0.3 of the light.
    share = 38 / 96
    mixed = lab_to_light(np.array(GOLD)) * (1 - share + share * 0.3)
    expected = xyz_to_lab(photo_of(many).to_xyz @ mixed)
    np.testing.assert_allclose(read(many).lab, expected, atol=0.3)


def test_spread_tells_even_from_mottled() -> None:
    mottled = scene()
    mottled[22:118, 72:168] *= np.where(np.arange(96) // 8 % 2, 1.1, 0.9)[None, :, None]
    even, uneven = read(scene(0.005)), read(mottled)
    assert even.spread_L < 0.3
    # Light of 0.9 and 1.1: L* + 16 goes with the cube root, so half the step is 3.3 %.
    assert uneven.spread_L == pytest.approx((62 + 16) * 0.0334, rel=0.15)
    assert uneven.spread_C > even.spread_C


@pytest.mark.proof
def test_stated_covariance_is_the_scatter_of_readings() -> None:
    readings = [read(scene(0.3, seed), box_area("cheek", (72, 22, 40, 40))) for seed in range(120)]
    scatter = np.std([reading.lab for reading in readings], axis=0)
    # Camera, tone curve and light, which the budget adds, do not change from one to the next.
    stated = np.sqrt(np.mean([np.diag(reading.own_covariance) for reading in readings], axis=0))
    np.testing.assert_allclose(stated, scatter, rtol=0.35)
    for reading in readings[:3]:
        extra = reading.covariance - reading.own_covariance
        assert np.linalg.eigvalsh(extra).min() > -1e-9


def test_correlated_noise_counts_for_less_than_as_many_pixels() -> None:
    # Noise in grains of 4 by 4 pixels: the mean of 96 by 96 is as uncertain as that of 24 by 24.
    random = np.random.default_rng(9)
    rows, columns = np.indices((96, 96))
    block = ((rows // 16) * 6 + columns // 16).ravel()
    stated = []
    for _ in range(60):
        grains = np.kron(random.standard_normal((24, 24, 3)), np.ones((4, 4, 1)))
        covariance = covariance_of_mean(np.asarray(grains.reshape(-1, 3), dtype=np.float64), block)
        assert covariance is not None
        stated.append(np.diag(covariance))
    np.testing.assert_allclose(np.mean(stated, axis=0), 1 / 24**2, rtol=0.2)


def test_flat_picture_keeps_the_uncertainty_of_its_steps() -> None:
    flat = painted_light({CARD_BOX: GREY, GOLD_BOX: GOLD})
    coarse, fine = read(flat, bits=8), read(flat, bits=16)
    error = np.abs(coarse.lab - GOLD)
    assert (error < 4 * np.sqrt(np.diag(coarse.own_covariance))).all()
    by_spectra = metamerism_covariance(fine.lab)
    assert np.trace(fine.own_covariance - by_spectra) < 1e-4 * np.trace(
        coarse.own_covariance - by_spectra
    )


def test_very_large_area_is_read_from_a_part_of_its_pixels() -> None:
    light = np.broadcast_to(lab_to_light(np.array(GOLD)), (1600, 2400, 3)).copy()
    light[:60, :60] = lab_to_light(np.array(GREY))
    photo = photo_of(light)
    calibration = calibrate(photo, box_area("card", (2, 2, 50, 50), "card"), GREY_18)
    reading = read_area(photo, box_area("all", (60, 60, 2340, 1540)), calibration)
    assert 50_000 < reading.pixels <= 100_000
    np.testing.assert_allclose(reading.lab, GOLD, atol=0.05)


REFUSED: dict[str, tuple[Callable[[], NDArray[np.float64]], Area, str]] = {
    "small": (scene, box_area("cheek", (80, 30, 5, 5)), "25 pixels only"),
    "clipped": (
        lambda: scene() * np.where(np.arange(200) < 60, 1, 5)[None, :, None],
        AREA,
        "overexposed",
    ),
    "dark": (
        lambda: scene() * np.where(np.arange(200) < 60, 1, 0.0005)[None, :, None],
        AREA,
        "too dark",
    ),
}


@pytest.mark.parametrize("case", REFUSED)
def test_area_refused_with_reason_and_remedy(case: str) -> None:
    make, area, says = REFUSED[case]
    with pytest.raises(ReadingError, match=says) as refusal:
        read(make(), area)
    reason, _, remedy = str(refusal.value).partition(":")
    assert "cheek" in reason
    assert remedy.endswith(".")


def test_area_warned_about() -> None:
    assert "pixels only" in read(scene(), box_area("cheek", (80, 30, 12, 12))).warnings[0]
    dark = scene() * np.where(np.arange(200) < 60, 1, 0.005)[None, :, None]
    assert any("very dark" in warning for warning in read(dark).warnings)
    assert not read(scene()).warnings


def test_area_over_the_card_or_outside() -> None:
    with pytest.raises(AreaError, match="overlap"):
        read(scene(), box_area("cheek", (40, 10, 60, 60)))
    with pytest.raises(AreaError, match="outside"):
        read(scene(), box_area("cheek", (150, 100, 60, 60)))
