"""Plans: what is proposed, what is said of it, and when nothing should be laid."""

import math
from collections.abc import Collection
from dataclasses import replace
from itertools import combinations

import numpy as np
import pytest

from tests.toning.tints import SHIFTS, Tints, tint_shelf
from tonematch.arrays import Array
from tonematch.errors import ShelfError, ValueRefused
from tonematch.measure.colour.difference import delta_e_2000
from tonematch.swatchbook import swatch_table
from tonematch.toning.core import Layer, Plan, Proposal, Surface
from tonematch.toning.layers.rules import check_layering
from tonematch.toning.layers.shelf import load_shelf
from tonematch.toning.optics.film import Laid
from tonematch.toning.planning.chance import comes_true
from tonematch.toning.planning.gap import Gap, Workshop
from tonematch.toning.planning.plan import plan_for
from tonematch.toning.planning.telling import PlanTeller

BRIGHT = [88.0, 6.0, 35.0]
AGED = [72.0, 6.5, 28.0]
READING = 0.2 * np.eye(3)
WATER = Surface(technique="water")
LAYERS = list(tint_shelf().values())


def plans_for(
    target: list[float],
    layers: list[Layer] = LAYERS,
    surface: Surface = WATER,
    *,
    scatter: float = 0.1,
    noise: float = 0.0,
    tried: Collection[str] = frozenset(SHIFTS),
    most_layers: int = 3,
    covariance: Array = READING,
    tolerance: float = 2.0,
    unknown: float = 0.1,
) -> Proposal:
    colours = np.array(BRIGHT), np.array(target), covariance, READING
    model = Tints(scatter, noise, tried, unknown)
    workshop = Workshop(model, layers, surface, most_layers=most_layers)
    return plan_for(Gap(*colours, tolerance), workshop)


def only(*names: str) -> list[Layer]:
    return [tint_shelf()[name] for name in names]


def test_best_plan_comes_within_the_tolerance() -> None:
    proposal = plans_for(AGED)
    best = proposal.plans[0]
    assert best.delta_e < 2.0
    assert best.chance > 0.6
    assert proposal.missing == ""
    assert delta_e_2000(best.steps[-1].prediction.lab, AGED) < 1.0


def laid_blind(plan: Plan, model: Tints) -> list[tuple[Array, Array]]:
    lab, covariance, ends = np.array(BRIGHT), READING, []
    for step in plan.steps:
        laid = Laid.on(lab, step.strength, step.coats, WATER)
        (lab,), (covariance,) = model.predict_layer(tint_shelf()[step.layer], laid, covariance)
        ends.append((lab, covariance))
    return ends


def test_predicted_steps_are_the_models() -> None:
    plan = plans_for(AGED).plans[0]
    for step, (lab, covariance) in zip(plan.steps, laid_blind(plan, Tints()), strict=True):
        assert step.prediction.lab == pytest.approx(lab)
        assert step.prediction.covariance == pytest.approx(covariance)


def test_what_a_step_should_read_holds_the_readings_own_noise() -> None:
    plain = plans_for(AGED).plans[0]
    read = plans_for(AGED, noise=0.5).plans[0]
    assert (plain.delta_e, plain.chance) == (read.delta_e, read.chance)
    for one, other in zip(plain.steps, read.steps, strict=True):
        added = other.prediction.covariance - one.prediction.covariance
        np.testing.assert_allclose(added, 0.25 * np.eye(3), atol=1e-12)


@pytest.mark.parametrize("unknown", [0.0, 0.8])
def test_difference_and_chance_are_those_of_many_draws(unknown: float) -> None:
    rng = np.random.default_rng(5)
    for plan in plans_for(AGED, unknown=unknown).plans:
        lab, covariance = laid_blind(plan, Tints(unknown=unknown))[-1]
        drawn = rng.multivariate_normal(lab, covariance + READING, 50_000)
        far = delta_e_2000(drawn, AGED)
        assert plan.delta_e == pytest.approx(far.mean(), rel=0.03)
        assert plan.chance == pytest.approx(comes_true(float(np.mean(far <= 2.0))), abs=0.05)


