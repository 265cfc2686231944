"""Plans: which layers to lay, in which order and how strong, to bring a surface to a target."""

from collections.abc import Sequence
from dataclasses import replace
from itertools import accumulate, groupby

import numpy as np

from tonematch.arrays import Array
from tonematch.errors import ShelfError
from tonematch.measure.colour.difference import delta_e_2000
from tonematch.toning.core import Plan, Prediction, Proposal, Step
from tonematch.toning.layers.rules import comes_off, is_irreversible, surface_cautions
from tonematch.toning.model.chain import bared_by_lifts
from tonematch.toning.planning.chance import Chances, comes_true
from tonematch.toning.planning.choice import is_gamble, is_offered, worth_showing
from tonematch.toning.planning.gap import MOST_LAYERS, Gap, Workshop
from tonematch.toning.planning.missing import say_missing, say_missing_seal, say_taking_back
from tonematch.toning.planning.plan_lustre import lustre_at_end
from tonematch.toning.planning.plan_words import (
    HARDLY_NEARER,
    HARMS,
    MATCHES,
    NOTHING_ALLOWED,
    SIX_LIE,
    STRIPS_FIRST,
    STRIPS_INSTEAD,
    TOO_UNCERTAIN,
    UNTRIED,
    say_blocked,
    say_kinds,
    say_notes,
    worded,
)
from tonematch.toning.planning.recipes import Recipe
from tonematch.toning.planning.search import Search

# The choices below are this project's, no source.
# The nearest of many uncertain recipes looks nearer than it is: only within this part of the
# tolerance is it taken for within reach. Found on the simulated workshop.
SURELY_NEAR = 0.75
ALREADY_A_MATCH = 0.95  # chance of being within tolerance at which nothing more is proposed
HOPELESS, SEEN_NEARER = 0.02, 1.0  # chance; CIEDE2000 (just seen: common practice, no source)
SURER = 0.2  # chance by which a plan must get there more often than one with untried layers


def plan_for(gap: Gap, workshop: Workshop) -> Proposal:
    """Plans that differ in what they do, for a gap, with what a workshop has and knows.

    The nearest comes first. A plan without steps says that stopping here is best, or what comes
    before any layer. What each step should read holds the noise of the reading by which it will be
    checked, while the expected CIEDE2000 and the chances are of the surface itself. Where none of
    the layers has a trial the answer is strips, and one coat that comes off again. `missing` is
    empty where a plan closes the gap; where the target is out of reach the best that can be done
    is the only plan. Raises ShelfError when there is no layer to plan with.
    """
    if not workshop.layers:
        raise ShelfError("There is no layer to plan with: put at least one on the shelf.")
    if workshop.model.tried.isdisjoint(layer.name for layer in workshop.layers):
        undone = [replace(one, most_coats=1) for one in workshop.layers if comes_off(one)]
        corrected = [layer for layer in undone if layer.kind != "wax"]  # nothing holds over wax
        return _first_steps(gap, replace(workshop, layers=corrected or undone))
    planner = _Planner(gap, workshop)
    recipes = planner.recipes(workshop.most_layers)
    plans = planner.plans(recipes)
    closes = any(plan.delta_e <= gap.tolerance or plan.chance_read >= 0.5 for plan in plans)
    missing = "" if closes else say_missing_seal(workshop.surface, workshop.layers)
    notes = say_notes(gap.before, gap.target, workshop.surface)
    near = min(planner.search.nearest, planner.now) <= SURELY_NEAR * gap.tolerance
    if not recipes:
        notes += say_blocked(workshop.surface, workshop.layers)
    elif near and not closes:
        notes += (TOO_UNCERTAIN,)
    elif not closes and not missing:
        reached = plans[0].steps[-1].prediction.lab if plans[0].steps else gap.before
        at_hand = {layer.name for layer in workshop.layers}
        missing = say_missing(reached, gap.target, at_hand, workshop.surface)
    if missing:  # it says what the notes on the gap would
        notes = notes[len(say_notes(gap.before, gap.target, workshop.surface)) :]
    if plans[0].steps:
        plans = planner.best(plans, recipes, missing) if missing else planner.worth_laying(plans)
    return _proposal(plans, gap, workshop, missing, notes)


