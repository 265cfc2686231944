"""Plans: which layers to lay, in which order and how strong, to bring a surface to a target."""

from collections.abc import Collection, Iterable, Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import ArrayLike, NDArray

from tonematch.arrays import Matrix3, Vector3
from tonematch.errors import ShelfError, ValueRefused
from tonematch.measure.colour.convert import check_lab
from tonematch.measure.colour.difference import USUAL_TOLERANCE, check_tolerance, delta_e_2000
from tonematch.toning.core import Layer, Plan, PlanLustre, Prediction, Proposal, Step, Surface
from tonematch.toning.layers.rules import comes_off, is_irreversible
from tonematch.toning.model.chain import Coat
from tonematch.toning.planning.missing import say_missing, say_missing_seal
from tonematch.toning.planning.objective import Objective, normal_points, spread_points
from tonematch.toning.planning.plan_lustre import Ending, LustreAim, lustre_at_end
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
from tonematch.toning.planning.recipes import Front, LayerPredictor, Recipe
from tonematch.toning.planning.search import Search

MOST_LAYERS = 4
MOST_PLANS = 5
# The choices below are this project's, no source.
DIFFERENCE_IN_KIND = (
    1.0  # what a plan may cost more, in CIEDE2000, for sharing no layer with others
)
WORSE_THAN_BEST = 4.0  # a plan that costs this much more than the best is not shown
# The nearest of many uncertain recipes looks nearer than it is: only within this part of the
# tolerance is it taken for within reach. Found on the simulated workshop.
SURELY_NEAR = 0.75
SAMPLES = 512
ALREADY_A_MATCH = 0.95  # chance of being within tolerance at which nothing more is proposed


def propose(
    model: LayerPredictor,
    layers: Sequence[Layer],
    before: ArrayLike,
    target: ArrayLike,
    *,
    tolerance: float = USUAL_TOLERANCE,
    most_layers: int = 3,
    before_covariance: ArrayLike | None = None,
    target_covariance: ArrayLike | None = None,
    reading_covariance: ArrayLike | None = None,
    surface: Surface | None = None,
    tried: Collection[str] | None = None,
    lustre: LustreAim | None = None,
    beam: int = 96,
) -> Proposal:
    """Propose up to five plans that differ in kind.

    Parameters
    ----------
    model : LayerPredictor
        A fitted LayerModel.
    layers : sequence of Layer
        What may be used; every one that is given counts as at hand.
    before, target : array_like, shape (3,)
        CIELAB (D50, 2 degree) of the surface now and of what it should become.
    tolerance : float
        Greatest CIEDE2000 that counts as a match, above 0.
    most_layers : int
        1 to 4.
    before_covariance, target_covariance : array_like, shape (3, 3), optional
        Of the two readings; none by default.
    reading_covariance : array_like, shape (3, 3), optional
        Of the readings by which the steps will be checked: what each step should read holds it,
        while the expected CIEDE2000 and the chance are of the surface itself; none by default.
    surface : Surface, optional
        What the layers lie on; nothing is known of it by default.
    tried : collection of str, optional
        Names of the layers that have trials, where that is known: a plan with another one says
        so, and what cannot be undone is never proposed first untried. Where none of `layers` has
        a trial the answer is strips, then one layer that comes off again, at its weakest.
    lustre : LustreAim, optional
        Lustre of the two surfaces, where it was measured: each plan then says where it leaves it.
    beam : int
        Recipes that the search keeps at each depth, at least 1.

    Returns
    -------
    Proposal
        The best plan first. A plan without steps says that stopping here is best. `missing` is
        empty where a plan closes the gap.

    Raises
    ------
    ValueRefused
        For a tolerance, a number of layers or a colour out of range.
    ShelfError
        When there is no layer to plan with.
    """
    tolerance = check_tolerance(tolerance)
    if most_layers not in range(1, MOST_LAYERS + 1):
        raise ValueRefused(
            f"A plan of {most_layers} layers cannot be searched: choose from 1 to {MOST_LAYERS}."
        )
    if not layers:
        raise ShelfError("There is no layer to plan with: put at least one on the shelf.")
    untried = tried is not None and not {layer.name for layer in layers} & set(tried)
    planner = _Planner(
        model,
        [layer for layer in layers if comes_off(layer)] if untried else layers,
        surface or Surface(),
        check_lab("surface", before),
        _check_covariance("surface", before_covariance),
        Objective(check_lab("target", target), _check_covariance("target", target_covariance)),
        _check_covariance("readings to come", reading_covariance),
        tolerance,
        tried,
        lustre,
        beam,
    )
    return planner.first_steps(most_layers) if untried else planner.propose(most_layers)


