"""The function for whole pictures, against colour-science."""

import colour
import numpy as np
import pytest

from tonematch.measure.colour.difference import picture_difference


def random_pairs(count: int, seed: int) -> tuple[np.ndarray, np.ndarray]:
    """Random colours with differences from hardly any to across the whole space."""
    random = np.random.default_rng(seed)
    one = np.column_stack([random.uniform(0, 100, count), random.uniform(-100, 100, (count, 2))])
    step = random.choice([0.05, 1.0, 5.0, 60.0], (count, 1))
    other = one + random.normal(0, 1, one.shape) * step
    return one, np.asarray(other)


def pairs(count: int, seed: int) -> tuple[np.ndarray, np.ndarray]:
    """The same in single precision."""
    one, other = random_pairs(count, seed)
    return one.astype(np.float32), other.astype(np.float32)


def nearly_opposite(one: np.ndarray, other: np.ndarray) -> np.ndarray:
    """Where the mean hue jumps (Sharma et al. 2005, section on discontinuities)."""
    hues = np.degrees(np.arctan2(one[:, 2], one[:, 1]) - np.arctan2(other[:, 2], other[:, 1]))
    return np.asarray(np.abs(np.abs((hues + 180) % 360 - 180) - 180) < 1.0)


def test_within_the_promised_error() -> None:
    one, other = pairs(300_000, seed=11)
    plain = ~nearly_opposite(one, other)
    assert plain.mean() > 0.98
    expected = colour.delta_E(one.astype(float), other.astype(float), method="CIE 2000")
    error = np.abs(picture_difference(one, other) - expected)[plain]
    assert error.max() < 0.005


@pytest.mark.parametrize("factors", [(2.0, 1.0, 1.0), (1.0, 1.5, 2.5)])
def test_parametric_factors(factors: tuple[float, float, float]) -> None:
    # kL = 2 against colour-science's textile setting; the others by scaling single parts:
    # along one axis through a grey, only that axis's factor acts.
    kL, kC, kH = factors
    one, other = pairs(1000, seed=12)
    if factors == (2.0, 1.0, 1.0):
        plain = ~nearly_opposite(one, other)
        expected = colour.difference.delta_E_CIE2000(
            one.astype(float), other.astype(float), textiles=True
        )
        np.testing.assert_allclose(
            picture_difference(one, other, kL=2.0)[plain], expected[plain], atol=0.005
        )
    light = np.array([[40, 20, 20], [46, 20, 20]], dtype=np.float32)
    clean = np.array([[40, 12, 16], [40, 15, 20]], dtype=np.float32)
    hue = np.array([[40, 20, 0], [40, 0, 20]], dtype=np.float32)
    for (a, b), k in ((light, kL), (clean, kC)):
        once = picture_difference(a, b)
        assert picture_difference(a, b, kL, kC, kH) == pytest.approx(once / k, rel=0.02)
    assert picture_difference(hue[0], hue[1], kH=2.0) < picture_difference(hue[0], hue[1])


def test_single_colour_against_a_picture_and_shape() -> None:
    picture, _ = pairs(40_000, seed=13)
    picture = picture.reshape(200, 200, 3)
    single = np.array([60.0, 8.0, 30.0], dtype=np.float32)
    out = picture_difference(single, picture)
    assert out.shape == (200, 200)
    assert out.dtype == np.float32
    np.testing.assert_array_equal(out, picture_difference(picture, single))
    np.testing.assert_allclose(
        out, picture_difference(np.broadcast_to(single, picture.shape), picture), atol=1e-5
    )


def test_greys_and_equal_colours() -> None:
    grey = np.array([[50, 0, 0], [0, 0, 0], [100, 0, 0]], dtype=np.float32)
    assert (picture_difference(grey, grey) == 0).all()
    tinted = grey + np.array([0, 3, 4], dtype=np.float32)
    expected = colour.delta_E(grey.astype(float), tinted.astype(float), method="CIE 2000")
    np.testing.assert_allclose(picture_difference(grey, tinted), expected, atol=1e-3)
