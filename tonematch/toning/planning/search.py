"""Search for the recipe whose outcome is expected to lie nearest to a target.

A beam search over ordered layers, their strengths and coats: every state of the front is followed
by every layer that the rules allow, all at once, and the most promising are kept. What counts is
the expected CIEDE2000 under the predicted distribution, never that of the mean alone, with a price
for every layer and a dislike of ending darker than the target: darkening is easier than lightening.
The surface is read again before each layer, so no step's doubt is carried into the next.
"""

from collections.abc import Iterator, Mapping
from dataclasses import replace
from functools import cache
from itertools import chain

import numpy as np
import scipy
from numpy.typing import NDArray

from tonematch.arrays import Array
from tonematch.measure.colour.difference import delta_e_2000
from tonematch.toning.core import Layer, Prediction
from tonematch.toning.layers.coats import coats_on
from tonematch.toning.layers.rules import is_irreversible, judge_layer, rules_on
from tonematch.toning.layers.taking_back import stack_after
from tonematch.toning.optics.film import SKINS, Laid
from tonematch.toning.planning.gap import Gap, Workshop
from tonematch.toning.planning.objective import Objective
from tonematch.toning.planning.recipes import (
    Front,
    LayerPredictor,
    Moves,
    Recipe,
    Whole,
    options_of,
)

REFINED = 3  # best recipes that are refined once the beam is through


