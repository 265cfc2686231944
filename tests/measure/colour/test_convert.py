"""XYZ, CIELAB and screen colours against published values."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from tonematch.measure.colour.colour_science import colour
from tonematch.measure.colour.convert import WHITE, lab_to_srgb_hex, lab_to_xyz, xyz_to_lab


def test_white_grey_and_black() -> None:
    # ISO/CIE 11664-4: white is 100, 0, 0; L* = 116 Y^(1/3) - 16, so Y = 0.18 is 49.496.
    np.testing.assert_allclose(xyz_to_lab(WHITE), [100, 0, 0], atol=1e-6)
    np.testing.assert_allclose(xyz_to_lab(0.18 * WHITE), [49.496, 0, 0], atol=5e-4)
    np.testing.assert_allclose(xyz_to_lab(np.zeros(3)), [0, 0, 0], atol=1e-9)
    # Below (6/29)^3 the law is linear, 903.3 Y: L* of Y = 0.001 is 0.9033.
    assert xyz_to_lab(0.001 * WHITE)[0] == pytest.approx(0.9033, abs=1e-4)


def test_worked_example_of_cielab() -> None:
    # By hand from the formula of ISO/CIE 11664-4: ratios to white of 0.216, 0.125 and 0.064
    # have cube roots 0.6, 0.5 and 0.4.
    lab = xyz_to_lab(WHITE * [0.216, 0.125, 0.064])
    np.testing.assert_allclose(lab, [116 * 0.5 - 16, 500 * 0.1, 200 * 0.1], atol=1e-6)


def test_cielab_is_that_of_colour_science() -> None:
    white = WHITE[:2] / WHITE.sum()
    xyz = np.random.default_rng(4).uniform(-0.01, 1.1, (20_000, 3)) ** 3
    lab = colour.XYZ_to_Lab(xyz, white)
    np.testing.assert_allclose(xyz_to_lab(xyz), lab, atol=1e-10, rtol=0)
    np.testing.assert_allclose(lab_to_xyz(lab), colour.Lab_to_XYZ(lab, white), atol=1e-13, rtol=0)


@given(
    st.tuples(st.floats(0, 100), st.floats(-100, 100), st.floats(-100, 100)).map(np.array),
)
def test_there_and_back(lab: np.ndarray) -> None:
    np.testing.assert_allclose(xyz_to_lab(lab_to_xyz(lab)), lab, atol=1e-6)


@pytest.mark.parametrize(
    ("lab", "shown"),
    [
        ((100, 0, 0), "#ffffff"),
        ((0, 0, 0), "#000000"),
        ((53.585, 0, 0), "#808080"),
        # sRGB red under D50 by Bradford, B. Lindbloom's colour calculator, from memory:
        # 54.29, 80.81, 69.89.
        ((54.29, 80.81, 69.89), "#ff0000"),
    ],
)
def test_screen_colours(lab: tuple[float, float, float], shown: str) -> None:
    ours = lab_to_srgb_hex(lab)
    for at in (1, 3, 5):
        assert abs(int(ours[at : at + 2], 16) - int(shown[at : at + 2], 16)) <= 2
