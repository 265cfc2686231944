"""The search: held against trying everything, and its expectation against many random draws."""

from dataclasses import replace
from itertools import product

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.cases import in_ci, shared_by
from tests.toning.tints import Tints, tint_shelf
from tonematch.measure.colour.difference import delta_e_2000
from tonematch.toning.core import Layer, Surface
from tonematch.toning.layers.rules import check_layering
from tonematch.toning.optics.film import Laid
from tonematch.toning.planning.gap import Gap, Workshop
from tonematch.toning.planning.objective import Objective, Prices, normal_points, spread_points
from tonematch.toning.planning.recipes import options_of
from tonematch.toning.planning.search import Search

BRIGHT = np.array([88.0, 6.0, 35.0])
READING = 0.2 * np.eye(3)
WATER = Surface(technique="water")


def search_for(target: list[float], surface: Surface = WATER, beam: int = 96) -> Search:
    gap = Gap(BRIGHT, np.array(target), READING, READING)
    return Search(gap, Workshop(Tints(), list(tint_shelf().values()), surface, beam=beam))


def best_of_all(search: Search, most_layers: int) -> float:
    """Lowest cost of all recipes that the rules allow, each tried one by one in order."""
    layers, prices = search.layers, search.objective.prices
    best = np.inf
    for depth in range(1, most_layers + 1):
        for order in product(range(len(layers)), repeat=depth):
            price = [search.price_of(order[: n + 1]) for n in range(depth)]
            if not np.isfinite(price).all():
                continue
            grid = [options_of(layers[at]) for at in order]
            recipes = list(product(*grid))
            lab = np.tile(BRIGHT, (len(recipes), 1))
            read = np.tile(READING, (len(recipes), 1, 1))  # anew before each layer
            cost = np.full(len(recipes), sum(price))
            for n, layer in enumerate(order):
                laid = np.array([[r[n].strength, r[n].coats] for r in recipes])
                coats = Laid.on(lab, laid[:, 0], laid[:, 1], WATER)
                lab, covariance = search.model.predict_layer(layers[layer], coats, read)
                cost += prices.coat * (laid[:, 1] - 1)
            best = min(best, float((cost + search.objective.costs(lab, covariance)).min()))
    return best


@pytest.mark.parametrize("surface", [WATER, Surface(technique="oil"), Surface()])
@pytest.mark.parametrize(
    "target",
    [
        [74.0, 7.0, 28.0],
        *(in_ci(more) for more in ([60.0, 5.0, 20.0], [80.0, 3.0, 24.0], [70.0, 12.0, 35.0])),
    ],
)
def test_beam_finds_what_trying_everything_finds(target: list[float], surface: Surface) -> None:
    search = search_for(target, surface)
    assert search.run(3)[0].cost == pytest.approx(best_of_all(search, 3), abs=0.05)


@shared_by(4)
@given(st.floats(45, 90), st.floats(-2, 16), st.floats(5, 40))
def test_beam_finds_the_best_pair_for_any_target(L: float, a: float, b: float) -> None:
    search = search_for([L, a, b], beam=24)
    assert search.run(2)[0].cost <= best_of_all(search, 2) + 0.05


def test_no_recipe_lays_more_coats_than_the_entry_allows() -> None:
    seal = replace(tint_shelf()["seal"], most_coats=3)
    shelf = [seal, tint_shelf()["umber"], tint_shelf()["sienna"]]
    for there in range(4):
        beneath = replace(WATER, beneath=(seal,) * there)
        gap = Gap(BRIGHT, np.array([70.0, 6.0, 40.0]), READING, READING)
        search = Search(gap, Workshop(Tints(), shelf, beneath))
        laid = []
        for recipe in search.run(4):
            laid.append(sum(step.coats for step in recipe.coats if step.layer == seal))
        assert max(laid) == 3 - there


