"""Body colour, lustre and parting colours, on renders of metal whose truth is known."""

import weakref
from dataclasses import replace

import numpy as np
import pytest

from tests.cases import in_ci
from tests.measure.metal_renders import (
    CARD,
    ORIGINAL,
    REPAIR,
    Lamp,
    calibrated,
    lit,
    old_gold,
    photograph,
    ring,
)
from tests.measure.metal_renders import tilts as tilt_field
from tests.measure.shine_cases import (
    FIELD,
    compared,
    glint_shift,
    parting,
    photographs,
    read_lustre,
)
from tonematch.errors import AreaError
from tonematch.measure.appearance.alignment import overlay
from tonematch.measure.appearance.look import look_at_lustre, with_lustre
from tonematch.measure.appearance.lustre import decoded_light, lustre_of
from tonematch.measure.area.areas import box_area
from tonematch.measure.calibration.apply import balanced_light
from tonematch.measure.colour.difference import delta_e_2000
from tonematch.measure.comparison import compare
from tonematch.measure.core import EvenLight, ToneCurve
from tonematch.measure.reading.reading import read_area
from tonematch.photo.core import Photo
from tonematch.photo.light import linear_light


@pytest.mark.parametrize("lights", [3, *(in_ci(n) for n in (5, 8))])
@pytest.mark.parametrize("walking", [True, False], ids=["walking", "standing"])
def test_glints_over_a_fifth_hardly_move_the_body_colour(lights: int, walking: bool) -> None:
    rng = np.random.default_rng(100 + lights)
    for _ in range(2):
        body, plain = glint_shift(lights, walking, rng)
        assert body <= 0.5
        assert plain > 4.0  # so far the glints would have moved a plain mean


@pytest.mark.proof
def test_pairs_that_part_at_the_flop_are_flagged_and_equal_ones_are_not() -> None:
    rng = np.random.default_rng(5)
    parted = [parting(3.0, lights, rng) for lights in (3, 4, 5, 6, 3, 4)]
    assert sum(c.parts for c in parted) >= 5
    assert all("further from the mirror" in c.parting_words for c in parted if c.parts)
    equal = [parting(0.0, lights, rng) for lights in (3, 4, 5, 3)]
    assert not any(c.parts for c in equal)
    assert not any(c.parting_words for c in equal)


@pytest.mark.parametrize(
    ("height", "verdict", "says"),
    [
        (3.0, "too shiny", "too shiny"),
        (1.0, "alike", "shines like"),
        (0.3, "too dull", "too dull"),
    ],
)
def test_lustre_is_a_verdict_beside_the_colour(height: float, verdict: str, says: str) -> None:
    rng = np.random.default_rng(21)
    original, repair = old_gold(0.2, 0.05, 6.0, 1.0), old_gold(0.2, 0.05, 6.0, height)
    found = compared(photographs(original, repair, ring(5, rng), rng))
    assert found.verdict == verdict
    assert says in found.words
    assert found.interval[0] <= found.stops <= found.interval[1]
    assert found.body.delta_e < 2.0  # the bodies are of one colour


@pytest.mark.proof
def test_a_picture_into_the_mirror_is_told_from_those_beside_it() -> None:
    rng, metal = np.random.default_rng(12), old_gold(0.2, 0.05)
    far = ring(4, rng, nearest=15.0)
    assert "No picture looks" in compared(photographs(metal, metal, far, rng)).mirror_words
    near = [*far, Lamp(2.0, 1.0)]
    words = compared(photographs(metal, metal, near, rng)).mirror_words
    assert words.startswith("Another looks into the mirror (of these pictures: 5)")
    words = compared(photographs(metal, metal, near[::-1], rng)).mirror_words
    assert words.startswith("The compared picture looks into the mirror (of these pictures: 1)")
    assert compared(photographs(metal, metal, near[-2:], rng)).mirror_words == ""


@pytest.mark.proof
def test_narrow_gleam_is_seen_under_fewer_lights() -> None:
    rng = np.random.default_rng(3)
    lamps = [Lamp(x, 0.0) for x in (0.0, 6.0, 9.0, 12.0, 16.0, 20.0, 24.0, 28.0)]
    found = compared(photographs(old_gold(0.2, 0, 9, 2), old_gold(0.2, 0, 4, 2), lamps, rng))
    assert found.share_interval[1] < 0
    assert "narrower" in found.words


def test_clipped_gleam_is_never_called_alike() -> None:
    rng = np.random.default_rng(4)
    lamps, metal = ring(4, rng), old_gold(0.1, 0.0, 6.0, 6.0)
    field = tilt_field(rng, FIELD)
    photos = [photograph(lit(metal, field, p), lit(metal, field, p), p, rng, 1.2) for p in lamps]
    found = compared(photos)
    assert found.verdict == "too close to call"
    assert any("clipped" in warning for warning in found.warnings)
    # Of a peak that is clipped nobody knows how high it is.
    assert found.body.original.lustre is None
    assert found.body.repair.lustre is None


def test_one_picture_gives_a_note_and_no_verdict() -> None:
    rng = np.random.default_rng(6)
    photos = photographs(old_gold(0.2, 0.05), old_gold(0.2, 0.05), ring(3, rng)[-1:], rng)
    cards = calibrated(photos)
    found = compared(photos)
    assert found.verdict == "not known"
    assert "three or more" in found.words
    assert found.body.repair.lustre is None
    assert found.body.original.lab == pytest.approx(read_area(photos[0], ORIGINAL, cards[0]).lab)


