"""The uncertainty budget: what two readings share, and how each cause acts."""

from dataclasses import replace

import numpy as np
import pytest
from scipy.integrate import dblquad

from tests.cases import in_ci
from tests.measure.accuracy import compare_on_card, random_pairs
from tests.measure.painted import GREY, painted_light, photo_of
from tests.measure.simulated_camera import Conditions
from tonematch.measure.area.areas import box_area
from tonematch.measure.area.noise import variance_of_mean
from tonematch.measure.calibration.card import calibrate, card_from_reflectance
from tonematch.measure.colour.camera_error import square_root
from tonematch.measure.comparison import compare
from tonematch.measure.core import Comparison, Reading
from tonematch.measure.reading.reading import read_area
from tonematch.measure.uncertainty.budget import Cause, causes, draw_errors
from tonematch.swatchbook import swatch_table

CARD_BOX, OLD_BOX, NEW_BOX = (5, 5, 40, 40), (60, 10, 60, 60), (130, 10, 60, 60)
GOLD = (60.0, 8.0, 30.0)


def readings(old: tuple[float, float, float], new: tuple[float, float, float]) -> list[Reading]:
    fields = {CARD_BOX: GREY, OLD_BOX: old, NEW_BOX: new}
    photo = photo_of(painted_light(fields, noise=0.02))
    card = box_area("card", (8, 8, 34, 34), "card")
    calibration = calibrate(photo, card, card_from_reflectance(0.18))
    boxes = {"old": (64, 14, 52, 52), "new": (134, 14, 52, 52)}
    return [read_area(photo, box_area(name, box), calibration) for name, box in boxes.items()]


def cause(reading: Reading, name: str) -> Cause:
    return next(one for one in causes(reading) if one.name == name)


def test_covariance_is_the_sum_of_the_causes() -> None:
    for reading in readings(GOLD, (70.0, 6.0, 40.0)):
        whole = sum((one.covariance for one in causes(reading)), np.zeros((3, 3)))
        np.testing.assert_allclose(reading.covariance, whole, rtol=1e-9, atol=1e-12)
        assert np.linalg.eigvalsh(reading.covariance).min() > 0


@pytest.mark.parametrize(("name", "grows"), [("camera", "true"), ("tone", "read")])
def test_camera_and_tone_move_equal_colours_alike(name: str, grows: str) -> None:
    one, other = readings(GOLD, GOLD)
    first, second = cause(one, name), cause(other, name)
    assert first.shared == second.shared != ""
    assert first.grows == grows
    np.testing.assert_allclose(first.root, second.root, atol=0.1 * np.abs(first.root).max())


def test_camera_leaves_neutrals_neutral() -> None:
    grey, gold = readings((60.0, 0.0, 0.0), GOLD)
    assert np.sqrt(cause(grey, "camera").covariance.max()) < 0.2
    assert np.sqrt(cause(gold, "camera").covariance.max()) > 2.0


def test_tone_curve_leaves_the_card_itself_alone() -> None:
    as_card, light = readings(GREY, (85.0, 0.0, 0.0))
    assert np.abs(cause(as_card, "tone").root).max() < 0.02
    # The variance of an integrated Gaussian process, from the card's light to 3.66 times as much
    # (L* 85 is Y 0.659); L* + 16 goes with the cube root: 101 / 3 of it. Channels bend a little
    # for themselves.
    size = swatch_table("budget.toml")["tone"]
    ends = np.log([0.18, 0.659])

    def swollen(u: float) -> float:
        return float(np.hypot(1.0, size["swell"] * (u - np.log(size["middle"]))))

    def shared(u: float, v: float) -> float:
        return float(swollen(u) * swollen(v) * np.exp(-0.5 * ((u - v) / 0.6) ** 2))

    variance, _ = dblquad(shared, *ends, *ends)
    expected = size["slope"] * np.sqrt(variance) * 101 / 3
    found = np.linalg.norm(cause(light, "tone").root[0])
    assert expected < found < 1.05 * expected


