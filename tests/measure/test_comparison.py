"""Comparisons: verdict, interval, what is told near zero, shared error of the card."""

from dataclasses import replace

import numpy as np
import pytest
from numpy.typing import NDArray

from tests.measure.painted import GREY, painted_light, photo_of
from tonematch.errors import AreaError
from tonematch.measure.area.areas import box_area
from tonematch.measure.calibration.aids import CARD_ALONE, Aids
from tonematch.measure.calibration.card import calibrate, card_from_reflectance
from tonematch.measure.colour.difference import delta_e_2000
from tonematch.measure.comparison import compare
from tonematch.measure.core import AS_DECODED, CameraProfile, Reading
from tonematch.measure.reading.reading import read_area
from tonematch.measure.uncertainty.interval import (
    NoisyDifference,
    half_width_95,
    noisy_difference,
)

CARD_BOX, OLD_BOX, NEW_BOX = (5, 5, 40, 40), (60, 10, 60, 60), (130, 10, 60, 60)
WHITE_BOX, BLACK_BOX = (5, 100, 40, 40), (60, 100, 40, 40)
CARD = box_area("card", CARD_BOX, "card")
OLD, NEW = box_area("old", OLD_BOX, "original"), box_area("new", NEW_BOX, "repair")
GREY_18 = card_from_reflectance(0.18)
GOLDS = ((60.0, 8.0, 30.0), (75.0, 6.0, 40.0), (45.0, 8.0, 22.0), (55.0, 10.0, 28.0))
Labs = NDArray[np.float64]


def readings(
    old: tuple[float, float, float], new: tuple[float, float, float], noise: float = 0.05
) -> tuple[Reading, Reading]:
    photo = photo_of(painted_light({CARD_BOX: GREY, OLD_BOX: old, NEW_BOX: new}, noise=noise))
    calibration = calibrate(photo, CARD, GREY_18)
    return read_area(photo, OLD, calibration), read_area(photo, NEW, calibration)


def pair_apart(base: Labs, difference: float, random: np.random.Generator) -> Labs:
    """A colour at a given CIEDE2000 from another, in any direction."""
    way = random.standard_normal(3)
    other = base + way / np.linalg.norm(way) * max(difference, 1e-9)
    for _ in range(8 if difference else 0):
        other = base + (other - base) * difference / float(delta_e_2000(base, other))
    return other if difference else base.copy()


def simulate(difference: float, noise: float, count: int) -> list[NoisyDifference]:
    """Comparisons of golds `difference` apart; `noise` a coordinate of their difference."""
    random = np.random.default_rng(17)
    each = noise / np.sqrt(2)
    results = []
    for k in range(count):
        one = np.array(GOLDS[k % len(GOLDS)])
        other = pair_apart(one, difference, random)
        read1, read2 = one + random.normal(0, each, 3), other + random.normal(0, each, 3)
        draws = random.normal(0, each, (2, 500, 3))
        results.append(noisy_difference(read1, read2, draws[0], draws[1]))
    return results


@pytest.mark.proof
@pytest.mark.parametrize("noise", [0.5, 0.25])
def test_a_difference_is_told_as_it_is_read(noise: float) -> None:
    """Noise lengthens a difference, and nothing shortens it: one of 1 is never told as 0."""
    told = {true: simulate(true, noise, 200) for true in (0.0, 1.0, 2.0)}
    means = {true: np.mean([one.value for one in found]) for true, found in told.items()}
    assert min(one.value for one in told[1.0]) > 0.0
    # At 0 what noise alone makes: below 1.6 noise, the mean of a chi distribution of three degrees
    # of freedom, since CIEDE2000 of golds is shorter than CIE 1976.
    assert 0.0 < means[0.0] < noise * np.sqrt(8 / np.pi)
    assert means[1.0] == pytest.approx(1.0, abs=0.2)
    assert means[2.0] == pytest.approx(2.0, abs=0.1)


@pytest.mark.proof
@pytest.mark.parametrize(
    "difference",
    [0.0, 0.5, 1.0, 2.0, 4.0],
)
def test_interval_holds_the_truth(difference: float) -> None:
    results = simulate(difference, 0.4, 400)
    held = np.mean([result.low <= difference <= result.high for result in results])
    assert 0.93 <= held <= 0.995
    assert all(result.low <= result.value <= result.high for result in results)


