"""What one layer does: the film law's fifteen numbers, one at a time."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.typing import NDArray

from tonematch.toning.core import Application, Finish, Layer, Surface, Technique
from tonematch.toning.optics import film
from tonematch.toning.optics.film import PARAMETERS, Laid, amount, lay
from tonematch.toning.optics.kubelka_munk import bands_to_lab, kubelka_munk, lab_to_bands

Array = NDArray[np.float64]

GOLD = np.array([90.87, 7.87, 34.82])  # Johnson and Christy 1972, CIELAB D50, 2 degree
K, S = np.array([0.2, 0.4, 0.7]), np.array([0.05, 0.08, 0.1])


def theta_of(**numbers: float | Array) -> Array:
    """An even film of K and S everywhere, with some of the fifteen numbers changed."""
    theta = np.zeros(PARAMETERS)
    theta[film.LN_K], theta[film.LN_S] = np.log(K), np.log(S)
    theta[film.LOGIT_PHI] = -30.0
    for name, value in numbers.items():
        theta[getattr(film, name)] = value
    return theta


def laid(
    strength: float,
    coats: int = 1,
    technique: Technique = "unknown",
    finish: Finish = "unknown",
    before: Array = GOLD,
) -> Laid:
    return Laid.of([Application(before, "coat", "glaze", strength, coats, technique, finish)])


@pytest.mark.parametrize(("strength", "coats"), [(0.25, 1), (1.0, 1), (0.5, 2), (1.0, 3)])
def test_even_film_is_kubelka_munk_of_strength_times_coats(strength: float, coats: int) -> None:
    bands = kubelka_munk(lab_to_bands(GOLD), K, S, np.array(strength * coats))
    np.testing.assert_allclose(
        lay(theta_of(), laid(strength, coats))[0], bands_to_lab(bands), atol=1e-6
    )


def test_strength_curve_bends_between_none_and_full() -> None:
    bent = theta_of(LN_GAMMA=np.log(2.0))
    assert amount(bent, laid(0.5))[0] == pytest.approx(0.25)
    # Two coats are twice the dose: what bends the strengths bends them too.
    assert amount(bent, laid(1.0, 2))[0] == pytest.approx(4.0)
    assert amount(theta_of(LN_GAMMA=np.log(0.5)), laid(1.0, 2))[0] == pytest.approx(np.sqrt(2.0))


def test_matte_and_oil_take_more_or_less() -> None:
    theta = theta_of(TECHNIQUE=0.2, FINISH=-0.1)
    ratio = amount(theta, laid(1, 1, "water"))[0] / amount(theta, laid(1, 1, "oil"))[0]
    assert ratio == pytest.approx(np.exp(0.2))
    unknown, burnished = amount(theta, laid(1)), amount(theta, laid(1, finish="burnished"))
    assert burnished[0] / unknown[0] == pytest.approx(np.exp(-0.05))


def test_specks_cover_a_part_with_full_thickness() -> None:
    # Murray and Davies 1936: a quarter of the area under a film of full thickness.
    specks = theta_of(LOGIT_PHI=30.0, LN_SPREADING=-30.0)
    ground = lab_to_bands(GOLD)
    full = kubelka_munk(ground, K, S, np.array(1.0))
    np.testing.assert_allclose(
        lay(specks, laid(0.25))[0], bands_to_lab(0.75 * ground + 0.25 * full), atol=1e-6
    )


def test_rub_shows_bole_on_the_part_worn_through() -> None:
    bole = np.array([0.12, 0.05, 0.03])
    S_bole = np.full(3, 6.0)
    rub = theta_of(
        LN_K=np.log(S_bole * (1.0 - bole) ** 2 / (2.0 * bole)),
        LN_S=np.log(S_bole),
        LOGIT_PHI=30.0,
        LN_SPREADING=-30.0,
        LN_REACH=np.log(0.2),
    )
    ground = lab_to_bands(GOLD)
    mixed = 0.9 * ground + 0.1 * bole
    np.testing.assert_allclose(lay(rub, laid(0.5))[0], bands_to_lab(mixed), atol=1e-3)
    # A second full pass wears through a fifth of the leaf that the first one left.
    mixed = 0.64 * ground + 0.36 * bole
    np.testing.assert_allclose(lay(rub, laid(1.0, 2))[0], bands_to_lab(mixed), atol=1e-3)


@given(
    theta=st.lists(st.floats(-2.0, 2.0), min_size=PARAMETERS, max_size=PARAMETERS),
    strength=st.floats(0.01, 2.0),
    coats=st.integers(1, 4),
)
def test_every_layer_gives_a_colour(theta: list[float], strength: float, coats: int) -> None:
    after = lay(np.array(theta), laid(strength, coats, "water", "matte"))
    assert np.isfinite(after).all()
    assert -1e-6 <= after[0, 0] <= 100.0 + 1e-6


@given(strength=st.floats(0.05, 1.0), more=st.floats(0.0, 1.0))
def test_more_of_an_absorbing_film_is_never_lighter(strength: float, more: float) -> None:
    theta = theta_of(LN_S=np.full(3, -8.0))
    before = np.array([90.0, 6.0, 33.0])
    less, thicker = laid(strength, before=before), laid(strength + more, before=before)
    assert lay(theta, thicker)[0, 0] <= lay(theta, less)[0, 0] + 1e-9


def test_many_thetas_at_once_agree_with_one_by_one() -> None:
    rng = np.random.default_rng(1)
    thetas = rng.normal(0.0, 0.5, (4, PARAMETERS))
    rows = Laid.of(
        [Application(GOLD, "coat", "glaze", s, 1, "oil", "matte") for s in (0.25, 0.5, 1.0)]
    )
    together = lay(thetas, rows)
    assert together.shape == (4, 3, 3)
    np.testing.assert_allclose(together, [lay(theta, rows) for theta in thetas], atol=1e-12)


def test_hand_scales_the_amount() -> None:
    twice = lay(theta_of(), laid(0.5), np.log(2.0))
    np.testing.assert_allclose(twice, lay(theta_of(), laid(1.0)), atol=1e-12)


CLEAR = {"LN_K": np.full(3, -9.0), "LN_S": np.full(3, -9.0)}


def test_a_coat_deepens_gold_and_not_what_a_film_has_deepened_already() -> None:
    """Of nothing but its own surface: over another film that surface only takes its place."""
    theta = theta_of(**CLEAR, INNER=0.2, UNDONE=0.2)
    bare = Laid.on(GOLD, 1.0, 1.0, Surface())
    over = replace(bare, skin=np.array([[0.0, 1.0]]))
    assert lay(theta, bare)[0, 0] < GOLD[0] - 1.0
    np.testing.assert_allclose(lay(theta, over)[0], GOLD, atol=0.3)


def test_what_a_coat_turns_back_inside_is_the_sum_of_its_passes() -> None:
    # Saunderson 1942, with nothing turned back outside: (1 - k) R (1 + kR + (kR)^2 + ...).
    ground, k = lab_to_bands(GOLD), 0.2
    series = sum((k * ground) ** time for time in range(60))
    seen = lay(theta_of(**CLEAR, INNER=k), laid(8.0))[0]
    np.testing.assert_allclose(lab_to_bands(seen), (1.0 - k) * ground * series, atol=2e-3)


def test_a_coat_over_a_film_that_deepened_more_than_it_does_makes_it_lighter() -> None:
    """What the film beneath had turned back is its own: on gold that number changes nothing."""
    alike, deep = theta_of(**CLEAR, INNER=0.1, UNDONE=0.1), theta_of(**CLEAR, INNER=0.1, UNDONE=0.3)
    bare = Laid.on(GOLD, 1.0, 1.0, Surface())
    over = replace(bare, skin=np.array([[0.0, 1.0]]))
    np.testing.assert_array_equal(lay(alike, bare), lay(deep, bare))
    assert lay(deep, over)[0, 0] > lay(alike, over)[0, 0] + 1.0


def test_a_coat_fills_the_tooth_of_a_matte_layer() -> None:
    theta = theta_of(**CLEAR, WHITE=0.03)
    seal, wash = Layer("seal", "seal"), Layer("wash", "wash")
    on_film, on_matte = (
        lay(theta, Laid.on(GOLD, 1.0, 1.0, Surface(beneath=(layer,))))[0] for layer in (seal, wash)
    )
    np.testing.assert_allclose(on_film, GOLD, atol=0.3)
    assert on_matte[0] < GOLD[0] - 0.2
    assert np.hypot(*on_matte[1:]) > np.hypot(*GOLD[1:]) + 0.5
