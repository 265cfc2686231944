"""Plans: which layers to lay, in which order and how strong, to bring a surface to a target."""

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from tonematch.arrays import Array
from tonematch.errors import ShelfError
from tonematch.measure.colour.difference import delta_e_2000
from tonematch.toning.core import Plan, Prediction, Proposal, Step
from tonematch.toning.layers.rules import comes_off
from tonematch.toning.planning.choice import MOST_PLANS, is_gamble, worth_showing
from tonematch.toning.planning.gap import Gap, Workshop
from tonematch.toning.planning.missing import say_missing, say_missing_seal
from tonematch.toning.planning.objective import normal_points
from tonematch.toning.planning.plan_lustre import lustre_at_end
from tonematch.toning.planning.plan_words import (
    HARMS,
    MATCHES,
    NOTHING_ALLOWED,
    STRIPS_FIRST,
    TOO_UNCERTAIN,
    UNTRIED,
    cautions_of,
    say_blocked,
    say_kinds,
    say_notes,
    say_virtues,
)
from tonematch.toning.planning.recipes import Recipe
from tonematch.toning.planning.search import Search

# The choices below are this project's, no source.
# The nearest of many uncertain recipes looks nearer than it is: only within this part of the
# tolerance is it taken for within reach. Found on the simulated workshop.
SURELY_NEAR = 0.75
SAMPLES = 512
ALREADY_A_MATCH = 0.95  # chance of being within tolerance at which nothing more is proposed


def plan_for(gap: Gap, workshop: Workshop) -> Proposal:
    """Up to five plans that differ in kind, for a gap, with what a workshop has and knows.

    The best plan comes first. A plan without steps says that stopping here is best. What each step
    should read holds the noise of the reading by which it will be checked, while the expected
    CIEDE2000 and the chance are of the surface itself. Where none of the layers has a trial the
    answer is strips, and one coat that comes off again. `missing` is empty where a plan closes the
    gap. Raises ShelfError when there is no layer to plan with.
    """
    if not workshop.layers:
        raise ShelfError("There is no layer to plan with: put at least one on the shelf.")
    if workshop.model.tried.isdisjoint(layer.name for layer in workshop.layers):
        undone = [replace(one, most_coats=1) for one in workshop.layers if comes_off(one)]
        return _first_steps(gap, replace(workshop, layers=undone))
    planner = _Planner(gap, workshop)
    recipes = planner.search.run(workshop.most_layers)
    plans = planner.plans(recipes)
    closes = any(plan.delta_e <= gap.tolerance or plan.chance >= 0.5 for plan in plans)
    beneath = workshop.surface.beneath
    missing = "" if closes else say_missing_seal(workshop.surface, workshop.layers)
    notes = say_notes(gap.before, gap.target, beneath)
    if not recipes:
        notes += say_blocked(workshop.surface, workshop.layers)
    elif not closes and min(planner.search.nearest, planner.now) <= SURELY_NEAR * gap.tolerance:
        notes += (TOO_UNCERTAIN,)
    elif not closes and not missing:
        reached = plans[0].steps[-1].prediction.lab if plans[0].steps else gap.before
        at_hand = {layer.name for layer in workshop.layers}
        missing = say_missing(reached, gap.target, at_hand, beneath)
    return Proposal(say_virtues(plans), gap.before, gap.target, gap.tolerance, missing, notes)


def best_plan(gap: Gap, workshop: Workshop) -> Plan:
    """The best plan whatever was tried, for gold that is not laid yet: no step to take now."""
    planner = _Planner(gap, workshop)
    return say_virtues(planner.plans(planner.search.run(workshop.most_layers)))[0]


