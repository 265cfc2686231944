"""Films and bands: against the differential equation, published limits and colour-science.

No package in the registry's ordinary colour libraries carries the hyperbolic Kubelka-Munk solution
(colour-science has none), so the reference is the two-flux equation itself, integrated by SciPy.
"""

import warnings

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.typing import NDArray
from scipy.integrate import solve_ivp

from tonematch.measure.colour.convert import lab_to_xyz
from tonematch.photo.profile import ROMM_TO_XYZ
from tonematch.toning.optics.kubelka_munk import (
    DARKEST,
    LIGHTEST,
    absorption_for,
    bands_to_lab,
    kubelka_munk,
    lab_to_bands,
    mix_by_area,
)

with warnings.catch_warnings():
    warnings.filterwarnings("ignore", message=".*Matplotlib.*")
    import colour

Array = NDArray[np.float64]

GOLD = np.array([90.87, 7.87, 34.82])  # Johnson and Christy 1972, CIELAB D50, 2 degree

coefficient = st.floats(0.001, 5.0)
thickness = st.floats(0.0, 3.0)
ground = st.floats(0.0, 1.0)


def opaque_reflectance(absorption: float, scattering: float) -> float:
    """Of a film so thick that nothing beneath it shows: Kubelka and Munk 1931."""
    ratio = absorption / scattering
    return float(1.0 + ratio - np.sqrt(ratio * (ratio + 2.0)))


def film(Rg: float, K: float, S: float, X: float) -> float:
    """One film in one band."""
    return float(kubelka_munk(np.array(Rg), np.array(K), np.array(S), np.array(X)))


def transmittance(K: float, S: float, X: float) -> float:
    """Kubelka 1948, equation for T: b / (a sinh bSX + b cosh bSX)."""
    a = 1.0 + K / S
    b = np.sqrt(a * a - 1.0)
    return float(b / (a * np.sinh(b * S * X) + b * np.cosh(b * S * X)))


@pytest.mark.parametrize("K", [0.0, 0.02, 0.5, 4.0])
@pytest.mark.parametrize("S", [0.0, 0.01, 0.3, 2.0])
@pytest.mark.parametrize("X", [0.05, 1.0, 2.5])
@pytest.mark.parametrize("Rg", [0.0, 0.35, 0.92])
def test_film_solves_the_two_flux_equation(K: float, S: float, X: float, Rg: float) -> None:
    # Kubelka and Munk 1931: dR/dX = S - 2 (K + S) R + S R^2, R(0) = Rg.
    def slope(_: float, R: Array) -> Array:
        return np.asarray(S - 2.0 * (K + S) * R + S * R**2)

    solved = solve_ivp(slope, (0.0, X), [Rg], method="LSODA", rtol=1e-10, atol=1e-12)
    assert film(Rg, K, S, X) == pytest.approx(float(solved.y[0, -1]), abs=1e-7)


# Reference values of another implementation (T. Lindemeier, painty, kubelka_munk_test.cpp, 2020, on
# GitHub): a coat of thickness 0.5 with its K and S over its ground.
@pytest.mark.parametrize(
    ("K", "S", "Rg", "R"),
    [
        (0.2, 0.124, 0.65, 0.541596),
        (0.1, 0.658, 0.2, 0.343822),
        (0.22, 0.123, 0.2146, 0.206651),
        (0.2, 0.0, 0.65, 0.53217499727638173),
    ],
)
def test_film_agrees_with_published_values(K: float, S: float, Rg: float, R: float) -> None:
    assert film(Rg, K, S, 0.5) == pytest.approx(R, abs=1e-6)