def test_plans_differ_in_layers_and_not_only_in_strength() -> None:
    plans = plans_for(AGED).plans
    assert 2 <= len(plans) <= 5
    sets = [{s.layer for s in plan.steps if s.kind != "seal"} for plan in plans]
    assert all(one != other for one, other in combinations(sets, 2))
    assert len({plan.words for plan in plans}) > 1


@pytest.mark.parametrize(
    "surface", [WATER, Surface(technique="oil"), Surface(), Surface("oil", historic=True)]
)
def test_no_plan_breaks_a_rule(surface: Surface) -> None:
    shelf = tint_shelf()
    for plan in plans_for(AGED, surface=surface, most_layers=4).plans:
        laid = [shelf[step.layer] for step in plan.steps]
        assert not [f for f in check_layering(surface, laid) if f.severity == "blocked"]


def test_water_gilding_is_sealed_before_a_wash() -> None:
    steps = plans_for(AGED, only("seal", "black", "ochre")).plans[0].steps
    assert [step.kind for step in steps][:2] == ["seal", "wash"]


def test_never_more_layers_than_allowed() -> None:
    for most in (1, 2, 3, 4):
        assert all(len(plan.steps) <= most for plan in plans_for(AGED, most_layers=most).plans)


def test_one_layer_is_proposed_where_one_does_it() -> None:
    target = list(np.array(BRIGHT) + 0.75 * 88 / 90 * np.array(SHIFTS["umber"]))
    (step,) = plans_for(target).plans[0].steps
    assert (step.layer, step.strength, step.coats) == ("umber", 0.75, 1)


def test_stops_where_the_repair_matches_already() -> None:
    proposal = plans_for([87.8, 6.1, 34.9])
    assert [plan.steps for plan in proposal.plans] == [()]
    assert proposal.plans[0].chance > 0.95
    assert "near enough" in proposal.plans[0].words
    assert proposal.missing == ""


def test_stops_where_every_layer_is_likelier_to_harm() -> None:
    umber = only("umber")
    (plan,) = plans_for([86.5, 6.0, 34.0], umber, scatter=1.5, tolerance=0.5).plans
    assert plan.steps == ()
    assert "harm" in plan.words


def test_lighter_target_points_to_the_leaf() -> None:
    proposal = plans_for([95.0, 4.0, 42.0])
    assert proposal.plans[0].steps == ()
    assert "leaf" in proposal.missing
    assert "lighter and cleaner" in proposal.missing
    assert proposal.notes == ()  # the same is not said twice


def test_missing_says_the_direction() -> None:
    # Raw umber darkens and dulls where burnt umber reddens: Gettens and Stout.
    proposal = plans_for([60.0, 4.0, 19.0], only("dust", "wax"))
    assert "darkens without reddening" in proposal.missing
    assert "raw umber wash" in proposal.missing
    assert proposal.plans[0].steps
    assert proposal.plans[0].chance < 0.1


def test_uncertain_layers_are_not_called_missing() -> None:
    target = list(np.array(BRIGHT) + 0.75 * 88 / 90 * np.array(SHIFTS["umber"]))
    proposal = plans_for(target, only("umber"), scatter=1.4)
    assert proposal.plans[0].chance < 0.5
    assert proposal.missing == ""
    assert any("make strips" in note for note in proposal.notes)


def test_missing_seal_is_named_where_it_alone_stands_in_the_way() -> None:
    proposal = plans_for(AGED, only("black", "ochre"))
    assert proposal.plans[0].steps == ()
    assert "seal that isolates" in proposal.missing
    assert any("seal it first" in note for note in proposal.notes)


def test_missing_names_only_layers_of_the_shipped_shelf() -> None:
    shelf = load_shelf()
    directions = swatch_table("directions.toml")["direction"]
    named = [name for direction in directions for name in direction["layers"]]
    assert named
    assert set(named) <= set(shelf)


def test_fresh_oil_gilding_is_left_alone_and_says_why() -> None:
    # Nothing on oil gilding under 48 hours: Rivers and Umney, Conservation of Furniture.
    proposal = plans_for(AGED, surface=Surface(technique="oil", hours_since_gilding=12))
    assert proposal.plans[0].steps == ()
    assert "rules" in proposal.plans[0].words
    assert any("48 hours" in note for note in proposal.notes)


