"""Evenness: mottled surfaces of equal mean, alike and not."""

import numpy as np
import pytest
from scipy.optimize import linprog

from tests.measure.mottled import as_picture, mottled
from tests.measure.painted import GREY, lab_to_light, photo_of
from tests.measure.shine_cases import OTHER, SAME, evenness
from tonematch.errors import ReadingError
from tonematch.measure.appearance.area_picture import area_picture, reduced
from tonematch.measure.appearance.evenness import compare_evenness
from tonematch.measure.appearance.permutation import pairing_cost
from tonematch.measure.area.areas import box_area, polygon_area
from tonematch.measure.calibration.card import calibrate, card_from_reflectance
from tonematch.measure.colour.convert import lab_to_xyz


@pytest.mark.proof
def test_other_mottling_of_the_same_mean_is_flagged() -> None:
    rng = np.random.default_rng(17)
    found = [evenness(*kinds, rng) for kinds in OTHER for _ in range(3)]
    assert sum(c.verdict != "alike" for c in found) >= 12 - 1
    assert all(c.chance <= 0.05 for c in found if c.verdict != "alike")


@pytest.mark.proof
def test_the_same_texture_reshuffled_is_alike() -> None:
    rng = np.random.default_rng(18)
    found = [evenness(kind, kind, rng) for kind in SAME for _ in range(4)]
    assert sum(c.verdict == "alike" for c in found) >= 16 - 1


@pytest.mark.proof
def test_verdict_names_the_direction_and_the_scale() -> None:
    rng = np.random.default_rng(19)
    even = evenness((2.0, 3.0), (0.7, 3.0), rng)
    assert (even.verdict, "too even" in even.words) == ("too even", True)
    blotchy = evenness((0.7, 3.0), (2.0, 3.0), rng)
    assert (blotchy.verdict, "too mottled" in blotchy.words) == ("too mottled", True)
    coarse = [mottled(rng, 2.0, scale) for scale in (2.0, 4.5)]
    assert "coarser" in compare_evenness(*(as_picture(lab, 0.2) for lab in coarse)).words
    # In pixels alone it may be the distance of the camera.
    assert "coarser" not in compare_evenness(*map(as_picture, coarse)).words


@pytest.mark.proof
def test_correlation_length_is_that_of_the_surface() -> None:
    # Blotches of scale s have a correlation of exp(-r^2 / (4 s^2)): 1/e at r = 2 s.
    rng = np.random.default_rng(20)
    lengths = []
    for _ in range(4):
        lab = mottled(rng, 2.0, 3.0, shape=(150, 150), grain=0.0)
        picture = as_picture(lab, mm_per_pixel=0.2)
        found = compare_evenness(picture, picture).original
        lengths.append(found.scale)
        assert found.scale_mm == pytest.approx(0.2 * found.scale)
    assert np.mean(lengths) == pytest.approx(6.0, rel=0.15)


def test_pairing_is_the_transport_of_least_cost() -> None:
    # Against the linear programme that defines the earth mover's distance
    # (Rubner, Tomasi and Guibas 2000), solved by scipy's HiGHS.
    rng = np.random.default_rng(21)
    cost = rng.random((12, 12)).astype(np.float32)
    rows, columns = np.kron(np.eye(12), np.ones(12)), np.kron(np.ones(12), np.eye(12))
    solved = linprog(cost.ravel(), A_eq=np.vstack([rows, columns]), b_eq=np.full(24, 1 / 12))
    assert pairing_cost(cost) == pytest.approx(solved.fun, abs=1e-6)


def test_surfaces_of_two_scales_are_compared_in_millimetres() -> None:
    rng = np.random.default_rng(22)
    near = as_picture(mottled(rng, 2.0, 4.0, shape=(180, 200), grain=0.0), 0.1)
    far = reduced(as_picture(mottled(rng, 2.0, 4.0, shape=(180, 200), grain=0.0), 0.1), 2.0)
    assert far.mm_per_pixel == pytest.approx(0.2)
    found = compare_evenness(near, far)
    assert found.verdict == "alike"
    assert found.original.scale_mm == pytest.approx(found.repair.scale_mm, rel=0.3)


def test_surface_is_read_from_a_photograph() -> None:
    rng = np.random.default_rng(23)
    light = np.zeros((150, 320, 3))
    light[10:60, 10:60] = lab_to_light(np.array(GREY))
    for x, spread in ((70, 2.0), (200, 0.6)):
        light[20:130, x : x + 110] = lab_to_light(mottled(rng, spread, 3.0, shape=(110, 110)))
    light[40:48, 90:96] = 1.2
    photo = photo_of(light)
    calibration = calibrate(photo, box_area("card", (12, 12, 44, 44), "card"),
                            card_from_reflectance(0.18))  # fmt: skip
    original = area_picture(photo, box_area("old", (72, 22, 106, 106)), calibration)
    assert (~original.used).sum() == pytest.approx(48, abs=30)
    corners = [(202.0, 22.0), (306.0, 22.0), (306.0, 126.0), (202.0, 126.0)]
    repair = area_picture(photo, polygon_area("new", corners), calibration)
    np.testing.assert_allclose(repair.lab()[repair.used].mean(axis=0), (60, 8, 30), atol=0.3)
    found = compare_evenness(original, repair)
    assert found.verdict == "too even"
    assert found.original.spread_L == pytest.approx(2.0, rel=0.3)
    with pytest.raises(ReadingError, match="too small"):
        area_picture(photo, box_area("tip", (72, 22, 12, 12)), calibration)


def test_mottling_that_cannot_be_seen_is_even() -> None:
    rng = np.random.default_rng(24)
    faint = [as_picture(mottled(rng, s, 3.0, grain=0.05)) for s in (0.1, 0.3)]
    assert compare_evenness(faint[0], faint[1]).verdict == "alike"


def test_area_too_small_for_its_mottling_is_not_judged() -> None:
    rng = np.random.default_rng(25)
    found = evenness((2.0, 14.0), (2.0, 14.0), rng)
    assert found.verdict == "not known"
    assert "larger" in found.words
    tiny = as_picture(np.broadcast_to((60.0, 8.0, 30.0), (12, 12, 3)).copy())
    with pytest.raises(ReadingError, match="too small"):
        compare_evenness(tiny, tiny)


def test_reducing_keeps_the_mean() -> None:
    lab = mottled(np.random.default_rng(26), 2.0, 3.0, shape=(90, 90))
    small = reduced(as_picture(lab), 3.0)
    assert small.xyz.shape == (30, 30, 3)
    np.testing.assert_allclose(small.xyz.mean(axis=(0, 1)), lab_to_xyz(lab).mean(axis=(0, 1)),
                               rtol=1e-4)  # fmt: skip


@pytest.mark.proof
def test_very_large_area_is_read_from_a_part_of_its_pixels() -> None:
    light = np.broadcast_to(lab_to_light(np.array((60.0, 8.0, 30.0))), (1600, 2400, 3)).copy()
    light[:60, :60] = lab_to_light(np.array(GREY))
    photo = photo_of(light)
    card = box_area("card", (2, 2, 50, 50), "card")
    calibration = calibrate(photo, card, card_from_reflectance(0.18))
    found = area_picture(photo, box_area("all", (60, 60, 2340, 1540)), calibration, 0.1)
    assert found.used.size < 500_000
    assert found.mm_per_pixel == pytest.approx(0.1 * found.pixel)
    assert found.used.shape[1] * found.pixel == pytest.approx(2340, rel=0.01)
