"""Numbers as a gilder says them."""

from tonematch.in_words import say_probability
from tonematch.logbook.core import Piece
from tonematch.toning.core import Layer, Step
from tonematch.toning.layers.coats import say_coats
from tonematch.toning.planning.plan_words import say_hours

_CHANCES = (
    (0.95, "almost sure"),
    (0.80, "very likely"),
    (0.60, "likely"),
    (0.40, "as likely as not"),
    (0.20, "unlikely"),
    (0.05, "very unlikely"),
    (0.0, "hardly possible"),
)


def say_piece(piece: Piece) -> str:
    """Its name and zone, and that it is invented where it is."""
    if piece.invented and "invented" not in piece.name:
        return f"{piece.title} (invented)"
    return piece.title


def say_chance(chance: float) -> str:
    """A probability, 0 to 1, as words and per cent: ``likely (64 %)``."""
    words = next(words for least, words in _CHANCES if chance >= least)
    return f"{words} ({say_probability(chance)})"


def say_to_lay(step: Step) -> str:
    """A step in one line: ``umber glaze, strength 0.5, 2 coats``."""
    return f"{step.layer}, strength {step.strength:g}, {say_coats(step.coats)}"


def say_trials(number: int, invented: int = 0) -> str:
    """``1 trial``, ``12 trials, 3 of them invented``."""
    words = "1 trial" if number == 1 else f"{number} trials"
    return f"{words}, {invented} of them invented" if invented else words


def count_cautions(number: int) -> str:
    """``1 caution``, ``3 cautions``."""
    return "1 caution" if number == 1 else f"{number} cautions"


def say_drying(layer: Layer) -> str:
    """How long each coat dries, in minutes, hours or days."""
    if layer.kind == "rub" or layer.drying_hours[1] == 0:
        return "nothing to dry"
    return f"each coat dries {say_hours(*layer.drying_hours)}"