def test_each_step_has_its_own_cautions_and_the_whole_job_is_told_once() -> None:
    umber = Layer(
        "umber", "glaze", binder="oil", solvent="white spirit", drying_hours=(24, 72),
        cautions=("Mind the umber.",),
    )  # fmt: skip
    layers = [umber, tint_shelf()["rub"]]
    proposal = plans_for([70.0, 11.0, 27.0], layers, tried={"umber"})
    plan = next(plan for plan in proposal.plans if len(plan.steps) == 2)
    said = {step.layer: step.cautions for step in plan.steps}
    assert said["rub"][0] == "Rub cannot be undone: try it on a strip first."
    assert "You have not tried rub yet: make a strip first." in said["rub"]
    assert said["umber"] == ("Mind the umber.",)
    assert not any("oily rags" in one for one in (*proposal.notes, *said["umber"], *said["rub"]))
    teller = PlanTeller({layer.name: layer for layer in layers}, Surface(), 20.0)
    assert teller.job(proposal.plans).count("oily rags catch fire") == 1


def test_a_plan_that_seldom_gets_there_by_itself_says_that_another_layer_follows(
    proposal: Proposal,
) -> None:
    teller, plan = PlanTeller(load_shelf(), Surface(), 20.0), proposal.plans[0]
    wash = replace(plan, steps=(replace(plan.steps[1], layer="rottenstone dust", coats=1),))
    assert teller.chance(wash) == "likely (75 %), nothing to dry"
    told = teller.chance(replace(wash, chance=0.01))
    assert told == "likely (75 %) with one more layer after it, nothing to dry"


def test_what_cannot_be_undone_and_was_never_tried_comes_last() -> None:
    def rubbed(tried: set[str]) -> list[bool]:
        plans = plans_for([82.0, 9.5, 32.5], tried=tried).plans
        return ["rub" in {step.layer for step in plan.steps} for plan in plans]

    assert rubbed(set(SHIFTS) - {"rub"}) == [False, False, True]


def test_what_can_be_undone_stands_first_where_it_is_as_sure() -> None:
    lasting = {"umber", "sienna", "rub"}
    shelf = [
        replace(one, reversible="not reversible") if one.name in lasting else one for one in LAYERS
    ]
    first, nearest = plans_for([74.8, 7.1, 36.0], shelf, scatter=0.3, unknown=0.5).plans[:2]
    assert (first.virtue, nearest.virtue) == ("the surest", "the nearest")
    assert lasting.isdisjoint(step.layer for step in first.steps)
    assert not lasting.isdisjoint(step.layer for step in nearest.steps)
    assert first.chance_read >= nearest.chance_read


def test_only_gambles_are_shown_below_a_reason_to_stop() -> None:
    first, second = plans_for([82.0, 9.5, 32.5], only("rub", "wax"), tried={"wax"}).plans[:2]
    assert not {"rub"} & {step.layer for step in first.steps}
    assert {step.layer for step in second.steps} >= {"rub"}


def test_plan_on_a_surface_of_unknown_technique_asks_for_it() -> None:
    notes = plans_for(AGED, surface=Surface()).notes
    assert sum("Find out first" in sentence for sentence in notes) == 1


@pytest.mark.parametrize("tolerance", [math.nan, 0.0, -1.0, math.inf])
def test_tolerance_must_be_a_number_above_0(tolerance: float) -> None:
    with pytest.raises(ValueRefused):
        plans_for(AGED, tolerance=tolerance)


@pytest.mark.parametrize("most_layers", [0, 5, -1])
def test_number_of_layers_is_1_to_4(most_layers: int) -> None:
    with pytest.raises(ValueRefused, match="1 to 4"):
        plans_for(AGED, most_layers=most_layers)


@pytest.mark.parametrize("target", [[101.0, 0.0, 0.0], [50.0, math.nan, 0.0], [50.0, 0.0]])
def test_target_must_be_a_colour(target: list[float]) -> None:
    with pytest.raises(ValueRefused, match="colour of the target"):
        plans_for(target)


def test_empty_shelf_is_refused() -> None:
    with pytest.raises(ShelfError, match="no layer to plan with"):
        plans_for(AGED, [])