def test_no_recipe_breaks_a_rule() -> None:
    for surface in (WATER, Surface(technique="oil"), Surface(), Surface("water", historic=True)):
        search = search_for([70.0, 6.0, 25.0], surface)
        recipes = search.run(4)
        assert len(recipes) > 20
        for recipe in recipes:
            findings = check_layering(surface, recipe.layers)
            assert not [f for f in findings if f.severity == "blocked"]


def test_covariance_is_chained_through_the_steps() -> None:
    """Held against a Monte Carlo run through the small model itself."""
    search = search_for([70.0, 6.0, 25.0])
    path = tuple(
        next(n for n, o in enumerate(search.options) if o.layer.name == name)
        for name in ("umber", "sienna", "wax")
    )
    end = search.walk(path, search.model)[-1]
    rng = np.random.default_rng(3)
    lab = rng.multivariate_normal(BRIGHT, READING, 200_000)
    nothing = np.zeros((3, 3))
    for number in path:
        option = search.options[number]
        laid = Laid.on(lab, option.strength, option.coats, WATER)
        mean, own = search.model.predict_layer(option.layer, laid, nothing)
        root = np.linalg.cholesky(own)
        lab = mean + np.einsum("nij,nj->ni", root, rng.standard_normal(mean.shape))
    assert end.lab == pytest.approx(lab.mean(axis=0), abs=0.02)
    assert end.covariance == pytest.approx(np.cov(lab.T), abs=0.02)


def test_expected_difference_is_that_of_many_draws() -> None:
    lab = np.array([[74.5, 7.2, 27.0], [74.0, 7.0, 28.0], [70.0, 9.0, 33.0]])
    covariance = np.tile(np.array([[2.0, 0.3, 0.5], [0.3, 0.5, 0.1], [0.5, 0.1, 1.5]]), (3, 1, 1))
    objective = Objective(np.array([74.0, 7.0, 28.0]), READING, Prices(darker=0.0))
    rng = np.random.default_rng(0)
    drawn = [
        delta_e_2000(rng.multivariate_normal(m, c + READING, 100_000), objective.target).mean()
        for m, c in zip(lab, covariance, strict=True)
    ]
    assert objective.costs(lab, covariance) == pytest.approx(np.array(drawn), rel=0.04)
    # An uncertain result is charged for it even where its mean is the target itself.
    assert objective.costs(lab, covariance)[1] > 1.0


def test_ending_darker_costs_more_than_ending_lighter() -> None:
    objective = Objective(np.array([70.0, 7.0, 28.0]), READING)
    covariance = np.tile(READING, (2, 1, 1))
    darker, lighter = objective.costs(np.array([[67.0, 7.0, 28.0], [73.0, 7.0, 28.0]]), covariance)
    assert darker > lighter + 0.2


@pytest.mark.parametrize("count", [8, 32, 100, 512])
def test_normal_points_have_mean_0_and_covariance_1(count: int) -> None:
    points = normal_points(count)
    assert points.shape == (count, 3)
    assert points.mean(axis=0) == pytest.approx(np.zeros(3), abs=1e-12)
    assert np.cov(points.T, bias=True) == pytest.approx(np.eye(3), abs=1e-9)


def test_spread_points_keep_mean_and_covariance() -> None:
    covariance = np.array([[2.0, 0.3, 0.5], [0.3, 0.5, 0.1], [0.5, 0.1, 1.5]])
    points = spread_points(BRIGHT[None], covariance[None], normal_points(64))[0]
    assert points.mean(axis=0) == pytest.approx(BRIGHT)
    assert np.cov(points.T, bias=True) == pytest.approx(covariance, abs=1e-6)


def test_equal_amounts_are_offered_once_in_the_fewest_coats() -> None:
    options = options_of(Layer("a", "wash", strengths=(0.5, 1.0), most_coats=2))
    assert [(o.strength, o.coats) for o in options] == [(0.5, 1), (1.0, 1), (1.0, 2)]