def test_a_doubt_of_what_is_read_is_not_turned_round() -> None:
    """A difference of 10 times a slope of 1 and 0.2: between 6 and 14, and not up to 16.

    A share by which a camera may stretch what is true is turned round: 10 / (1 - 0.39).
    """
    one, way = np.array([50.0, 0.0, 0.0]), np.array([1.0, 0.0, 0.0])
    grey = one + 11.0 * way
    measured = float(delta_e_2000(one, grey))
    share = np.random.default_rng(3).normal(0.0, 0.2, (4000, 1)) * (grey - one)
    read, true = (
        noisy_difference(one, grey, -share / 2.0, share / 2.0, **{grows: share})
        for grows in ("by_read", "by_true")
    )
    ends = 1.0 + 1.96 * 0.2, 1.0 - 1.96 * 0.2
    assert (read.high, read.low) == pytest.approx([measured * end for end in ends], rel=0.04)
    assert (true.low, true.high) == pytest.approx([measured / end for end in ends], rel=0.05)


@pytest.mark.proof
def test_interval_starts_at_zero_where_colours_may_be_equal() -> None:
    results = simulate(0.0, 0.4, 400)
    assert np.mean([result.low == 0 for result in results]) > 0.95


@pytest.mark.parametrize(
    ("new", "verdict"),
    [((60, 8, 30), "match"), ((60.5, 8, 30), "match"), ((72, 8, 34), "no match")],
)
def test_verdict(new: tuple[float, float, float], verdict: str) -> None:
    result = compare(*readings((60, 8, 30), new))
    assert result.verdict == verdict
    assert result.interval[0] <= result.delta_e <= result.interval[1]


def test_too_close_to_call_says_what_would_settle_it() -> None:
    fields = {CARD_BOX: GREY, OLD_BOX: (60.0, 8.0, 30.0), NEW_BOX: (62.2, 8.0, 30.0)}
    light = painted_light(fields, noise=0.4)
    light[:50, :50] = painted_light(fields, noise=0.01)[:50, :50]  # cards that are sure
    for (x, y, w, h), reflectance in ((WHITE_BOX, 0.72), (BLACK_BOX, 0.04)):
        light[y : y + h, x : x + w] = reflectance
    photo = photo_of(light)
    three_tones = Aids([(box_area("white", WHITE_BOX), 0.72), (box_area("black", BLACK_BOX), 0.04)])
    for aids, words in ((CARD_ALONE, "raw or DNG"), (three_tones, "larger")):
        calibration = calibrate(photo, CARD, GREY_18, aids)
        result = compare(read_area(photo, OLD, calibration), read_area(photo, NEW, calibration))
        assert result.verdict == "too close to call"
        assert result.interval[0] <= 2.0 < result.interval[1]
        assert "too close" in result.words
        assert words in result.words


def test_differences_are_repair_minus_original() -> None:
    result = compare(*readings((60, 8, 30), (66, 4, 40), noise=0.01))
    assert result.delta_L == pytest.approx(6, abs=0.15)
    assert result.delta_C == pytest.approx(np.hypot(4, 40) - np.hypot(8, 30), abs=0.2)
    assert result.delta_h == pytest.approx(
        np.degrees(np.arctan2(40, 4) - np.arctan2(30, 8)), abs=0.3
    )
    assert result.delta_H > 0
    assert any("no exact number" in warning for warning in result.warnings)


def test_exchanged_areas_exchange_the_signs() -> None:
    one, other = readings((60, 8, 30), (63, 7, 33))
    there, back = compare(one, other), compare(other, one)
    assert back.delta_e == pytest.approx(there.delta_e, abs=0.02)
    assert back.delta_L == pytest.approx(-there.delta_L)
    assert back.delta_h == pytest.approx(-there.delta_h)


