"""Which gold to lay: colours from optical constants, and a start that leaves little to tone."""

import tomllib
from dataclasses import replace

import numpy as np
import pytest

from tests.demonstration.leaf_colours import LEAVES, leaf_lab, leaf_reflectance
from tests.demonstration.spectra import gold_reflectance, lab_d50, metal_reflectance
from tests.toning.tints import SHIFTS, Tints, tint_shelf
from tonematch.arrays import Array
from tonematch.errors import ShelfError
from tonematch.measure.colour.difference import delta_e_2000
from tonematch.measure.uncertainty.interval import half_width_95
from tonematch.toning.core import Surface
from tonematch.toning.layers.leaf import Leaf, load_leaves
from tonematch.toning.layers.shelf import load_boles
from tonematch.toning.planning.body_colour import LaidLeaf, body_colour, say_body
from tonematch.toning.planning.gap import Workshop
from tonematch.toning.planning.leaf import (
    IN_ONE_PHOTOGRAPH,
    ON_ONE_CARD,
    propose_leaf,
    spread_of,
    worn,
)

LAYERS = list(tint_shelf().values())
WATER = Surface(technique="water")
SPREAD = spread_of(ON_ONE_CARD)


def by_name() -> dict[str, Leaf]:
    return {leaf.name: leaf for leaf in load_leaves()}


def test_kept_colours_are_those_of_the_optical_constants() -> None:
    """Johnson and Christy 1972; Rioux et al. 2014; Querry 1985."""
    for entry in tomllib.loads(LEAVES.read_text(encoding="utf-8"))["leaf"]:
        assert entry["lab"] == pytest.approx(leaf_lab(entry["parts"]), abs=0.06)


def test_metals_almost_pure_keep_their_own_colour() -> None:
    assert leaf_lab({"gold": 1.0}) == pytest.approx(lab_d50(gold_reflectance()))
    much = {"gold": 1e-6, "copper": 1.0}
    assert leaf_lab(much) == pytest.approx(lab_d50(metal_reflectance("copper")), abs=0.01)
    # Johnson and Christy's silver, and that of Rioux et al., agree.
    assert leaf_lab({"silver": 1.0}) == pytest.approx(lab_d50(metal_reflectance("silver")), abs=0.5)


def test_silver_makes_leaf_paler_and_colder_and_copper_redder() -> None:
    """More silver: paler, colder; more copper: warmer. Common practice, no source."""
    leaves = by_name()
    gold, lemon, white, red = (
        leaves[name].mirror
        for name in ("23.75 carat", "18 carat lemon", "12 carat white", "23 carat red gold")
    )
    assert gold[0] < lemon[0] < white[0]
    assert gold[2] > lemon[2] > white[2]
    assert lemon[1] < gold[1] < red[1]


def test_leaf_below_22_carat_warns_of_tarnish() -> None:
    for entry in tomllib.loads(LEAVES.read_text(encoding="utf-8"))["leaf"]:
        share = entry["parts"].get("gold", 0.0) / sum(entry["parts"].values())
        assert any("tarnish" in caution for caution in entry["cautions"]) == (share < 0.91)


def test_wear_goes_from_leaf_to_bole() -> None:
    leaf, bole = by_name()["23.75 carat"].mirror, load_boles()["red bole"]
    assert worn(leaf, bole, 0.0) == pytest.approx(leaf, abs=1e-6)
    assert worn(leaf, bole, 1.0) == pytest.approx(bole, abs=1e-6)
    assert leaf[0] > worn(leaf, bole, 0.2)[0] > bole[0]


def body(name: str, share: float = 0.5, haze: float = 0.02) -> Array:
    """What leaf reads beside the mirror direction: a part of its light, and a little white."""
    (parts,) = (e["parts"] for e in tomllib.loads(LEAVES.read_text())["leaf"] if e["name"] == name)
    return lab_d50(share * leaf_reflectance(parts) + haze)


def strip(name: str = "23.75 carat", share: float = 0.5) -> LaidLeaf:
    return LaidLeaf(by_name()[name], body(name, share), spread_of(IN_ONE_PHOTOGRAPH))