# K/S of an opaque film against its reflectance (Kubelka and Munk 1931: K/S = (1 - R)^2 / 2R);
# 0.5 and 0.2 are the textbook cases, worked by hand: 0.25/1 and 0.64/0.4.
@pytest.mark.parametrize(("R", "ratio"), [(0.5, 0.25), (0.2, 1.6), (0.1, 4.05), (0.8, 0.025)])
def test_opaque_film_shows_its_own_reflectance(R: float, ratio: float) -> None:
    assert float(absorption_for(np.array(R), np.array(3.0))) == pytest.approx(3.0 * ratio)
    assert opaque_reflectance(ratio, 1.0) == pytest.approx(R)
    for Rg in (0.0, 0.4, 1.0):
        assert film(Rg, 3.0 * ratio, 3.0, 60.0) == pytest.approx(R, abs=1e-6)


@given(Rg=ground, K=st.floats(0.0, 5.0), X=thickness)
def test_without_scattering_light_is_absorbed_twice(Rg: float, K: float, X: float) -> None:
    # Beer and Lambert, there and back.
    assert film(Rg, K, 0.0, X) == pytest.approx(Rg * np.exp(-2.0 * K * X), abs=1e-7)


@given(S=coefficient, X=thickness)
def test_without_absorption_black_ground_shows_sx(S: float, X: float) -> None:
    # Kubelka 1948, limit K = 0: R0 = SX / (SX + 1).
    assert film(0.0, 0.0, S, X) == pytest.approx(S * X / (S * X + 1.0), abs=1e-4)


@given(Rg=ground, K=coefficient, S=coefficient)
def test_no_thickness_leaves_the_ground(Rg: float, K: float, S: float) -> None:
    assert film(Rg, K, S, 0.0) == pytest.approx(Rg, abs=1e-9)


@given(Rg=st.floats(0.0, 0.99), K=coefficient, S=coefficient, X=thickness)
def test_ground_shows_through_by_transmittance(Rg: float, K: float, S: float, X: float) -> None:
    # Kubelka 1948, after Stokes 1862: R = R0 + T^2 Rg / (1 - R0 Rg).
    R0, T = film(0.0, K, S, X), transmittance(K, S, X)
    assert film(Rg, K, S, X) == pytest.approx(R0 + T**2 * Rg / (1.0 - R0 * Rg), abs=1e-7)


@given(R0=st.floats(0.01, 0.6), K=coefficient, S=coefficient, X=st.floats(0.1, 2.0))
def test_black_and_white_ground_give_the_opaque_reflectance(
    R0: float, K: float, S: float, X: float
) -> None:
    # Kubelka 1948: a = (R + (R0 - R + Rg) / (R0 Rg)) / 2 for any ground Rg, R_inf = a - b.
    Rg = R0 + 0.3
    black, on_ground = film(0.0, K, S, X), film(Rg, K, S, X)
    a = (on_ground + (black - on_ground + Rg) / (black * Rg)) / 2.0
    expected = 1.0 / opaque_reflectance(K, S)
    assert a + np.sqrt(a * a - 1.0) == pytest.approx(expected, rel=1e-3)


@given(Rg=ground, K=coefficient, S=coefficient, X=thickness, Y=thickness)
def test_two_coats_are_one_of_the_summed_thickness(
    Rg: float, K: float, S: float, X: float, Y: float
) -> None:
    assert film(film(Rg, K, S, X), K, S, Y) == pytest.approx(film(Rg, K, S, X + Y), abs=1e-7)


@given(Rg=ground, K=st.floats(0.0, 5.0), S=st.floats(0.0, 5.0), X=thickness, more=thickness)
def test_film_stays_within_and_draws_to_its_own_reflectance(
    Rg: float, K: float, S: float, X: float, more: float
) -> None:
    R, thicker = film(Rg, K, S, X), film(Rg, K, S, X + more)
    assert -1e-9 <= thicker <= 1.0 + 1e-9
    opaque = opaque_reflectance(K, S) if S > 1e-3 else 0.0
    if opaque <= Rg - 1e-3:
        assert thicker <= R + 1e-7
    elif opaque >= Rg + 1e-3:
        assert thicker >= R - 1e-7


