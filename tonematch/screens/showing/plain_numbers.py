"""Numbers as a gilder says them."""

from tonematch.logbook.core import Piece
from tonematch.toning.core import Layer
from tonematch.toning.planning.plan_words import say_hours

_EIGHTHS = (*"⅛¼⅜½⅝¾⅞", "full")


def say_piece(piece: Piece) -> str:
    """Its name and zone, and that it is invented where it is."""
    if piece.invented and "invented" not in piece.name:
        return f"{piece.title} (invented)"
    return piece.title


def say_times(number: int) -> str:
    """``once``, ``12 times``."""
    return "once" if number == 1 else f"{number} times"


def say_part(strength: float) -> str:
    """A part of the full mix in the room of a swatch: ``⅜``, ``0.3``, ``full``."""
    eighths = strength * 8.0
    return _EIGHTHS[int(eighths) - 1] if eighths in range(1, 9) else f"{strength:g}"


def say_layers(number: int, invented: int = 0) -> str:
    """``1 layer laid and read``, ``12 layers laid and read, 3 of them invented``."""
    words = f"{number} layer{'' if number == 1 else 's'} laid and read"
    return f"{words}, {invented} of them invented" if invented else words


def say_drying(layer: Layer) -> str:
    """How long each coat dries, in minutes, hours or days."""
    if layer.kind == "rub" or layer.drying_hours[1] == 0:
        return "nothing to dry"
    return f"each coat dries {say_hours(*layer.drying_hours)}"