def test_error_of_a_shared_card_falls_out_of_the_difference() -> None:
    one, other = readings((60, 8, 30), (63, 8, 30), noise=0.01)
    assert one.calibration is not None
    sigmas = np.pad([0.1] * 3, (0, len(one.calibration.relative_covariance) - 3))
    worse = replace(one.calibration, relative_covariance=np.outer(sigmas, sigmas))
    one, other = replace(one, calibration=worse), replace(other, calibration=worse)
    shared = compare(one, other)
    apart = compare(one, other, same_calibration=False)
    assert np.ptp(shared.interval) < 1.5
    assert np.ptp(apart.interval) > 4 * np.ptp(shared.interval)


def test_two_photographs_at_other_exposures_agree_with_one() -> None:
    fields = {CARD_BOX: GREY, OLD_BOX: (60.0, 8.0, 30.0), NEW_BOX: (64.0, 7.0, 33.0)}
    one = photo_of(painted_light(fields, noise=0.02))
    two = photo_of(painted_light(fields, noise=0.02, seed=8) * np.array([0.3, 0.25, 0.2]))
    first, second = calibrate(one, CARD, GREY_18), calibrate(two, CARD, GREY_18)
    within = compare(read_area(one, OLD, first), read_area(one, NEW, first))
    across = compare(read_area(one, OLD, first), read_area(two, NEW, second))
    truth = float(delta_e_2000(fields[OLD_BOX], fields[NEW_BOX]))
    assert within.delta_e == pytest.approx(truth, abs=0.2)
    assert across.interval[0] <= truth <= across.interval[1]
    assert within.interval[0] <= truth <= within.interval[1]


def test_overlapping_original_and_repair_are_refused() -> None:
    photo = photo_of(painted_light({CARD_BOX: GREY, OLD_BOX: (60, 8, 30)}, noise=0.01))
    calibration = calibrate(photo, CARD, GREY_18)
    one = read_area(photo, OLD, calibration)
    other = read_area(photo, box_area("new", (70, 20, 40, 40)), calibration)
    with pytest.raises(AreaError, match="overlap"):
        compare(one, other)


def test_readings_without_their_calibration_count_as_independent() -> None:
    one, other = readings((60, 8, 30), (63, 8, 30))
    kept = replace(one, calibration=None), replace(other, calibration=None)
    assert compare(*kept).interval == compare(*kept, same_calibration=False).interval


def test_two_photographs_say_what_they_hold_for() -> None:
    old, new = readings((60, 8, 30), (63, 8, 30))
    note = "lamp and camera were the same"
    assert not any(note in warning for warning in compare(old, new).warnings)
    elsewhere = replace(new, photo_sha256="f" * 64)
    dark = replace(elsewhere, warnings=("It is dark.",))
    said = compare(old, dark).warnings
    assert sum(note in warning for warning in said) == 1
    assert "Photograph of the repair: It is dark." in said
    assert "It is dark." in compare(old, replace(new, warnings=dark.warnings)).warnings
    profile = CameraProfile(
        "", "", "2026-01-01", "sRGB", np.eye(3), 0, np.eye(3), AS_DECODED, np.zeros((0, 0)),
        np.ones(3), 24, 1.0, 2.0, 1.0,
    )  # fmt: skip
    charted = [
        replace(reading, calibration=replace(old.calibration, profile=profile))
        for reading in (old, elsewhere)
        if old.calibration is not None
    ]
    assert not any(note in warning for warning in compare(charted[0], charted[1]).warnings)


def test_the_difference_is_surer_than_each_of_its_readings() -> None:
    """What the card and the tone curve do to both alike is not in it (JCGM 100:2008, F.1.2.3)."""
    original, repair = readings((60, 8, 30), (62, 8, 31), noise=0.4)
    found, alone = compare(original, repair), half_width_95(repair.covariance)
    assert found.covariance is not None
    apart = half_width_95(found.covariance)
    assert (apart > 0.0).all()
    assert (apart < alone / 2.0).all()
    # Of two photographs that share nothing, the variances add up (JCGM 100:2008, 5.1.2).
    other = replace(repair, photo_sha256="1" * 64)
    strangers = compare(original, other, same_calibration=False).covariance
    assert strangers is not None
    assert (half_width_95(strangers) > apart).all()