@given(Rg=ground, K=coefficient, S=coefficient, X=thickness, more=st.floats(0.0, 3.0))
def test_more_absorption_is_never_lighter(
    Rg: float, K: float, S: float, X: float, more: float
) -> None:
    assert film(Rg, K + more, S, X) <= film(Rg, K, S, X) + 1e-9


def mixed(Rg: float, R: float, area: float, n: float) -> float:
    """A covered part in one band."""
    return float(mix_by_area(np.array(Rg), np.array(R), np.array(area), np.array(n)))


def test_half_covered_by_density_one_has_density_026() -> None:
    # Murray and Davies 1936: a tint of density 0.26 of a solid of 1.0 covers half; the printer's
    # textbook case, from memory: (1 - 10^-0.26) / (1 - 10^-1.0) = 0.50.
    assert -np.log10(mixed(1.0, 0.1, 0.5, 1.0)) == pytest.approx(0.26, abs=0.002)


def test_spreading_light_darkens_a_tint() -> None:
    # Yule and Nielsen 1951, n = 2, worked by hand: ((1 + sqrt(0.1)) / 2)^2 = 0.43311.
    assert mixed(1.0, 0.1, 0.5, 2.0) == pytest.approx(0.43311, abs=1e-5)
    # Without end density goes with area: the geometric mean.
    assert mixed(1.0, 0.1, 0.5, 1e6) == pytest.approx(np.sqrt(0.1), abs=1e-4)


@given(
    Rg=st.floats(DARKEST, LIGHTEST),
    R=st.floats(DARKEST, LIGHTEST),
    area=st.floats(0.0, 1.0),
    n=st.floats(1.0, 20.0),
)
def test_mixture_lies_between_its_parts(Rg: float, R: float, area: float, n: float) -> None:
    seen = mixed(Rg, R, area, n)
    assert min(Rg, R) - 1e-9 <= seen <= max(Rg, R) + 1e-9
    assert mixed(Rg, R, 0.0, n) == pytest.approx(Rg)
    assert mixed(Rg, R, 1.0, n) == pytest.approx(R)
    assert seen <= mixed(Rg, R, area, 1.0) + 1e-9


def test_bands_are_linear_romm_rgb() -> None:
    # ISO 22028-2 as published by Spaulding, Woolfe and Giorgianni 2000, four digits.
    published = [[0.7977, 0.1352, 0.0313], [0.2880, 0.7119, 0.0001], [0.0, 0.0, 0.8249]]
    np.testing.assert_allclose(ROMM_TO_XYZ, published, atol=2e-4)


@pytest.mark.parametrize("lab", [[100, 0, 0], [50, 0, 0], GOLD, [40, 18, 30], [65, -5, 12]])
def test_bands_agree_with_colour_science(lab: list[float]) -> None:
    white = colour.CCS_ILLUMINANTS["CIE 1931 2 Degree Standard Observer"]["D50"]
    reference = colour.XYZ_to_RGB(
        colour.Lab_to_XYZ(np.array(lab, dtype=float), white), "ROMM RGB", white
    )
    expected = np.clip(reference, DARKEST, LIGHTEST)
    np.testing.assert_allclose(lab_to_bands(np.array(lab, dtype=float)), expected, atol=4e-4)


@given(
    L=st.floats(15.0, 95.0), a=st.floats(-15.0, 30.0), b=st.floats(-10.0, 45.0)
)  # what gilding and its coats read
def test_bands_and_back(L: float, a: float, b: float) -> None:
    lab = np.array([L, a, b])
    bands = lab_to_bands(lab)
    if np.all((bands > DARKEST) & (bands < LIGHTEST)):
        np.testing.assert_allclose(bands_to_lab(bands), lab, atol=1e-6)


def test_white_has_the_same_reflectance_in_every_band() -> None:
    white = np.linalg.solve(ROMM_TO_XYZ, lab_to_xyz(np.array([100.0, 0.0, 0.0])))
    np.testing.assert_allclose(white, 1.0, atol=1e-9)
