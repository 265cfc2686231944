"""Repeats of one pair: what averages out, what stays, and whether the interval is true."""

from dataclasses import replace

import numpy as np
import pytest
from numpy.typing import NDArray

from tests.measure.accuracy import Compared, compare_on_card, random_pairs
from tests.measure.repeated_pairs import Kind, repeated, twice
from tests.measure.simulated_camera import Conditions
from tonematch.errors import ValueRefused
from tonematch.measure.area.areas import box_area
from tonematch.measure.area.noise import part_means
from tonematch.measure.core import Comparison, Reading
from tonematch.measure.repeats import combine, noise_of_repeats

AREA = box_area("old", (0, 0, 60, 60), "original")
Parts = NDArray[np.float64]


def reading_of(parts: Parts | None, name: str = "a") -> Reading:
    """A reading whose parts are given."""
    lab = np.array([60.0, 8.0, 30.0])
    own = 0.09 * np.eye(3)
    return Reading(lab, own, own, 3600, 0, 0.0, 0.0, AREA, name, parts=parts)


def shots(pair_seed: int, count: int) -> list[Compared]:
    """The same places of one pair, photographed several times."""
    pair = random_pairs(1, np.random.default_rng(pair_seed), 2.0)[0]
    rng = np.random.default_rng(3)
    return [compare_on_card(pair, Conditions(), rng, surface=5) for _ in range(count)]


def uncertainty(comparison: Comparison) -> float:
    """Of both areas' own colour: what is left of noise, and the mottle."""
    both = comparison.original.own_covariance + comparison.repair.own_covariance
    return float(np.sqrt(np.trace(both)))


def test_parts_follow_the_area_whatever_its_size() -> None:
    for side in (60, 90):
        x, y = (side / 60.0 * (np.indices((60, 60)) + 0.5)).reshape(2, -1)
        values = np.stack([x, y, x + y], axis=-1) / side
        area = box_area("old", (0, 0, side, side))
        parts = part_means(values, np.stack([x, y], axis=-1), area)
        middles = (np.arange(6) + 0.5) / 6
        np.testing.assert_allclose(parts[0, :, 0], middles)
        np.testing.assert_allclose(parts[:, 0, 1], middles)
    few = part_means(np.ones((1, 3)), np.array([[1.0, 1.0]]), AREA)
    assert np.isfinite(few[0, 0]).all()
    assert np.isnan(few).sum() == 35 * 3


@pytest.mark.parametrize("number", [2, 5])
@pytest.mark.parametrize("mottle", [0.0, 2.0])
def test_noise_is_told_from_mottle(number: int, mottle: float) -> None:
    # Noise of 0.6 a part is 0.1 of the mean of 36 parts, whatever the mottle beside it.
    rng = np.random.default_rng(41)
    found = []
    for _ in range(200):
        stays = mottle * rng.standard_normal((6, 6, 3))
        grids = [stays + 0.6 * rng.standard_normal((6, 6, 3)) for _ in range(number)]
        tilts = [k * np.arange(6)[:, None, None] for k in range(number)]  # the lamp moved
        noise = noise_of_repeats([reading_of(g + t) for g, t in zip(grids, tilts, strict=True)])
        found.append(np.diag(noise))
    np.testing.assert_allclose(np.mean(found, axis=0), 0.1**2, rtol=0.07)


def test_noise_that_cannot_be_told_counts_as_mottle() -> None:
    parts = np.random.default_rng(42).standard_normal((6, 6, 3))
    assert not noise_of_repeats([reading_of(parts), reading_of(None)]).any()
    few = np.where(np.arange(36).reshape(6, 6, 1) < 8, parts, np.nan)
    assert not noise_of_repeats([reading_of(few), reading_of(few + 1.0)]).any()


def test_one_photograph_given_twice_teaches_nothing() -> None:
    one = shots(29, 1)[0].comparison
    same = combine([one, one])
    assert np.ptp(same.interval) == pytest.approx(np.ptp(one.interval), rel=0.1)
    assert uncertainty(same) == pytest.approx(uncertainty(one), rel=0.05)


def test_noise_and_card_average_and_the_rest_stays() -> None:
    taken = [shot.comparison for shot in shots(29, 4)]
    together = combine(taken)
    noise = np.trace(noise_of_repeats([one.original for one in taken]))
    single = np.mean([np.trace(one.original.own_covariance) for one in taken])
    left = np.trace(together.original.own_covariance)
    assert left == pytest.approx(single - 0.75 * noise, rel=0.1)
    assert left > single / 4


def test_photographs_that_disagree_widen_the_interval() -> None:
    one, two = (shot.comparison for shot in shots(29, 2))
    lighter, darker = (
        replace(shot, repair=replace(shot.repair, lab=shot.repair.lab + np.array([by, 0.0, 0.0])))
        for shot, by in ((one, 2.5), (two, -2.5))
    )
    alike, apart = combine([one, two]), combine([lighter, darker])
    assert np.ptp(apart.interval) > 1.5 * np.ptp(alike.interval)


def test_light_of_separate_photographs_is_not_shared() -> None:
    apart = repeated(1, 43, 2, "two photographs", mottling=0.0)[0]
    one = apart.shots[0].comparison
    # As `compare` has it: combining must not make two lights one.
    assert apart.width > 0.7 * np.ptp(one.interval)


@pytest.mark.proof
@pytest.mark.parametrize("number", [2, 5])
@pytest.mark.parametrize("kind", ["two photographs", "lamp moved", "lamp kept"])
def test_combined_interval_holds_the_truth(number: int, kind: Kind) -> None:
    found = repeated(24, 44 + number, number, kind)
    # 95 % and three standard deviations below it, of 24; accuracy_table.py counts hundreds.
    assert np.mean([one.holds for one in found]) >= 0.95 - 3 * np.sqrt(0.95 * 0.05 / 24)
    single = np.median([np.ptp(one.shots[0].comparison.interval) for one in found])
    assert np.median([one.width for one in found]) <= 1.1 * single


@pytest.mark.proof
def test_photographs_two_stops_apart_agree_and_combine() -> None:
    pairs = twice(25, 27)
    # 95 % and three standard deviations below it, of 50.
    assert sum(pair.agreeing for pair in pairs) >= 50 * 0.95 - 3 * np.sqrt(50 * 0.95 * 0.05)
    assert sum(pair.holds for pair in pairs) >= 21
    # The one two stops under leans on the darks, where a curve is unsurer: it may widen a little.
    narrower = [pair.width <= np.ptp(pair.shots[1].comparison.interval) + 1.2 for pair in pairs]
    assert sum(narrower) >= 20


def test_combining_needs_one_tolerance_and_something_to_combine() -> None:
    one = shots(28, 1)[0].comparison
    assert combine([one]) is one
    with pytest.raises(ValueRefused, match="give one or more"):
        combine([])
    with pytest.raises(ValueRefused, match="with one tolerance"):
        combine([one, replace(one, tolerance=3.0)])