def _first_steps(gap: Gap, workshop: Workshop) -> Proposal:
    """Where nothing was tried: strips, and one coat, over a seal if it needs one."""
    planner, layers = _Planner(gap, workshop), workshop.layers
    recipes = planner.search.run(min(workshop.most_layers, 2)) if layers else []
    single = [recipe for recipe in recipes if _is_one_layer(recipe)]
    plans = planner.plans(single)[:1]
    notes = say_notes(gap.before, gap.target, workshop.surface.beneath)
    if plans[0].words != MATCHES:
        notes = (STRIPS_FIRST, *notes)
        if not layers:
            plans = [replace(plans[0], words=UNTRIED)]
    if not recipes:
        notes += say_blocked(workshop.surface, layers)
    missing = say_missing_seal(workshop.surface, layers)
    return Proposal(say_virtues(plans), gap.before, gap.target, gap.tolerance, missing, notes)


def _is_one_layer(recipe: Recipe) -> bool:
    """Whether a recipe is one layer, or a seal and one layer on it."""
    return all(layer.kind == "seal" for layer in recipe.layers[:-1])


class _Planner:
    """Turns what the search finds for a gap into plans that a person can read."""

    def __init__(self, gap: Gap, workshop: Workshop) -> None:
        self.gap, self.workshop = gap, workshop
        self.search = Search(workshop.model, workshop.layers, gap, workshop.surface, workshop.beam)
        self.now = float(delta_e_2000(gap.before, gap.target))
        self._normal = normal_points(SAMPLES)

    def plans(self, recipes: Sequence[Recipe]) -> list[Plan]:
        """The plans worth showing, the best first; one without steps where stopping is best."""
        start, tried = self.search.start, self.workshop.model.tried
        stop_cost = float(self.search.objective.costs(start.lab, start.covariance)[0])
        shown = worth_showing([recipe for recipe in recipes if recipe.cost < stop_cost], tried)
        made = [(recipe, *self._plan(recipe)) for recipe in shown]
        kept = [(recipe, plan) for recipe, plan, helps in made if helps]
        stop = self._stop(HARMS if recipes else NOTHING_ALLOWED)
        if not kept or stop.chance >= ALREADY_A_MATCH:
            return [stop]
        plans = [plan for _, plan in kept]
        if is_gamble(kept[0][0].layers, tried):
            plans = [replace(stop, words=UNTRIED), *plans][:MOST_PLANS]
        return plans

    def _plan(self, recipe: Recipe) -> tuple[Plan, bool]:
        """A recipe as a plan, and whether it is likelier than not to come nearer than now."""
        model, surface = self.workshop.model, self.workshop.surface
        ends = self.search.walk(recipe.path)
        coats = self.search.coats(recipe)
        steps = tuple(
            Step(
                coat.layer.name,
                coat.layer.kind,
                coat.strength,
                coat.coats,
                replace(end, covariance=end.covariance + model.reading_covariance_),
            )
            for coat, end in zip(coats, ends, strict=True)
        )
        far = self._differences(ends[-1])
        lustre = lustre_at_end(self.gap, self.workshop, coats, ends[-1])
        cautions = cautions_of(surface, recipe.layers, steps, model.tried, lustre)
        words = say_kinds(recipe.layers)
        plan = Plan(steps, *self._outcome(far), cautions, words, lustre)
        return plan, bool(np.mean(far < self.now) > 0.5)

    def _stop(self, why: str) -> Plan:
        now = Prediction(self.gap.before, self.gap.before_covariance)
        delta_e, chance = self._outcome(self._differences(now))
        words = MATCHES if chance >= ALREADY_A_MATCH else why
        lustre = lustre_at_end(self.gap, self.workshop, (), now)
        said = () if lustre is None else (lustre.words,)
        return Plan((), delta_e, chance, said, words, lustre)

    def _differences(self, end: Prediction) -> Array:
        """CIEDE2000 to the target over what the surface, and the target, may be."""
        return self.search.objective.differences(end, self._normal)

    def _outcome(self, far: Array) -> tuple[float, float]:
        """Expected CIEDE2000 to the target, and the chance of being within the tolerance."""
        return float(far.mean()), float(np.mean(far <= self.gap.tolerance))
