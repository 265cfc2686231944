"""Bole under sound leaf, and under leaf that is worn through: what can be seen of it.

Q. Wu et al. (2020, Heritage Science 8, 119, part I) measured that the colour of the ground cannot
be perceived through leaf of at least 100 nm. Here it is reckoned: light through and off a film of
gold by colour-science's transfer matrix (Byrnes 2016) on the optical constants of Johnson and
Christy 1972, the ground beneath as a diffuser (Kubelka 1948: what comes back through the film).
Perceptible is 0.8 CIEDE2000 (Paravina et al. 2015, half of the observers).
"""

import csv
from functools import cache
from itertools import combinations

import numpy as np
import pytest
from scipy.optimize import brentq

from tests.demonstration.spectra import (
    METALS,
    WAVELENGTHS,
    Array,
    bole_reflectance,
    delta_e_2000,
    gold_reflectance,
    lab_d50,
)
from tonematch.measure.colour.colour_science import colour
from tonematch.toning.layers.shelf import load_boles
from tonematch.toning.planning.leaf import WEARS, worn

SEEN = 0.8
# Red and yellow clay, and white gesso; between leaf and ground is air, or glue (n = 1.5, a choice).
GROUNDS = (bole_reflectance("red"), bole_reflectance("yellow"), np.full(36, 0.85))
BETWEEN = (1.0, 1.5)
# Of the light of the mirror direction: all, what leaf sends beside it (leaves.toml), and a
# twentieth, as a burnish far beside it may. The ground is diffuse and sends alike everywhere.
SHARES = (1.0, 0.6, 0.05)


@cache
def gold() -> Array:
    """Complex refractive index, shape (36,)."""
    with METALS.open(encoding="utf-8", newline="") as file:
        rows = [row for row in csv.DictReader(file) if row["metal"] == "gold"]
    return np.array([complex(float(row["n"]), float(row["k"])) for row in rows])


def film(nm: float, above: float, below: float) -> tuple[Array, Array]:
    """Reflectance and transmittance of a film of gold at normal incidence, shape (36,) each."""
    stack = np.array([np.full(36, above), gold(), np.full(36, below)])
    R, T = colour.phenomena.multilayer_tmm(n=stack, t=[nm], wavelength=WAVELENGTHS)
    first = np.asarray(R, dtype=np.float64), np.asarray(T, dtype=np.float64)
    sent, through = (both_polarisations.reshape(36, 2)[:, 0] for both_polarisations in first)
    return sent, through


def apart(nm: float, between: float, share: float) -> float:
    """Greatest CIEDE2000 between leaf of one thickness over two of the grounds."""
    sent, through = film(nm, 1.0, between)
    turned_back, out = film(nm, between, 1.0)
    seen = [
        lab_d50(share * sent + through * out * ground / (1.0 - turned_back * ground))
        for ground in GROUNDS
    ]
    return max(float(delta_e_2000(one, other)) for one, other in combinations(seen, 2))


def shows_below(between: float, share: float) -> float:
    """Thickness in nm below which the ground is seen through the leaf."""
    return float(brentq(lambda nm: apart(nm, between, share) - SEEN, 10.0, 200.0))


def most_apart(wear: float) -> float:
    """The same for the tool: greatest CIEDE2000 of its gold worn to this and that bole."""
    leaf = np.array([74.2, 6.2, 28.6])  # as it reads beside the mirror direction, grounds.toml
    seen = [worn(leaf, bole, wear) for bole in load_boles().values()]
    return max(float(delta_e_2000(one, other)) for one, other in combinations(seen, 2))


def test_a_thick_film_is_the_metal_and_none_is_nothing() -> None:
    np.testing.assert_allclose(film(2000.0, 1.0, 1.5)[0], gold_reflectance(), atol=1e-9)
    R, T = film(1e-6, 1.0, 1.5)
    np.testing.assert_allclose(R, 0.04, atol=1e-4)  # Fresnel: ((1.5 - 1) / (1.5 + 1))^2
    np.testing.assert_allclose(R + T, 1.0, atol=1e-4)


def test_thin_gold_lets_green_light_through() -> None:
    """Held against a window leaf is green to blue: common practice, no source."""
    _, T = film(100.0, 1.0, 1.0)
    assert 480.0 <= WAVELENGTHS[np.argmax(T)] <= 540.0
    assert T.max() < 0.02


@pytest.mark.parametrize("share", SHARES)
@pytest.mark.parametrize("between", BETWEEN)
def test_no_ground_is_seen_through_leaf_of_100_nm(between: float, share: float) -> None:
    """Wu et al. 2020; and of the 138 nm that medieval leaf most often has (part II)."""
    assert apart(100.0, between, share) < SEEN / 5.0
    assert apart(138.0, between, share) < SEEN / 100.0


@pytest.mark.parametrize("between", BETWEEN)
def test_ground_starts_to_show_below_some_60_nm(between: float) -> None:
    """As boles.toml and `worn` say."""
    mirror, beside, far_beside = (shows_below(between, share) for share in SHARES)
    assert 50.0 < mirror < beside < 60.0
    assert 75.0 < far_beside < 80.0


def test_the_tool_shows_bole_by_the_part_worn_through_alone() -> None:
    assert most_apart(0.0) == pytest.approx(0.0, abs=1e-6)
    # The least wear that is proposed shows which bole it is, as leaf of under 50 nm would.
    least = min(wear for wear in WEARS if wear > 0.0)
    assert most_apart(least) > SEEN
    assert most_apart(least) > 100.0 * apart(100.0, 1.5, 0.6)
    assert brentq(lambda wear: most_apart(wear) - SEEN, 0.001, 0.5) == pytest.approx(
        0.02, abs=0.002
    )
