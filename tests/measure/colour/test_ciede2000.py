"""CIEDE2000 against the published pairs, through the whole comparison, and its laws."""

from pathlib import Path

import numpy as np
import pytest
from hypothesis import example, given
from hypothesis import strategies as st
from numpy.typing import NDArray

from tests.measure.colour.test_picture_difference import random_pairs
from tonematch.errors import ValueRefused
from tonematch.measure.area.areas import box_area
from tonematch.measure.colour.colour_science import colour
from tonematch.measure.colour.difference import check_tolerance, delta_e_2000, picture_difference
from tonematch.measure.comparison import compare, lch_difference
from tonematch.measure.core import Reading

TABLE = Path(__file__).parents[2] / "reference" / "ciede2000-34-pairs.csv"
PAIRS = np.loadtxt(TABLE, delimiter=",", skiprows=4)

labs = st.tuples(st.floats(0, 100), st.floats(-100, 100), st.floats(-100, 100)).map(np.array)


def known(lab: NDArray[np.float64], name: str) -> Reading:
    """A reading without any uncertainty."""
    area = box_area(name, (0, 0, 9, 9))
    return Reading(lab, np.zeros((3, 3)), np.zeros((3, 3)), 81, 0, 0.0, 0.0, area, name)


def test_table_is_whole() -> None:
    assert PAIRS.shape == (34, 7)


@pytest.mark.parametrize("pair", PAIRS, ids=[str(k + 1) for k in range(34)])
def test_published_pairs_through_the_comparison(pair: NDArray[np.float64]) -> None:
    # Sharma, Wu and Dalal 2005, table 1, published to four places.
    for one, other in ((pair[:3], pair[3:6]), (pair[3:6], pair[:3])):
        result = compare(known(one, "original"), known(other, "repair"))
        assert result.delta_e == pytest.approx(pair[6], abs=1e-4)
        assert result.interval[0] < result.delta_e < result.interval[1]


def test_published_pairs_as_a_picture() -> None:
    first, second = PAIRS[:, :3].astype(np.float32), PAIRS[:, 3:6].astype(np.float32)
    np.testing.assert_allclose(picture_difference(first, second), PAIRS[:, 6], atol=5e-4)


def test_double_precision_is_that_of_colour_science() -> None:
    one, other = random_pairs(100_000, seed=7)
    expected = colour.delta_E(one, other, method="CIE 2000")
    np.testing.assert_allclose(delta_e_2000(one, other), expected, atol=1e-9, rtol=1e-10)
    many = np.broadcast_to(one[0], other.shape)
    np.testing.assert_array_equal(delta_e_2000(one[0], other), delta_e_2000(many, other))


@example(np.array([0.0, 1.0, -6e-59]), np.array([0.0, -1.0, 0.0]))  # opposite hues
@given(one=labs, other=labs)
def test_symmetry_and_identity(one: NDArray[np.float64], other: NDArray[np.float64]) -> None:
    (a1, b1), (a2, b2) = one[1:], other[1:]
    # Where hues are opposite to within rounding the formula jumps, and either side is right.
    if a1 * a2 + b1 * b2 >= 0 or abs(a1 * b2 - b1 * a2) > 1e-9 * np.hypot(a1, b1) * np.hypot(
        a2, b2
    ):
        back = float(delta_e_2000(other, one))
        assert delta_e_2000(one, other) == pytest.approx(back, abs=1e-9)
    assert delta_e_2000(one, one) == pytest.approx(0.0, abs=1e-9)
    assert delta_e_2000(one, other) >= 0


@example(np.zeros(3), np.array([0.0, -0.0, -0.0]))  # greys
@given(one=labs, other=labs)
def test_parts_of_the_difference_make_up_the_whole(
    one: NDArray[np.float64], other: NDArray[np.float64]
) -> None:
    # ISO/CIE 11664-4: dE*ab squared is dL* squared + dC* squared + dH* squared.
    delta_L, delta_C, delta_h, delta_H = lch_difference(one, other)
    whole = float(np.sum((one - other) ** 2))
    assert delta_L**2 + delta_C**2 + delta_H**2 == pytest.approx(whole, rel=1e-6, abs=1e-6)
    assert -180 <= delta_h <= 180
    assert np.sign(delta_h) == np.sign(delta_H)


@pytest.mark.parametrize("tolerance", [float("nan"), float("inf"), -float("inf"), 0.0, -1.0])
def test_tolerance_that_cannot_be_used(tolerance: float) -> None:
    with pytest.raises(ValueRefused, match="tolerance"):
        check_tolerance(tolerance)
    with pytest.raises(ValueRefused, match="tolerance"):
        compare(known(PAIRS[0, :3], "a"), known(PAIRS[0, 3:6], "b"), tolerance)


def test_tolerance_that_can() -> None:
    assert check_tolerance(2) == 2.0
