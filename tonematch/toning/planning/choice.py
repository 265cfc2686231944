"""Which of the recipes found are worth showing: good, unlike each other, the safe ones first."""

from collections.abc import Collection, Iterable, Sequence

from tonematch.toning.core import Layer
from tonematch.toning.layers.rules import is_irreversible
from tonematch.toning.planning.recipes import Recipe

MOST_PLANS = 5
# Choices of this project, no source: what a plan may cost more, in CIEDE2000, for sharing no layer
# with others; and how much more than the best a plan that is shown.
DIFFERENCE_IN_KIND = 1.0
WORSE_THAN_BEST = 4.0


def is_gamble(laid: Iterable[Layer], tried: Collection[str]) -> bool:
    """Whether one of these layers cannot be undone and was never tried."""
    return any(is_irreversible(layer) for layer in laid if layer.name not in tried)


def worth_showing(recipes: Sequence[Recipe], tried: Collection[str]) -> list[Recipe]:
    """Of recipes, the best first, up to five that differ.

    Those that gamble come last, and never only those if there is another. `tried` are the names of
    the layers that have trials.
    """

    def gambles(recipe: Recipe) -> bool:
        return is_gamble(recipe.layers, tried)

    chosen = sorted(_different(recipes), key=gambles)
    safe = next((recipe for recipe in recipes if not gambles(recipe)), None)
    if safe is not None and gambles(chosen[0]):
        chosen = [safe, *chosen[: MOST_PLANS - 1]]
    return chosen


def _different(recipes: Sequence[Recipe]) -> list[Recipe]:
    """The best recipe, then others that are good and share little with those before."""
    if not recipes:
        return []
    rest = [r for r in recipes if r.cost <= recipes[0].cost + WORSE_THAN_BEST]
    chosen: list[Recipe] = []
    while rest and len(chosen) < MOST_PLANS:
        best = min(rest, key=lambda r: r.cost + DIFFERENCE_IN_KIND * _likeness(r, chosen))
        chosen.append(best)
        # A plan that differs only by a seal, or not at all, is no other plan.
        rest = [r for r in rest if _tones(r) != _tones(best)]
    return [chosen[0], *sorted(chosen[1:], key=lambda r: r.cost)]


def _likeness(recipe: Recipe, others: Sequence[Recipe]) -> float:
    """Greatest share of layers in common with one of the others, 0 to 1 (Jaccard)."""
    mine = _tones(recipe)
    return max((len(mine & _tones(o)) / len(mine | _tones(o)) for o in others), default=0.0)


def _tones(recipe: Recipe) -> frozenset[str]:
    """Names of the layers that tone; of the seals where there is nothing else."""
    tones = frozenset(layer.name for layer in recipe.layers if layer.kind != "seal")
    return tones or frozenset(layer.name for layer in recipe.layers)