def best_plan(gap: Gap, workshop: Workshop) -> Plan:
    """The best plan whatever was tried, for gold that is not laid yet: no step to take now."""
    planner = _Planner(gap, workshop)
    return planner.plans(planner.recipes(workshop.most_layers))[0]


def _first_steps(gap: Gap, workshop: Workshop) -> Proposal:
    """Where nothing was tried: strips, and one coat, over a seal if it needs one."""
    planner, layers = _Planner(gap, workshop), workshop.layers
    recipes = planner.recipes(min(workshop.most_layers, 2))
    single = [recipe for recipe in recipes if _is_one_layer(recipe)]
    plans = planner.plans(single)[:1]
    notes = say_notes(gap.before, gap.target, workshop.surface)
    if plans[0].words != MATCHES:
        notes = (STRIPS_FIRST, *notes)
        if not layers:
            plans = [replace(plans[0], words=UNTRIED)]
    if not recipes:
        notes += say_blocked(workshop.surface, layers)
    missing = say_missing_seal(workshop.surface, layers)
    return _proposal(plans, gap, workshop, missing, notes)


def _proposal(
    plans: Sequence[Plan], gap: Gap, workshop: Workshop, missing: str, notes: Sequence[str]
) -> Proposal:
    """Plans, with what to know before any of them is laid."""
    told = tuple(dict.fromkeys((*notes, *surface_cautions(workshop.surface))))
    if len(plans) == 1:  # a virtue is one beside others
        plans = [replace(plans[0], virtue="")]
    return Proposal(tuple(plans), gap.before, gap.target, gap.tolerance, missing, told)


def _is_one_layer(recipe: Recipe) -> bool:
    """Whether a recipe is one layer, or a seal and one layer on it."""
    return all(layer.kind == "seal" for layer in recipe.layers[:-1])