class _Planner:
    """One gap: turns what the search finds into plans that a person can read."""

    def __init__(
        self,
        model: LayerPredictor,
        layers: Sequence[Layer],
        surface: Surface,
        before: Vector3,
        before_covariance: Matrix3,
        objective: Objective,
        reading_covariance: Matrix3,
        tolerance: float,
        tried: Collection[str] | None,
        lustre: LustreAim | None,
        beam: int,
    ) -> None:
        self.search = Search(model, layers, surface, before, before_covariance, objective, beam)
        self.layers, self.surface, self.before, self.objective = layers, surface, before, objective
        self.reading_covariance = reading_covariance
        self.tolerance, self.tried = tolerance, tried
        self.colours, self.lustre = model, lustre
        self.normal = normal_points(SAMPLES)

    def propose(self, most_layers: int) -> Proposal:
        """See the function of the same name."""
        recipes = self.search.run(most_layers)
        return self._proposal(self._plans(recipes), allowed=bool(recipes))

    def first_steps(self, most_layers: int) -> Proposal:
        """Where nothing was tried: strips, then one mild layer, over a seal if it needs one."""
        recipes = self.search.run(min(most_layers, 2)) if self.layers else []
        single = [recipe for recipe in recipes if self._is_one_layer(recipe)]
        plans = self._plans([replace(r, path=self._weakest(r.path)) for r in single])[:1]
        if not self.layers and plans[0].words != MATCHES:
            plans = [replace(plans[0], words=UNTRIED)]
        notes = say_notes(self.before, self.objective.target, self.surface.beneath)
        if plans[0].words != MATCHES:
            notes = (STRIPS_FIRST, *notes)
        if not recipes:
            notes = (*notes, *say_blocked(self.surface, self.layers))
        missing = say_missing_seal(self.surface, self.layers)
        return Proposal(
            say_virtues(plans), self.before, self.objective.target, self.tolerance, missing, notes
        )

    def _plans(self, recipes: Sequence[Recipe]) -> list[Plan]:
        """The plans worth showing, the best first; one without steps where stopping is best."""
        start = self.search.start
        stop_cost = float(self.objective.costs(start.lab, start.covariance)[0])
        better = [recipe for recipe in recipes if recipe.cost < stop_cost]
        plans = [self._plan(recipe) for recipe in self._safe_first(better)]
        plans = [plan for plan in plans if self._likelier_to_help(plan)]
        stop = self._stop(HARMS if recipes else NOTHING_ALLOWED)
        if not plans or stop.chance >= ALREADY_A_MATCH:
            plans = [stop]
        elif self._is_gamble(step.layer for step in plans[0].steps):
            plans = [replace(stop, words=UNTRIED), *plans][:MOST_PLANS]
        return plans

    def _proposal(self, plans: Sequence[Plan], allowed: bool) -> Proposal:
        target = self.objective.target
        reached = plans[0].steps[-1].prediction.lab if plans[0].steps else self.before
        in_reach = min(self.search.nearest, self._now()) <= SURELY_NEAR * self.tolerance
        closes = any(plan.delta_e <= self.tolerance or plan.chance >= 0.5 for plan in plans)
        missing = "" if closes else say_missing_seal(self.surface, self.layers)
        notes = say_notes(self.before, target, self.surface.beneath)
        if not allowed:
            notes += say_blocked(self.surface, self.layers)
        elif not closes and in_reach:
            notes += (TOO_UNCERTAIN,)
        elif not closes and not missing:
            at_hand = {layer.name for layer in self.layers}
            missing = say_missing(reached, target, at_hand, self.surface.beneath)
        return Proposal(say_virtues(plans), self.before, target, self.tolerance, missing, notes)

    def _stop(self, why: str) -> Plan:
        start = self.search.start
        delta_e, chance = self._outcome(start.lab[0], start.covariance[0])
        words = MATCHES if chance >= ALREADY_A_MATCH else why
        lustre = self._lustre((), start.lab[0], start.covariance[0])
        said = () if lustre is None else (lustre.words,)
        return Plan((), delta_e, chance, said, words, lustre)

    def _outcome(self, lab: Vector3, covariance: Matrix3) -> tuple[float, float]:
        """Expected CIEDE2000 to the target, and the chance of being within the tolerance."""
        far = self._differences(lab, covariance)
        return float(far.mean()), float(np.mean(far <= self.tolerance))

    def _differences(self, lab: Vector3, covariance: Matrix3) -> NDArray[np.float64]:
        spread = (covariance + self.objective.covariance)[None]
        return delta_e_2000(spread_points(lab[None], spread, self.normal)[0], self.objective.target)

    def _likelier_to_help(self, plan: Plan) -> bool:
        after = plan.steps[-1].prediction
        covariance = after.covariance - self.reading_covariance
        return bool(np.mean(self._differences(after.lab, covariance) < self._now()) > 0.5)

    def _is_gamble(self, names: Iterable[str]) -> bool:
        """Whether one of these layers cannot be undone and was never tried."""
        if self.tried is None:
            return False
        untried = set(names) - set(self.tried)
        return any(is_irreversible(layer) for layer in self.layers if layer.name in untried)

    def _safe_first(self, recipes: Sequence[Recipe]) -> list[Recipe]:
        """Recipes that differ, those that gamble last, and never only those if there is another."""

        def gambles(recipe: Recipe) -> bool:
            return self._is_gamble(layer.name for layer in self._laid(recipe))

        chosen = sorted(self._different(recipes), key=gambles)
        safe = next((recipe for recipe in recipes if not gambles(recipe)), None)
        if safe is not None and gambles(chosen[0]):
            chosen = [safe, *chosen[: MOST_PLANS - 1]]
        return chosen

    def _is_one_layer(self, recipe: Recipe) -> bool:
        """Whether a recipe is one layer, or a seal and one layer on it."""
        *under, _ = self._laid(recipe)
        return all(layer.kind == "seal" for layer in under)

    def _now(self) -> float:
        return float(delta_e_2000(self.before, self.objective.target))

    def _different(self, recipes: Sequence[Recipe]) -> list[Recipe]:
        """The best recipe, then others that are good and share little with those before."""
        if not recipes:
            return []
        rest = [r for r in recipes if r.cost <= recipes[0].cost + WORSE_THAN_BEST]
        chosen: list[Recipe] = []
        while rest and len(chosen) < MOST_PLANS:
            best = min(rest, key=lambda r: r.cost + DIFFERENCE_IN_KIND * self._likeness(r, chosen))
            chosen.append(best)
            # A plan that differs only by a seal, or not at all, is no other plan.
            rest = [r for r in rest if self._tones(r) != self._tones(best)]
        return [chosen[0], *sorted(chosen[1:], key=lambda r: r.cost)]

    def _likeness(self, recipe: Recipe, others: Sequence[Recipe]) -> float:
        """Greatest share of layers in common with one of the others, 0 to 1 (Jaccard)."""
        mine = self._tones(recipe)
        return max(
            (len(mine & self._tones(o)) / len(mine | self._tones(o)) for o in others), default=0.0
        )

    def _weakest(self, path: tuple[int, ...]) -> tuple[int, ...]:
        """The same layers, each in one coat of its weakest mix."""
        amount = {n: o.strength * o.coats for n, o in enumerate(self.search.options)}
        same = [np.flatnonzero(self.search.layer_of == self.search.layer_of[o]) for o in path]
        return tuple(min(map(int, options), key=amount.__getitem__) for options in same)

    def _tones(self, recipe: Recipe) -> frozenset[str]:
        """Names of the layers that tone; of the seals where there is nothing else."""
        laid = self._laid(recipe)
        tones = frozenset(layer.name for layer in laid if layer.kind != "seal")
        return tones or frozenset(layer.name for layer in laid)

    def _laid(self, recipe: Recipe) -> list[Layer]:
        return [self.layers[self.search.options[o].layer] for o in recipe.path]

    def _plan(self, recipe: Recipe) -> Plan:
        fronts = self.search.walk(recipe.path)
        steps = tuple(
            self._step(option, front) for option, front in zip(recipe.path, fronts, strict=True)
        )
        laid = self._laid(recipe)
        end = fronts[-1]
        delta_e, chance = self._outcome(end.lab[0], end.covariance[0])
        coats = [
            Coat(layer, step.strength, step.coats) for layer, step in zip(laid, steps, strict=True)
        ]
        lustre = self._lustre(coats, end.lab[0], end.covariance[0])
        cautions = cautions_of(self.surface, laid, steps, self.tried, lustre)
        return Plan(steps, delta_e, chance, cautions, say_kinds(laid), lustre)

    def _lustre(
        self, coats: Sequence[Coat], lab: Vector3, covariance: Matrix3
    ) -> PlanLustre | None:
        if self.lustre is None:
            return None
        target = self.objective.target
        ending = Ending(self.surface, coats, lab, covariance, target, self.tolerance)
        return lustre_at_end(self.lustre, ending, self.layers, self.colours)

    def _step(self, number: int, front: Front) -> Step:
        option = self.search.options[number]
        layer = self.layers[option.layer]
        prediction = Prediction(front.lab[0], front.covariance[0] + self.reading_covariance)
        return Step(layer.name, layer.kind, option.strength, option.coats, prediction)


def _check_covariance(what: str, covariance: ArrayLike | None) -> Matrix3:
    value = np.asarray(np.zeros((3, 3)) if covariance is None else covariance, dtype=np.float64)
    good = value.shape == (3, 3) and np.isfinite(value).all() and np.allclose(value, value.T)
    if not good or np.linalg.eigvalsh(value).min() < -1e-9:
        raise ValueRefused(
            f"The covariance of the {what} cannot be used: give a symmetric 3x3 matrix."
        )
    return value
