"""A colour difference as a gilder would say it."""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import ArrayLike

from tonematch.arrays import Vector3
from tonematch.measure.colour.difference import delta_e_2000

# Hue angles of the four unique hues in CIELAB, degrees, rounded; they tell which way a hue
# moves. From memory of the NCS elementary hues; only their order matters near gold's 60 to 90.
_UNIQUE_HUES = ((25.0, "red"), (90.0, "yellow"), (165.0, "green"), (255.0, "blue"), (385.0, "red"))

# Below this chroma a hue has no name that an eye would agree with: a* and b* are used instead.
_NEARLY_GREY = 5.0

# A part of the difference is said when it weighs a third of the largest and 0.25 CIEDE2000.
_SAID_SHARE, _SAID_LEAST = 1 / 3, 0.25

_COMPARATIVE = {"red": "redder", "yellow": "yellower", "green": "greener", "blue": "bluer"}
_OPPOSITE = {
    "lighter": "darker",
    "darker": "lighter",
    "cleaner": "duller",
    "duller": "cleaner",
    "redder": "greener",
    "yellower": "bluer",
    "greener": "redder",
    "bluer": "yellower",
}
# How gilders call directions of gold; what warm and cool gold is, is common practice, no source.
_TO_THE_EYE = {
    **{"cleaner": "stronger", "duller": "greyer", "redder": "warmer"},
    **dict.fromkeys(("yellower", "greener", "bluer"), "cooler"),
}
WAYS = ("lighter", "darker", "warmer", "cooler", "stronger", "greyer")


@dataclass(frozen=True)
class Part:
    """One direction of a difference: its word, its weight in CIEDE2000, and the way back."""

    word: str
    weight: float
    back: str


def say_difference(lab_original: ArrayLike, lab_repair: ArrayLike, tolerance: float) -> str:
    """The difference from the original to the repair in words, and what to do about it.

    One or two sentences, largest part first. Both colours are CIELAB (3,), D50, 2 degree; up to the
    tolerance, in CIEDE2000, nothing needs to be done.

    Examples
    --------
    >>> say_difference([60, 8, 30], [66, 8, 30], 2.0)
    'The repair is much lighter than the original: tone it darker.'
    """
    original = np.asarray(lab_original, dtype=np.float64)
    repair = np.asarray(lab_repair, dtype=np.float64)
    whole = float(delta_e_2000(original, repair))
    parts = difference_parts(original, repair)
    if not parts:
        return "The repair reads the same as the original."
    said = f"The repair is {say_change(original, repair)} than the original"
    if whole <= tolerance:
        return f"{said}, near enough."
    return f"{said}: {_remedy(parts)}."


def say_change(one: Vector3, other: Vector3) -> str:
    """How the other colour departs, ``much darker and a little duller``; empty where it does not.

    Both are CIELAB, shape (3,).
    """
    parts = difference_parts(one, other)
    return join_words([_graded(part) for part in parts]) if parts else ""


def ways_off(original: Vector3, repair: Vector3) -> tuple[str, ...]:
    """The directions in which a repair departs as an eye trains on them, heaviest first.

    Each is one of `WAYS`; both colours are CIELAB, shape (3,).
    """
    words = (part.word for part in difference_parts(original, repair))
    return tuple(dict.fromkeys(_TO_THE_EYE.get(word, word) for word in words))


def difference_parts(original: Vector3, repair: Vector3) -> list[Part]:
    """The directions in which a repair departs, heaviest first, those worth saying.

    Each part's weight is the CIEDE2000 of that part alone, from the middle of the two.
    """
    chroma = math.hypot(*original[1:]), math.hypot(*repair[1:])
    parts = [_along(original, repair, 0, "lighter", "darker")]
    if min(chroma) < _NEARLY_GREY:
        parts.append(_along(original, repair, 1, "redder", "greener"))
        parts.append(_along(original, repair, 2, "yellower", "bluer"))
    else:
        parts += _chroma_and_hue(original, repair)
    parts.sort(key=lambda part: -part.weight)
    least = max(_SAID_LEAST, _SAID_SHARE * parts[0].weight)
    return [part for part in parts if part.weight >= least]


def _along(original: Vector3, repair: Vector3, axis: int, more: str, less: str) -> Part:
    """The part along L*, a* or b* alone."""
    one = (original + repair) / 2.0
    other = one.copy()
    one[axis], other[axis] = original[axis], repair[axis]
    word = more if other[axis] > one[axis] else less
    return Part(word, _weight(one, other), _OPPOSITE[word])


def _chroma_and_hue(original: Vector3, repair: Vector3) -> list[Part]:
    """Chroma and hue parts; the hue moves on the shorter way around."""
    c1, c2 = math.hypot(*original[1:]), math.hypot(*repair[1:])
    h1 = math.degrees(math.atan2(original[2], original[1]))
    h2 = math.degrees(math.atan2(repair[2], repair[1]))
    turn = (h2 - h1 + 180.0) % 360.0 - 180.0
    lightness = (original[0] + repair[0]) / 2.0
    chroma, hue = (c1 + c2) / 2.0, h1 + turn / 2.0
    word = "cleaner" if c2 > c1 else "duller"
    by_chroma = _weight(_polar(lightness, c1, hue), _polar(lightness, c2, hue))
    by_hue = _weight(_polar(lightness, chroma, h1), _polar(lightness, chroma, h1 + turn))
    towards, back = _next_hue(hue, turn), _next_hue(hue, -turn)
    return [
        Part(word, by_chroma, _OPPOSITE[word]),
        Part(_COMPARATIVE[towards], by_hue, _COMPARATIVE[back]),
    ]


def _polar(lightness: float, chroma: float, hue: float) -> Vector3:
    angle = math.radians(hue)
    return np.array([lightness, chroma * math.cos(angle), chroma * math.sin(angle)])


def _next_hue(hue: float, turn: float) -> str:
    """The unique hue that a hue is moving towards."""
    at = (hue - _UNIQUE_HUES[0][0]) % 360.0 + _UNIQUE_HUES[0][0]
    for (low, below), (high, above) in pairwise(_UNIQUE_HUES):
        if low <= at < high:
            return above if turn > 0 else below
    return _UNIQUE_HUES[-1][1]


def _weight(one: Vector3, other: Vector3) -> float:
    return float(delta_e_2000(one, other))


def _graded(part: Part) -> str:
    if part.weight < 1.0:
        return f"a little {part.word}"
    return f"much {part.word}" if part.weight > 4.0 else part.word


def _remedy(parts: Sequence[Part]) -> str:
    asked = join_words([part.back for part in parts])
    if any(part.word == "darker" for part in parts):
        return f"it must become {asked}; toning seldom lightens, so take back what was laid"
    return f"tone it {asked}"


def join_words(words: Sequence[str]) -> str:
    """``a``, ``a and b``, ``a, b and c``."""
    return " and ".join([*filter(None, [", ".join(words[:-1])]), words[-1]])


def capital(text: str) -> str:
    """A sentence as it begins."""
    return text[:1].upper() + text[1:]


def plain_lab(lab: Vector3) -> str:
    """``80.0, 8.0, 30.0``."""
    return ", ".join(f"{value:.1f}" for value in lab)
