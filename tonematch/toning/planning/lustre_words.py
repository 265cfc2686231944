"""What is said of lustre: where a plan leaves it, and what a layer does to it."""

from collections.abc import Sequence

from tonematch.measure.words import capital
from tonematch.swatchbook import limits
from tonematch.toning.core import Layer, LustreStep, PlanLustre, Step, Surface, Trial
from tonematch.toning.layers.mix import say_share
from tonematch.toning.model.lustre_law import (
    LayerLustre,
    LustrePrediction,
    load_lustre_priors,
    lustre_after,
)

LUSTRE_UNTRIED = "You have not measured the lustre of these layers yet: it is the shelf's guess."


def say_stops(lustre: float | None) -> str:
    """``1.42 stops``, or that nobody measured it."""
    return "not measured" if lustre is None else f"{lustre:.2f} stops"


def say_trial_lustre(trial: Trial) -> str:
    """Lustre before and after a layer; empty where neither was measured."""
    before, after = trial.before_lustre, trial.after_lustre
    if before is None and after is None:
        return ""
    return f"lustre before {say_stops(before)}, after {say_stops(after)}"


def is_apart(end: LustrePrediction, target: float) -> bool:
    """Whether two lustres part by more than counts as alike (swatches/limits.toml)."""
    return bool(abs(end.stops - target) > limits("lustre")["alike_stops"])


def say_lustre(
    end: LustrePrediction, target: float, last: LustreStep | None, *, laid: bool, tried: bool
) -> tuple[str, ...]:
    """Where a plan leaves the lustre, beside the old gold's, and what nobody measured yet.

    `last` is what laid last would bring it nearest; `laid` tells whether the plan lays anything,
    `tried` whether any trial of what it lays has a lustre.
    """
    said = "The lustre should end" if laid else "The lustre is now"
    if not is_apart(end, target):
        said += " about like the old gold's."
    else:
        said += f" {'shinier' if end.stops > target else 'duller'} than the old gold's."
        said += f" {_say_last(last)}"
    return (said, LUSTRE_UNTRIED) if laid and not tried else (said,)


def say_lustre_numbers(lustre: PlanLustre) -> str:
    """``lustre 1.2 stops (95 % interval 1.0 to 1.4), the old gold's 2.1``."""
    end = f"{lustre.stops:.1f} stops (95 % interval {_span(lustre.interval)})"
    last = "" if lustre.last is None else f", with {lustre.last.layer} {lustre.last.stops:.1f}"
    return f"lustre {end}{last}, the old gold's {lustre.original:.1f}"


def say_lustre_of_last(surface: Surface, laid: Sequence[Layer], steps: Sequence[Step]) -> str:
    """What the last layer that touches the lustre does to it, where no lustre was measured.

    One sentence by the first guesses of swatches/lustre.toml: a shellac is glossier than matte gold
    and duller than a burnish. Empty where no layer touches the lustre.
    """
    touching = [(layer, s) for layer, s in zip(laid, steps, strict=True) if layer.lustre]
    if not touching:
        return ""
    *under, (last, _) = touching
    amounts = [(layer, 1.0) for layer in surface.beneath if layer.lustre]
    amounts += [(layer, step.strength * step.coats) for layer, step in under]
    own = load_lustre_priors().words[last.lustre].own
    raises = {own > _guessed(start, amounts) for start in _bare(surface)}
    if last.lustre == "satin":
        does = "leaves the surface satin"
    elif len(raises) == 2:
        does = "leaves its own lustre, shinier than matte gold and duller than a burnish"
    else:
        does = "raises the lustre" if raises == {True} else "lowers the lustre"
    return f"{capital(last.name)} {does}."


def _bare(surface: Surface) -> tuple[float, ...]:
    """Guesses at the lustre of the bare gold, stops: two where nobody knows how it is finished."""
    guess = load_lustre_priors()
    if surface.finish == "burnished":
        return (guess.burnished,)
    if surface.finish == "matte" or surface.technique == "oil":  # oil gilding takes no burnish
        return (guess.matte,)
    return guess.burnished, guess.matte


def _guessed(bare: float, amounts: Sequence[tuple[Layer, float]]) -> float:
    stops = bare
    for layer, amount in amounts:
        word = load_lustre_priors().words[layer.lustre]
        stops = float(lustre_after(word.own, word.pull, stops, amount))
    return stops


def _say_last(last: LustreStep | None) -> str:
    if last is None:
        return "No layer of this shelf that may go over it now brings it nearer."
    coats = "" if last.coats == 1 else f" in {last.coats} coats"
    share = "" if last.strength == 1.0 else f"{say_share(last.strength)} "
    return f"Laid last, {last.layer} at {share}full strength{coats} would bring it nearest."


def say_layer_lustre(learned: LayerLustre, guess: LayerLustre) -> str:
    """What a layer does to the lustre as learned, beside the guess without any trials."""
    first = f"First guess: {_say_layer(guess)}."
    if learned.trials == 0:
        others = "" if learned.own == guess.own else f" From layers like it: {_say_layer(learned)}."
        return f"No trial of it has a lustre yet. {first}{others}"
    trials = "1 trial" if learned.trials == 1 else f"{learned.trials} trials"
    return f"Learned from {trials} with a lustre: {_say_layer(learned)}. {first}"


def _say_layer(layer: LayerLustre) -> str:
    low, high = layer.taken_interval
    return (
        f"its own lustre is {layer.own:.1f} stops (95 % interval {_span(layer.own_interval)}), and "
        f"one full coat takes {100 * layer.taken:.0f} % of the way there ({100 * low:.0f} to "
        f"{100 * high:.0f} %)"
    )


def _span(interval: tuple[float, float]) -> str:
    return "{:.1f} to {:.1f}".format(*interval)