class Search:
    """One gap, one shelf, one surface: the search remembers what it has judged and found.

    `bared` is what may be taken back, from the top down, and what that bares. `nearest` is the
    smallest CIEDE2000 from the target of any recipe's mean, once the search has run.
    """

    def __init__(
        self, gap: Gap, workshop: Workshop, bared: Mapping[Layer, Prediction] | None = None
    ) -> None:
        self.bared = bared or {}
        self.layers = layers = [*workshop.layers, *self.bared]
        self.surface = surface = workshop.surface
        self.model, self.beam = workshop.model, workshop.beam
        self.objective = Objective(gap.target, gap.target_covariance)
        each = [options_of(layer) for layer in layers]
        self.options = [*chain.from_iterable(each)]
        self._strength = np.array([option.strength for option in self.options])
        self._coats = np.array([float(option.coats) for option in self.options])
        of_layer = [at for at, options in enumerate(each) for _ in options]
        self.layer_of = np.array(of_layer, dtype=np.intp)
        self._tried = np.array([layer.name in self.model.tried for layer in layers])
        self._skins = np.array([SKINS[layer.kind] for layer in layers])
        room = [layer.most_coats - coats_on(layer, surface.beneath) for layer in layers]
        self._room = np.array(room, dtype=np.float64)
        dries = np.array([layer.drying_hours[1] for layer in layers]) / 24.0
        self._days = self._coats * dries[self.layer_of]
        self._film = np.arange(len(layers))
        self._adds = self._coats.copy()
        self._make_room_by_lifts()
        nothing = np.empty((1, 0), dtype=np.intp)
        self.start = Front(nothing, gap.before[None], gap.before_covariance[None], np.zeros(1))
        self._rules = [rules_on(surface, layer) for layer in layers]
        self.price_of, self._after = cache(self._price_of), cache(self._walk_to)
        self._found: dict[frozenset[int], Recipe] = {}
        self._moves: scipy.spatial.cKDTree | None = None
        self.nearest = float("inf")

    def _make_room_by_lifts(self) -> None:
        """Let each lift take off the coats that lie there of its layer, for others to be laid."""
        names, stack = [layer.name for layer in self.layers], self.surface.beneath
        for lift in self.bared:
            at, left = names.index(lift.name), stack_after(stack, lift)
            if (name := stack[-1].name) in names:
                self._film[at] = names.index(name)
            self._adds[self.layer_of == at] = len(left) - len(stack)
            stack = left

    def run(self, most_layers: int) -> list[Recipe]:
        """The best recipe of 1 to `most_layers` for each set of layers looked at, best first."""
        front = self.start
        for depth in range(1, most_layers + 1):
            front = self._expand(front)
            if not len(front):
                break
            self._note_best(front)
            if depth < most_layers:
                front = self._keep_promising(front)
        for recipe in sorted(self._found.values(), key=lambda r: r.cost)[:REFINED]:
            self._refine(recipe)
        return sorted(self._found.values(), key=lambda recipe: recipe.cost)

    def walk(self, path: tuple[int, ...], blind: LayerPredictor) -> list[Prediction]:
        """The surface after each step of one recipe, by a model, laid blind: doubts add up."""
        front, ends = self.start, []
        for option in path:
            front = self._lay(front, np.array([option], dtype=np.intp), np.zeros(1), blind)
            ends.append(Prediction(front.lab[0], front.covariance[0]))
        return ends

    def _walk_to(self, path: tuple[int, ...]) -> Front:
        if not path:
            return self.start
        price = self.price_of(self._sequence(path))
        last = np.array(path[-1:], dtype=np.intp)
        return self._lay(self._after(path[:-1]), last, np.array([price]))

    def _sequence(self, path: tuple[int, ...]) -> tuple[int, ...]:
        return tuple(int(layer) for layer in self.layer_of[list(path)])

    def _price_of(self, sequence: tuple[int, ...]) -> float:
        """What laying the last layer of a sequence over the others costs; infinite if blocked."""
        *under, last = sequence
        seal = self.layers[last].kind == "seal"
        # A second pass of a layer is a coat; only a seal comes back, between other layers.
        if (last in under and not seal) or (under and under[-1] == last):
            return float("inf")
        if self.layers[last].kind == "lift" and any(self.layers[i].kind != "lift" for i in under):
            return float("inf")  # what the plan itself lays is not taken back
        stack = self.surface.beneath
        for layer in under:
            stack = stack_after(stack, self.layers[layer])
        laid, prices = self.layers[last], self.objective.prices
        price = prices.layer + prices.irreversible * is_irreversible(laid)
        price += prices.last * (laid.kind == "wax") + prices.lift * (laid.kind == "lift")
        for finding in judge_layer(self._rules[last], self.surface, stack, laid):
            # A plan does not warn of what a seal of its own would mend: it lays the seal.
            if finding.severity == "blocked" or finding.rule.seal_first:
                return float("inf")
            price += prices.warning * finding.rule.hangs_on_place()
        return price

    def _expand(self, front: Front) -> Front:
        """Every recipe of the front with every option that may follow."""
        parents, prices = self._followers(front)
        grown = [
            self._follow(front, layer, parents[layer], prices[layer])
            for layer in range(len(self.layers))
        ]
        return Front(
            np.vstack([g.paths for g in grown]),
            np.vstack([g.lab for g in grown]),
            np.vstack([g.covariance for g in grown]),
            np.concatenate([g.price for g in grown]),
        )

    def _followers(self, front: Front) -> tuple[list[Whole], list[Array]]:
        """For each layer, which recipes of the front it may follow, and at what price."""
        sequences = self.layer_of[front.paths]
        unique, member = np.unique(sequences, axis=0, return_inverse=True)
        member = member.reshape(-1)
        parents, prices = [], []
        for layer in range(len(self.layers)):
            price = np.array([self.price_of((*map(int, under), layer)) for under in unique])[member]
            allowed = np.flatnonzero(np.isfinite(price))
            parents.append(allowed)
            prices.append(price[allowed])
        return parents, prices

    def _follow(self, front: Front, layer: int, parents: Whole, prices: Array) -> Front:
        options = np.flatnonzero(self.layer_of == layer)
        at, laid = np.repeat(parents, len(options)), np.tile(options, len(parents))
        fits = self._has_room(np.column_stack([front.paths[at], laid]))
        return self._lay(front.take(at[fits]), laid[fits], np.repeat(prices, len(options))[fits])

    def _has_room(self, paths: Whole) -> NDArray[np.bool_]:
        """Whether no layer comes to more coats than its entry allows, in all steps together."""
        films = self._film[self.layer_of[paths]]
        same = films[:, :, None] == films[:, None, :]
        coats = np.where(same, self._adds[paths][:, None, :], 0.0).sum(axis=2)
        return np.asarray((coats <= self._room[films]).all(axis=1))

    def _lay(
        self, front: Front, options: Whole, prices: Array, blind: LayerPredictor | None = None
    ) -> Front:
        """One layer more on each recipe: options of one and the same layer, one for each.

        `blind` is the model by which all is laid without a reading between.
        """
        if not len(options):
            return replace(front, paths=np.column_stack([front.paths, options]))
        layer, coats = self.layers[self.layer_of[options[0]]], self._coats[options]
        bared = self.bared.get(layer)
        under = None if bared is None else bared.lab
        skin = self._skins[self.layer_of[front.paths[:, -1]]] if front.paths.size else None
        laid = Laid.on(front.lab, self._strength[options], coats, self.surface, under, skin)
        before = front.covariance if blind else self._doubt_before(layer, front)
        lab, covariance = (blind or self.model).predict_layer(layer, laid, before)
        if bared is not None:
            covariance = covariance + bared.covariance
        own = self.objective.prices
        price = front.price + prices + own.coat * (coats - 1.0) + own.day * self._days[options]
        return Front(np.column_stack([front.paths, options]), lab, covariance, price)

    def _doubt_before(self, layer: Layer, front: Front) -> Array:
        """What a layer takes over of the doubt before it, (n, 3, 3): where that is read, none.

        But a seal corrects nothing of what it covers, and what was never tried may lead anywhere.
        """
        if layer.kind == "seal" or not front.paths.size:
            return front.covariance
        tried = self._tried[self.layer_of[front.paths[:, -1]]]
        return np.where(tried[:, None, None], self.start.covariance, front.covariance)

    def _note_best(self, front: Front) -> None:
        """Work out the expectation for the best recipes and remember them."""
        far = delta_e_2000(front.lab, self.objective.target)
        self.nearest = min(self.nearest, float(far.min()))
        rough = self.objective.rough_costs(front.lab, front.covariance) + front.price
        front = front.take(self._best_of_each(front, rough, 4 * self.beam, 4))
        cost = self.objective.costs(front.lab, front.covariance) + front.price
        for at in range(len(front)):
            self._note(tuple(int(o) for o in front.paths[at]), float(cost[at]))

    def _keep_promising(self, front: Front) -> Front:
        """Keep the recipes from which one step more could come nearest.

        The step is taken as the best of those that the first layer could have been: what each
        option did to the bare surface, whatever the rules say.
        """
        if self._moves is None:
            # A fourth coordinate holds how much the option scatters: it adds to the distance.
            moves = self._moves_of(self.start, front)
            known = np.column_stack([moves.shift, moves.scatter])
            self._moves = scipy.spatial.cKDTree(np.vstack([np.zeros(4), known]))
        left = self.objective.ruled(self.objective.target - front.lab)
        far, _ = self._moves.query(np.column_stack([left, np.zeros(len(left))]))
        promise = far + front.price
        return front.take(self._best_of_each(front, promise, self.beam, 2))

    def moves_after(self, option: int) -> Moves:
        """What may follow an option that is laid first."""
        laid = self._after((option,))
        return self._moves_of(laid, self._expand(laid))

    def _moves_of(self, one: Front, front: Front) -> Moves:
        """What the last layer of each recipe does to one surface."""
        read = self.objective.scatter(self.start.covariance)
        scatter = np.sqrt(np.maximum(self.objective.scatter(front.covariance) ** 2 - read**2, 0.0))
        layers = self.layer_of[front.paths[:, -1]]
        last = np.array([layer.kind == "wax" for layer in self.layers])[layers]
        shift, price = self.objective.ruled(front.lab - one.lab), front.price - one.price
        return Moves(shift, scatter, price, layers, last)

    def _best_of_each(self, front: Front, cost: Array, most: int, of_each: int) -> Whole:
        """Indices of the best `of_each` of each last layer, then of the best, `most` in all.

        A seal hardly moves the colour and would lose to any tone, but it opens what may follow.
        """
        order = np.argsort(cost, kind="stable")
        last = self.layer_of[front.paths[order, -1]]
        rank = np.empty(len(order), dtype=np.intp)
        for layer in np.unique(last):
            mine = last == layer
            rank[mine] = np.arange(np.count_nonzero(mine))
        first = rank < of_each
        return np.concatenate([order[first], order[~first]])[:most]

    def _note(self, path: tuple[int, ...], cost: float) -> None:
        key = frozenset(self._sequence(path))
        if key not in self._found or cost < self._found[key].cost:
            self._found[key] = self._recipe(path, cost)

    def _recipe(self, path: tuple[int, ...], cost: float) -> Recipe:
        coats = tuple(self.options[at] for at in path)
        return Recipe(path, coats, cost, float(self._days[list(path)].sum()))

    def _refine(self, recipe: Recipe) -> None:
        """Change one step at a time in strength and coats while that helps."""
        for _ in range(3):
            better = min(self._changes(recipe), key=lambda r: r.cost, default=recipe)
            if better.cost >= recipe.cost - 1e-9:
                return
            recipe = better
            self._note(recipe.path, recipe.cost)

    def _changes(self, recipe: Recipe) -> Iterator[Recipe]:
        """For each step but the last, the recipe with that step's best strength and coats.

        Every strength of the last step was tried when the recipe was found.
        """
        path, sequence = recipe.path, self._sequence(recipe.path)
        prices = [self.price_of(sequence[: n + 1]) for n in range(len(path))]
        for step in range(len(path) - 1):
            one = np.zeros(1, dtype=np.intp)
            front = self._follow(
                self._after(path[:step]), sequence[step], one, np.array([prices[step]])
            )
            for option, price in zip(path[step + 1 :], prices[step + 1 :], strict=True):
                front = self._lay(front, np.full(len(front), option), np.full(len(front), price))
            front = front.take(np.flatnonzero(self._has_room(front.paths)))
            cost = self.objective.costs(front.lab, front.covariance) + front.price
            best = int(np.argmin(cost))
            yield self._recipe(tuple(int(o) for o in front.paths[best]), float(cost[best]))
