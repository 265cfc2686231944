"""S-CIELAB: what the eye still sees from a distance."""

import math
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.typing import NDArray

from tests.cases import in_ci
from tests.measure.mottled import as_picture, mottled
from tonematch.errors import ValueRefused
from tonematch.measure.appearance.area_picture import AreaPicture
from tonematch.measure.appearance.evenness import compare_evenness
from tonematch.measure.appearance.viewing import compare_seen, pixels_per_degree, seen_from
from tonematch.measure.colour.convert import WHITE, lab_to_xyz

# Zhang and Wandell (1996), table 1: weights and spreads in degrees of exp(-(x^2 + y^2) / s^2),
# luminance, red-green, blue-yellow; and the opponent space of Poirson and Wandell (1993).
PUBLISHED = (
    ((0.921, 0.0283), (0.105, 0.133), (-0.108, 4.336)),
    ((0.531, 0.0392), (0.330, 0.494)),
    ((0.488, 0.0536), (0.371, 0.386)),
)
OPPONENT = np.array([[0.279, 0.720, -0.107], [-0.449, 0.290, -0.077], [0.086, -0.590, 0.501]])


def grating(channel: int, period: float, size: int = 600) -> NDArray[np.float64]:
    """XYZ of a grating of 10 % along one opponent channel; period in pixels."""
    middle = OPPONENT @ (0.4 * WHITE)
    wave = 0.04 * np.sin(2 * np.pi * (np.arange(size) + 0.5) / period)
    opponent = np.broadcast_to(middle, (size, size, 3)).copy()
    opponent[..., channel] += wave
    return np.asarray(opponent @ np.linalg.inv(OPPONENT).T)


def picture(xyz: NDArray[np.float64], mm: float) -> AreaPicture:
    used = np.ones(xyz.shape[:2], dtype=bool)
    return AreaPicture(xyz.astype(np.float32), used, mm, 1.0, "grating")


@pytest.mark.parametrize("channel", [0, 1, 2])
@pytest.mark.parametrize("cycles", [5.0, in_ci(2.0), in_ci(9.0)])
def test_gratings_fade_by_the_published_filters(channel: int, cycles: float) -> None:
    # The Fourier transform of a Gaussian of unit volume exp(-r^2 / s^2) is exp(-(pi s f)^2).
    per_degree = 50.0
    mm = 2 * 700.0 * math.tan(math.radians(0.5)) / per_degree
    assert pixels_per_degree(mm, 0.7) == pytest.approx(per_degree)
    xyz = grating(channel, per_degree / cycles)
    seen = seen_from(picture(xyz, mm), 0.7)
    inner = np.s_[250:350, 200:400]
    before, after = ((values[inner] @ OPPONENT.T)[..., channel] for values in (xyz, seen.xyz))
    weights = sum(weight for weight, _ in PUBLISHED[channel])
    expected = sum(w * math.exp(-((math.pi * s * cycles) ** 2)) for w, s in PUBLISHED[channel])
    assert after.std() / before.std() == pytest.approx(expected / weights, abs=0.02)
    others = np.delete(np.arange(3), channel)
    assert (seen.xyz[inner] @ OPPONENT.T)[..., others].std(axis=(0, 1)).max() < 1e-4


@given(
    st.tuples(st.floats(20, 90), st.floats(-10, 20), st.floats(-10, 50)),
    st.floats(0.3, 20.0),
    st.floats(0.05, 2.0),
)
def test_plain_area_looks_the_same_from_anywhere(
    lab: tuple[float, float, float], metres: float, mm: float
) -> None:
    plain = np.broadcast_to(lab, (40, 50, 3))
    whole = as_picture(plain, mm)
    whole.used[:10, :10] = False
    seen = seen_from(whole, metres)
    np.testing.assert_allclose(seen.lab()[seen.used], np.tile(lab, (seen.used.sum(), 1)), atol=0.05)


def test_mottling_melts_with_distance() -> None:
    rng = np.random.default_rng(31)
    whole = as_picture(mottled(rng, 2.5, 3.0, shape=(200, 200), grain=0.0), 0.2)
    spreads = [
        (seen.lab()[seen.used]).std(axis=0)
        for seen in (seen_from(whole, metres) for metres in (0.5, 2.0, 4.0, 10.0))
    ]
    assert all((near > far).all() for near, far in pairwise(spreads))


def test_what_is_left_out_does_not_bleed_in() -> None:
    whole = as_picture(np.broadcast_to((60.0, 8.0, 30.0), (60, 60, 3)), 0.3)
    whole.xyz[20:30, 20:30] = lab_to_xyz([95.0, 0.0, 0.0])
    whole.used[20:30, 20:30] = False
    seen = seen_from(whole, 3.0)
    np.testing.assert_allclose(seen.lab()[seen.used].std(axis=0), 0, atol=0.05)


@pytest.mark.proof
def test_repair_that_passes_from_the_room_may_fail_from_the_arm() -> None:
    rng = np.random.default_rng(32)
    one, other = (as_picture(mottled(rng, s, 2.0, shape=(150, 150)), 0.2) for s in (1.4, 0.4))
    near = compare_evenness(one, other)
    assert near.verdict == "too even"
    arm, room = (compare_seen(one, other, near, metres, 2.0) for metres in (0.7, 3.0))
    assert (arm.evenness, arm.as_one) == ("too even", False)
    assert (room.evenness, room.as_one) == ("alike", True)
    assert "From 3 m the repair is one with the original" in room.words
    darker = as_picture(mottled(rng, 1.4, 2.0, mean=(55, 8, 30), shape=(150, 150)), 0.2)
    far = compare_seen(one, darker, compare_evenness(one, darker), 3.0, 2.0)
    assert far.delta_e == pytest.approx(4.6, abs=0.5)
    assert not far.as_one


def test_distances_beyond_any_room_are_refused() -> None:
    for metres in (0.0, -1.0, math.nan, math.inf):
        with pytest.raises(ValueRefused, match="viewing distance"):
            pixels_per_degree(0.2, metres)
