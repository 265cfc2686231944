"""Which of the recipes found are worth showing: each for something that the others do not do."""

from collections.abc import Callable, Collection, Iterable, Sequence
from dataclasses import replace

from tonematch.toning.core import Layer, Plan
from tonematch.toning.layers.rules import comes_off, is_irreversible
from tonematch.toning.planning.recipes import Recipe

# Choices of this project, no source: what a plan may cost more than the best, in CIEDE2000, to be
# shown for something else; and by how many days on the bench it must be quicker.
WORSE_THAN_BEST = 2.5
DAYS_QUICKER = 0.5
# Chance to get there, each layer read, below which it is no plan to lay: strips come first.
WORTH_LAYING = 0.2


def is_offered(plan: Plan) -> bool:
    """Whether a plan gets there often enough to be laid, and not only to be learned from."""
    return plan.chance_read >= WORTH_LAYING


def is_gamble(laid: Iterable[Layer], tried: Collection[str]) -> bool:
    """Whether one of these layers cannot be undone and was never tried."""
    return any(is_irreversible(layer) for layer in laid if layer.name not in tried)


def worth_showing(recipes: Sequence[Recipe], tried: Collection[str]) -> list[Recipe]:
    """Of recipes, the nearest first: it, the quickest, the most easily undone, one with others.

    Each says for what it is shown. A gamble is the first only where there is nothing else. `tried`
    are the names of the layers that have trials.
    """
    if not recipes:
        return []
    nearest = replace(recipes[0], virtue="the nearest")
    recipes = [nearest, *recipes[1:]]
    first = next((r for r in recipes if not is_gamble(r.layers, tried)), nearest)
    chosen = [nearest] if first is nearest else [replace(first, virtue="the safest"), nearest]
    good = [r for r in recipes if r.cost <= first.cost + WORSE_THAN_BEST]
    for virtue, price, better in _VIRTUES:
        other = min(good, key=lambda r: (price(r), r.cost))
        if price(other) <= price(first) - better and not _alike(other, chosen):
            chosen.append(replace(other, virtue=virtue))
    strange = [r for r in good if not any(_tones(r) & _tones(o) for o in chosen)]
    return chosen + [replace(r, virtue="with other layers") for r in strange[:1]]


def _hard_to_undo(recipe: Recipe) -> float:
    return sum(1.0 + is_irreversible(layer) for layer in recipe.layers if not comes_off(layer))


# For what a plan is shown beside the nearest, the price of that, and by how much it must be less.
_VIRTUES: tuple[tuple[str, Callable[[Recipe], float], float], ...] = (
    ("the quickest", lambda recipe: recipe.days, DAYS_QUICKER),
    ("the most easily undone", _hard_to_undo, 1.0),
)


def _alike(recipe: Recipe, others: Iterable[Recipe]) -> bool:
    """Whether it lays what one of the others does, but for a seal."""
    return any(_tones(recipe) == _tones(other) for other in others)


def _tones(recipe: Recipe) -> frozenset[str]:
    """Names of the layers that tone; of the seals where there is nothing else."""
    tones = frozenset(layer.name for layer in recipe.layers if layer.kind != "seal")
    return tones or frozenset(layer.name for layer in recipe.layers)