class _Planner:
    """Turns what the search finds for a gap into plans that a person can read."""

    def __init__(self, gap: Gap, workshop: Workshop) -> None:
        self.gap, self.workshop = gap, workshop
        model, surface = workshop.model, workshop.surface
        bared = bared_by_lifts(model.predict_layer, gap.before, surface)
        self.room = MOST_LAYERS - sum(1 for _ in groupby(one.name for one in surface.beneath))
        # Where no layer more has room, something can still be taken back.
        layers = workshop.layers if self.room > 0 else ()
        self.search = Search(gap, replace(workshop, layers=layers), bared)
        self.chances = Chances(self.search, gap)
        self.now = float(delta_e_2000(gap.before, gap.target))

    def recipes(self, most_layers: int) -> list[Recipe]:
        """What the search finds with so many layers, and no more on the gold than may lie there."""
        if not self.search.options:
            return []
        return self.search.run(min(most_layers, max(self.room, 1)))

    def plans(self, recipes: Sequence[Recipe]) -> list[Plan]:
        """The plans worth showing, the nearest first; one without steps where stopping is best."""
        start, tried = self.search.start, self.workshop.model.tried
        stop_cost = float(self.search.objective.costs(start.lab, start.covariance)[0])
        shown = worth_showing([recipe for recipe in recipes if recipe.cost < stop_cost], tried)
        why = HARMS if recipes else NOTHING_ALLOWED
        stop = self.stop(why if self.room > 0 else SIX_LIE)
        if not shown or stop.chance >= ALREADY_A_MATCH:
            return [stop]
        return self._ordered([self._plan(recipe) for recipe in shown])

    def best(self, plans: Sequence[Plan], recipes: Sequence[Recipe], missing: str) -> list[Plan]:
        """The best that can be done; where `missing` says to take layers back, one that does.

        What gets nowhere, and not even nearer by what can be seen, is not worth laying.
        """
        told = say_taking_back(self.workshop.surface)
        if told and told in missing:
            lifts = [recipe for recipe in recipes if recipe.layers[0].kind == "lift"]
            plans = [p for p in self.plans(lifts[:1]) if p.steps] or plans
        best, stop = plans[0], self.stop(HARDLY_NEARER)
        idle = best.chance_read < HOPELESS and stop.delta_e - best.delta_e < SEEN_NEARER
        return [stop if idle else best]

    def worth_laying(self, plans: Sequence[Plan]) -> list[Plan]:
        """Those that get there often enough; where none does, that strips come first.

        One that gets there half as often as the surest is not worth its other virtues.
        """
        surest = max(plan.chance_read for plan in plans)
        worth = [p for p in plans if is_offered(p) and p.chance_read > surest / 2.0]
        return self._ordered(worth) if worth else [self.stop(STRIPS_INSTEAD)]

    def _ordered(self, plans: list[Plan]) -> list[Plan]:
        """The same order, but where the first cannot be undone, or was never tried.

        Then the surest that can be undone stands before it: unless it is less sure than what
        cannot, or where it is much surer than what was never tried. Where all is a gamble, the
        first is to stop.
        """
        tried = self.workshop.model.tried
        by_name = {layer.name: layer for layer in self.search.layers}
        laid = [[by_name[step.layer] for step in plan.steps] for plan in plans]
        undone = [n for n, layers in enumerate(laid) if not any(map(is_irreversible, layers))]
        if 0 not in undone or not tried.issuperset(layer.name for layer in laid[0]):
            least = plans[0].chance_read + (SURER if 0 in undone else 0.0)
            surest = max(undone, key=lambda n: plans[n].chance_read, default=0)
            if surest and plans[surest].chance_read >= least:
                first = replace(plans[surest], virtue="the surest")
                return [first, *plans[:surest], *plans[surest + 1 :]]
        return [self.stop(UNTRIED), *plans] if is_gamble(laid[0], tried) else plans

    def _plan(self, recipe: Recipe) -> Plan:
        model, surface = self.workshop.model, self.workshop.surface
        coats = recipe.coats
        # The layer that is known least decides how heavy the tails are.
        freedoms = accumulate((model.freedom_of(coat.layer) for coat in coats), min)
        ends = [
            replace(end, freedom=freedom)
            for end, freedom in zip(self.search.walk(recipe.path, model), freedoms, strict=True)
        ]
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
        blind, more = self.chances.differences(ends[-1]), self.room - 1
        read = self.chances.read(recipe.path[0], ends[0], more)
        lustre = lustre_at_end(self.gap, self.workshop, coats, ends[-1])
        labs = [self.gap.before, *(end.lab for end in ends)]
        tried = model.tried or None  # where nothing was tried, that is said once, first of all
        steps = worded(steps, recipe.layers, labs, self.gap.target, surface, tried, lustre)
        said = () if lustre is None else lustre.words
        words = f"{say_kinds(recipe.layers)}."
        chances = comes_true(self._share(blind)), comes_true(self._share(read), more)
        return Plan(steps, float(blind.mean()), *chances, said, words, lustre, recipe.virtue)

    def stop(self, why: str) -> Plan:
        """To lay nothing now, and why; or that the repair matches."""
        now = Prediction(self.gap.before, self.gap.before_covariance)
        far = self.chances.differences(now)
        chance = self._share(far)
        words = MATCHES if chance >= ALREADY_A_MATCH else why
        lustre = lustre_at_end(self.gap, self.workshop, (), now)
        said = () if lustre is None else lustre.words
        return Plan((), float(far.mean()), chance, chance, said, words, lustre)

    def _share(self, far: Array) -> float:
        """Share of the differences that are within the tolerance."""
        return float(np.mean(far <= self.gap.tolerance))