def shaken(shifts: list[tuple[int, int]]) -> list[Photo]:
    rng = np.random.default_rng(9)
    metal, field = old_gold(0.25, 0.05), tilt_field(rng, FIELD)
    lamps = ring(len(shifts), rng, nearest=10.0)
    return [
        photograph(lit(metal, field, lamp), lit(metal, field, lamp), lamp, rng, 0.5, shift)
        for lamp, shift in zip(lamps, shifts, strict=True)
    ]


def test_shaken_camera_is_found_and_undone() -> None:
    shifts = [(0, 0), (3, -2), (-2, 4)]
    still, moved = shaken([(0, 0)] * 3), shaken(shifts)
    laid = overlay(moved, [ORIGINAL])[0]
    assert not laid.warnings
    np.testing.assert_allclose(laid.shifts, shifts, atol=0.3)
    bodies = [read_lustre(photos, ORIGINAL).body.lab for photos in (still, moved)]
    assert float(delta_e_2000(*bodies)) < 0.2


def test_body_reading_compares_as_any_other() -> None:
    photos = shaken([(0, 0)] * 3)
    one, other = (read_lustre(photos, area).body for area in (ORIGINAL, REPAIR))
    assert one.photo_sha256 == other.photo_sha256 == photos[0].sha256
    assert one.area == ORIGINAL
    assert one.calibration is not None
    assert one.calibration.card == CARD
    assert float(delta_e_2000(one.lab, other.lab)) < 0.3


def test_area_pixels_give_the_body_colour_of_whole_pictures() -> None:
    """Against the median over the lights of whole pictures, taken pixel by pixel."""
    photos = shaken([(0, 0)] * 5)
    cards = calibrated(photos)
    y, x = np.indices((photos[0].height, photos[0].width)) + 0.5
    lights = [linear_light(p, 0, 0, p.width, p.height).astype(np.float64) for p in photos]
    whole = [
        balanced_light(card, light.reshape(-1, 3), x.ravel(), y.ravel())
        for light, card in zip(lights, cards, strict=True)
    ]
    back = np.linalg.inv(cards[0].balance).T
    median = (np.median(whole, axis=0) / cards[0].gains @ back).reshape(*x.shape, 3)
    taken = replace(photos[0], encoded=median.astype(np.float32), decoders=None)
    for area in (ORIGINAL, REPAIR):
        by_whole = read_area(taken, area, cards[0]).lab
        assert float(delta_e_2000(read_lustre(photos, area).body.lab, by_whole)) < 0.05


@pytest.mark.proof
def test_no_more_than_one_picture_is_kept() -> None:
    photos = shaken([(0, 0), (1, 0), (0, 1), (1, 1)])
    cards = calibrated(photos)
    original, repair = (read_area(photos[0], area, cards[0]) for area in (ORIGINAL, REPAIR))
    gap = compare(original, repair)
    kept = look_at_lustre(gap, photos)
    given: list[weakref.ref[Photo]] = []

    def decoded(number: int) -> Photo:
        assert not any(photo() for photo in given)
        photo = replace(photos[number])
        given.append(weakref.ref(photo))
        return photo

    passing = look_at_lustre(gap, map(decoded, range(4)))
    assert len(given) == 4
    assert passing.stops == kept.stops
    known = with_lustre(gap, kept)
    assert known.original.lustre is not None
    assert known.repair.lustre is not None
    assert known.repair.lustre - known.original.lustre == pytest.approx(kept.stops)
    assert known.delta_e == gap.delta_e
    np.testing.assert_array_equal(passing.body.repair.lab, kept.body.repair.lab)


def test_pictures_that_do_not_belong_together_are_refused() -> None:
    photos = shaken([(0, 0)] * 3)
    small = replace(photos[2], encoded=photos[2].encoded[:-10])
    with pytest.raises(AreaError, match="differ in size"):
        overlay([*photos[:2], small], [ORIGINAL])
    with pytest.raises(AreaError, match="overlap"):
        read_lustre(photos, box_area("cheek", (40, 60, 60, 30)))


def test_decoded_light_undoes_the_whole_calibration() -> None:
    photos = shaken([(0, 0)] * 3)
    plain = calibrated(photos)[0]
    levels = np.repeat(np.linspace(0.0, 1.5, 200)[:, None], 3, axis=1)
    full = replace(
        plain,
        relative_covariance=np.pad(plain.relative_covariance, (0, 6)),
        tone=ToneCurve(
            levels,
            levels ** np.array([1.1, 1.2, 1.3]),
            np.full(len(plain.tone.weights), 0.3),
            np.full(3, 0.2),
            "made",
        ),
        even=EvenLight(
            np.array([30.0, 60.0]), 320.0, np.full((2, 3), 0.2), None, (320, 150), "made"
        ),
    )
    rng = np.random.default_rng(10)
    light, x, y = rng.uniform(0.05, 0.9, (50, 3)), rng.uniform(0, 320, 50), rng.uniform(0, 150, 50)
    for calibration in (plain, full):
        balanced = balanced_light(calibration, light, x, y)
        np.testing.assert_allclose(decoded_light(calibration, balanced, x, y), light, atol=1e-3)
    body, single = (
        lustre_of(overlay([photo] * 3, [ORIGINAL])[0], ORIGINAL, [full] * 3).body.lab
        if several
        else read_area(photo, ORIGINAL, full).lab
        for several in (True, False)
        for photo in photos[:1]
    )
    np.testing.assert_allclose(body, single, atol=0.1)