def test_uneven_light_counts_for_more_further_from_the_card() -> None:
    near, far = readings(GOLD, GOLD)
    assert np.trace(cause(far, "light").covariance) > 2 * np.trace(cause(near, "light").covariance)


def test_what_a_calibration_settled_is_not_counted_again() -> None:
    reading, _ = readings(GOLD, GOLD)
    assert reading.calibration is not None
    measured = replace(reading.calibration, measured=frozenset({"tone", "light"}))
    names = {one.name for one in causes(replace(reading, calibration=measured))}
    assert names == {"area", "card", "camera", "tone"}


def test_readings_out_of_the_logbook_still_share_the_camera() -> None:
    one, other = readings(GOLD, (63.0, 8.0, 33.0))
    kept = [replace(reading, calibration=None, by_calibration=None) for reading in (one, other)]
    here, later = compare(one, other), compare(kept[0], kept[1])
    assert np.ptp(here.interval) < np.ptp(later.interval) < 4 * np.ptp(here.interval)


def test_drawn_errors_have_the_covariances_of_the_budget() -> None:
    one, other = readings(GOLD, (70.0, 6.0, 40.0))
    errors = draw_errors([causes(one), causes(other)], 40_000, 5).whole
    for reading, drawn in zip((one, other), errors, strict=True):
        assert np.cov(drawn.T) == pytest.approx(reading.covariance, rel=0.05, abs=0.02)
    shared = sum(
        (
            first.root @ second.root.T
            for first, second in zip(causes(one), causes(other), strict=True)
            if first.shared
        ),
        np.zeros((3, 3)),
    )
    found = np.cov(errors[0].T, errors[1].T)[:3, 3:]
    np.testing.assert_allclose(found, shared, rtol=0.1, atol=0.3)


def test_readings_without_a_cause_have_no_error() -> None:
    errors = draw_errors([(), ()], 10, 5)
    assert errors.whole.shape == errors.growing.shape[1:] == (2, 10, 3)
    assert not errors.whole.any()


def test_square_root_is_symmetric_and_squares_back() -> None:
    values = np.random.default_rng(3).standard_normal((3, 3))
    covariance = values @ values.T
    root = square_root(covariance)
    np.testing.assert_allclose(root, root.T, atol=1e-12)
    np.testing.assert_allclose(root @ root.T, covariance, atol=1e-12)


@pytest.mark.parametrize("grain", [0.0, 1.5, in_ci(0.8)])
def test_variance_of_a_mean_knows_grain_larger_than_a_block(grain: float) -> None:
    # The mean of 36 values of mean 0 and a correlation of exp(-(d / grain)^2).
    rng = np.random.default_rng(8)
    places = np.array([(x, y) for x in range(6) for y in range(6)], dtype=np.float64)
    distance = np.linalg.norm(places[:, None] - places[None], axis=-1)
    correlation = np.exp(-((distance / max(grain, 0.01)) ** 2)) + 1e-9 * np.eye(36)
    draws = np.linalg.cholesky(correlation) @ rng.standard_normal((36, 400))
    weights = np.full(36, 1 / 36)
    stated = np.array([variance_of_mean(values, places, weights) for values in draws.T])
    held = np.mean(np.abs(draws.mean(axis=0)) < 1.96 * np.sqrt(stated))
    independent = np.mean(np.abs(draws.mean(axis=0)) < 1.96 * draws.std(axis=0) / 6)
    assert 0.91 <= held <= 0.99
    if grain > 1:
        assert independent < 0.8


def test_the_interval_is_much_narrower_than_either_reading() -> None:
    pair = random_pairs(1, np.random.default_rng(4), 2.0)[0]
    found: Comparison = compare_on_card(pair, Conditions(), np.random.default_rng(5)).comparison
    assert np.ptp(found.interval) < np.sqrt(np.trace(found.original.covariance))