@pytest.mark.parametrize("share", [0.3, 0.6])
def test_gold_leaf_is_told_from_a_strip_of_one_in_its_own_geometry(share: float) -> None:
    """Spectra from optical constants, as above."""
    for name, leaf in ((n, one) for n, one in by_name().items() if one.at_hand):
        told = body_colour(leaf, strip(share=share))
        assert float(delta_e_2000(told.lab, body(name, share))) < 2.0
        assert float(delta_e_2000(leaf.mirror, body(name, share))) > 5.0


def test_leaf_that_nobody_read_is_a_wide_guess_and_says_so() -> None:
    leaf = by_name()["23.75 carat"]
    told = body_colour(leaf)
    half = half_width_95(told.covariance)
    for share in (0.3, 0.6, 1.0):
        assert np.all(np.abs(body(leaf.name, share, 0.0) - told.lab) < half)
    assert half[0] > 10.0
    assert "body colour" in say_body(None)
    assert "guessed" in say_body(None)


@pytest.mark.parametrize("name", ["23.75 carat", "18 carat lemon"])
def test_untoned_gilding_is_found_again_without_toning(name: str) -> None:
    workshop = Workshop(Tints(), LAYERS, WATER)
    choice = propose_leaf(workshop, body(name), SPREAD, laid=strip())[0]
    assert choice.leaf.name == name
    assert choice.wear == 0.0
    assert choice.plan.steps == ()
    assert "without toning" in choice.words


def test_brass_is_laid_only_where_it_is_asked_for_and_must_be_sealed() -> None:
    workshop = Workshop(Tints(), LAYERS, WATER)
    target = 0.7 * body("brass")
    assert all(c.leaf.at_hand for c in propose_leaf(workshop, target, SPREAD, laid=strip()))
    (brass,) = propose_leaf(
        workshop, target, SPREAD, laid=strip(), leaves=[by_name()["brass"]], wears=(0.0,)
    )
    assert any("tarnish" in caution for caution in brass.leaf.cautions)


def test_old_gold_worn_to_red_bole_asks_for_wear() -> None:
    target = worn(body("22 carat"), load_boles()["red bole"], 0.2)
    workshop, near = Workshop(Tints(), LAYERS, WATER), spread_of(IN_ONE_PHOTOGRAPH)
    choices = propose_leaf(workshop, target, near, laid=strip("22 carat"))
    assert choices[0].wear > 0.0
    assert len(choices[0].plan.steps) <= 1
    assert choices[0].plan.delta_e < 2.0
    assert "wear about" in choices[0].words


def test_choices_are_ranked_and_never_the_same() -> None:
    target = np.array([80.0, 7.0, 30.0])
    workshop = Workshop(Tints(), LAYERS, WATER)
    choices = propose_leaf(workshop, target, SPREAD, boles=["red bole", "black bole"])
    chances = [round(100 * choice.plan.chance) for choice in choices]
    assert chances == sorted(chances, reverse=True)
    pairs = [(c.leaf.name, c.bole if c.wear else "not worn") for c in choices]
    assert len(set(pairs)) == len(pairs) <= 5
    assert all(step.kind != "rub" for choice in choices for step in choice.plan.steps)


def test_an_untried_layer_that_cannot_be_undone_is_no_part_of_the_best_way() -> None:
    # Umber leads from this leaf to the target by itself; nothing else comes as near.
    leaf, umber = by_name()["22 carat"], tint_shelf()["umber"]
    layers = [replace(umber, reversible="not reversible"), tint_shelf()["dust"]]
    new = body(leaf.name)
    target = new + 0.75 * new[0] / 90.0 * np.array(SHIFTS["umber"])

    def laid(tried: set[str]) -> set[str]:
        workshop = Workshop(Tints(tried=tried), layers, WATER)
        spread = spread_of((0.5, 0.5, 0.5))
        (choice,) = propose_leaf(
            workshop, target, spread, laid=strip(leaf.name), leaves=[leaf], wears=(0.0,)
        )
        return {step.layer for step in choice.plan.steps}

    assert "umber" in laid(set(SHIFTS))
    assert "umber" not in laid(set(SHIFTS) - {"umber"})


def test_what_cannot_be_chosen_from_is_refused() -> None:
    with pytest.raises(ShelfError, match="no leaf or no layer"):
        propose_leaf(Workshop(Tints(), [], WATER), [80.0, 7.0, 30.0], SPREAD)
