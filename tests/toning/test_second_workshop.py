"""The second simulator's physics, held against the laws that it names, and that it is other."""

from dataclasses import replace

import numpy as np
import pytest

from tests.toning.second_workshop import (
    Film,
    SecondWorkshop,
    Surface,
    area,
    lay,
    second_workshop,
    thickness,
)
from tests.toning.simulated import make_with_truth
from tests.toning.simulator import workshop as first_workshop
from tonematch.measure.colour.difference import delta_e_2000
from tonematch.toning.core import SHELF_KINDS
from tonematch.toning.layers.shelf import load_shelf
from tonematch.toning.layers.taking_back import TAKEN_BACK

WORKSHOPS = range(6)
BLACK = Film("dust", np.full(36, 9.0), np.full(36, 0.01), np.inf, np.zeros(3), specks=1.0)


def leaf_of(workshop: SecondWorkshop) -> Surface:
    return workshop.new_surface(np.random.default_rng(0))


def named(workshop: SecondWorkshop, *kinds: str) -> list[str]:
    return [name for name, layer in workshop.layers.items() if layer.kind in kinds]


@pytest.mark.parametrize("seed", WORKSHOPS)
def test_every_workshop_has_layers_of_its_own_and_none_is_on_the_shelf(seed: int) -> None:
    one = second_workshop(seed)
    assert 10 <= len(one.layers) <= 12
    assert {layer.kind for layer in one.layers.values()} == set(SHELF_KINDS)
    assert not set(one.layers) & {*load_shelf(), *first_workshop()}
    assert 0.10 <= one.hand <= 0.25
    other = second_workshop(seed + 1)
    assert not np.allclose(one.films["clear coat"].K, other.films["clear coat"].K)


def test_a_dose_saturates_as_langmuir_has_it() -> None:
    # Langmuir 1918: the inverse of the amount is linear in the inverse of the dose.
    film = second_workshop(0).films["dun glaze"]
    doses = np.array([0.25, 0.5, 1.0, 2.0])
    slope = np.diff(1.0 / thickness(film, doses)) / np.diff(1.0 / doses)
    np.testing.assert_allclose(slope, slope[0])
    assert thickness(film, 1.0) == pytest.approx(1.0)
    assert 1.2 < thickness(film, 2.0) < 1.7


@pytest.mark.parametrize("seed", WORKSHOPS)
def test_a_seal_fills_the_tooth_of_a_matte_layer_and_deepens_it(seed: int) -> None:
    workshop = second_workshop(seed)
    dark = workshop.true_after(leaf_of(workshop), named(workshop, "glaze")[0], 1.0, 2)

    def darker_by_a_seal(surface: Surface) -> float:
        sealed = workshop.true_after(surface, "clear coat", 0.5)
        return float((workshop.lab_of(surface) - workshop.lab_of(sealed))[0])

    matte = [workshop.true_after(dark, name, 1.0) for name in named(workshop, "wash", "dust")]
    without_tooth = [replace(each, skin=each.skin * [1.0, 1.0, 0.0]) for each in matte]
    for toothed, smooth in zip(matte, without_tooth, strict=True):
        assert darker_by_a_seal(toothed) > darker_by_a_seal(smooth) + 0.5


def test_a_film_brings_its_own_surface_and_black_shows_that_alone() -> None:
    # Saunderson 1942: of a film that swallows all light the outer reflection is left.
    leaf = leaf_of(second_workshop(0))
    skin = np.array([0.04, 0.3, 0.0])
    black = Film("glaze", np.full(36, 50.0), np.full(36, 1e-6), np.inf, skin)
    np.testing.assert_allclose(lay(leaf, black, 2.0).reflectance, 0.04, atol=1e-4)
    np.testing.assert_allclose(leaf.reflectance, leaf.inside)


def test_specks_cover_by_area() -> None:
    # Poisson: specks for one area leave exp(-1) of it bare; Murray 1936: light mixes by area.
    leaf = leaf_of(second_workshop(0))
    assert area(BLACK, 1.0) == pytest.approx(1.0 - np.exp(-1.0))
    solid = lay(leaf, replace(BLACK, specks=50.0), 1.0).reflectance
    specked = lay(leaf, BLACK, 1.0).reflectance
    bare = (specked - solid) / (leaf.reflectance - solid)
    np.testing.assert_allclose(bare, np.exp(-1.0), atol=1e-6)
    assert area(replace(BLACK, gain=0.4), 1.0) > area(BLACK, 1.0) + 0.05


@pytest.mark.parametrize("seed", WORKSHOPS)
def test_what_comes_off_leaves_a_residue_and_the_rest_stays(seed: int) -> None:
    workshop = second_workshop(seed)
    leaf = leaf_of(workshop)
    bare = workshop.lab_of(leaf)
    for name, layer in workshop.layers.items():
        laid = workshop.true_after(leaf, name, 1.0)
        left = workshop.lab_of(workshop.true_after(laid, name + TAKEN_BACK, 1.0))
        if layer.taken_back_by:
            whole = delta_e_2000(workshop.lab_of(laid), bare)
            assert 0.0 < delta_e_2000(left, bare) < 0.5 * whole
        else:
            np.testing.assert_array_equal(left, workshop.lab_of(laid))
    wash = named(workshop, "wash")[0]
    sealed = workshop.true_after(workshop.true_after(leaf, wash, 1.0), "clear coat", 1.0)
    np.testing.assert_array_equal(workshop.lift(sealed, wash).inside, sealed.inside)


def test_old_gold_holds_paints_that_are_not_on_the_shelf() -> None:
    workshop = second_workshop(0)
    leaf = workshop.lab_of(leaf_of(workshop))
    old = np.array([workshop.lab_of(workshop.random_old_surface(seed)) for seed in range(40)])
    assert old[:, 0].max() < leaf[0]
    assert delta_e_2000(old, leaf).min() > 3.0
    assert old[:, 0].std() > 4.0


def test_same_seed_same_trials_and_many_at_once_are_as_one_by_one() -> None:
    workshop = second_workshop(3)
    one, other = (make_with_truth(workshop, 24, 5) for _ in range(2))
    for a, b in zip(one, other, strict=True):
        np.testing.assert_array_equal(a.trial.after, b.trial.after)
    assert {made.trial.application.layer for made in one} == set(workshop.layers)
    leaf = leaf_of(workshop)
    many = workshop.rows(leaf, np.zeros(3, dtype=int))
    strengths = np.array([[0.25], [0.5], [1.0]])
    for name in workshop.layers:
        laid = workshop.lab_of(workshop.true_after(many, name, strengths, np.ones((3, 1))))
        alone = workshop.lab_of(workshop.true_after(leaf, name, 0.5))
        np.testing.assert_allclose(laid[1], alone)
