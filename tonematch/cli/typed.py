"""What people type, as values; what cannot be one is refused in one sentence."""

import math
from collections.abc import Sequence
from datetime import date
from typing import TYPE_CHECKING, Any, cast

from tonematch.errors import AreaError, ValueRefused

if TYPE_CHECKING:
    from tonematch.measure.area.areas import Box
    from tonematch.measure.core import Area
    from tonematch.toning.core import Finish, Layer, Technique
    from tonematch.toning.model.chain import Coat


def named_box(text: str) -> "tuple[str, Box]":
    """NAME=x,y,w,h."""
    from tonematch.measure.area.areas import parse_box

    name, equals, box = text.rpartition("=")
    if not equals:
        raise AreaError(f"'{text}' names no area: write NAME=x,y,w,h, such as old=120,80,60,40.")
    return name, parse_box(box)


def neutral(text: str) -> "tuple[Area, float]":
    """x,y,w,h=REFLECTANCE."""
    from tonematch.measure.area.areas import box_area, parse_box

    box, _, reflectance = text.partition("=")
    try:
        value = float(reflectance)
    except ValueError as error:
        raise AreaError(
            f"'{text}' is not a neutral: write x,y,w,h=REFLECTANCE, such as 10,20,30,30=0.9."
        ) from error
    return box_area(f"neutral of {value:g}", parse_box(box)), value


def layers_named(text: str, shelf: "dict[str, Layer]") -> "list[Layer]":
    """NAME,NAME,... of layers on the shelf."""
    from tonematch.toning.layers.shelf import find_layer

    return [find_layer(shelf, name) for name in text.split(",")]


def corners(option: str, text: str) -> list[tuple[float, float]]:
    """x1,y1,x2,y2,x3,y3,x4,y4."""
    found = _numbers_in(text)
    if len(found) != 8:
        raise AreaError(
            f"{option} {text}: give the four corners as eight numbers, x1,y1,x2,y2,x3,y3,x4,y4, in "
            "pixels of the upright picture."
        )
    return list(zip(found[::2], found[1::2], strict=True))


def coat(text: str, shelf: "dict[str, Layer]") -> "Coat":
    """NAME:STRENGTH[:COATS] of a layer on the shelf."""
    from tonematch.toning.layers.layer_entry import check_amount
    from tonematch.toning.layers.shelf import find_layer
    from tonematch.toning.model.chain import Coat

    name, *amounts = text.split(":")
    try:
        strength = float(amounts[0])
        coats = int(amounts[1]) if len(amounts) > 1 else 1
    except (IndexError, ValueError):
        amounts = []
    if len(amounts) not in (1, 2):
        raise ValueRefused(
            f"'{text}' is not a layer with its strength: write NAME:STRENGTH or "
            "NAME:STRENGTH:COATS, such as 'raw umber wash:0.5'."
        )
    layer = find_layer(shelf, name)
    check_amount(layer.name, strength, coats)
    return Coat(layer, strength, coats)


def three_numbers(option: str, text: str) -> list[float]:
    """Three numbers with commas between."""
    found = _numbers_in(text)
    if len(found) != 3:
        raise ValueRefused(f"{option} {text}: give three numbers, such as 80.5,6.2,33.")
    return found


def deviations(option: str, text: str) -> list[float]:
    """Standard uncertainties of L*, a*, b*."""
    found = three_numbers(option, text)
    if min(found) < 0.0:
        raise ValueRefused(f"{option} {text}: an uncertainty is never below 0; give three others.")
    return found


def numbers(option: str, text: str) -> list[float]:
    """Numbers with commas between, one or more."""
    found = _numbers_in(text)
    if not found:
        raise ValueRefused(f"{option} {text}: give numbers with commas between, such as 0.5,1.")
    return found


def whole_numbers(option: str, text: str) -> list[int]:
    """Whole numbers with commas between, each once."""
    try:
        return list(dict.fromkeys(int(part) for part in text.split(",")))
    except ValueError as error:
        raise ValueRefused(
            f"{option} {text}: give whole numbers with commas between, such as 1,2,5."
        ) from error


def day(option: str, text: str) -> str:
    """A date, year first (ISO 8601)."""
    try:
        return date.fromisoformat(text).isoformat()
    except ValueError as error:
        raise ValueRefused(
            f"{option} {text}: write a date, year first, such as 2026-05-31."
        ) from error


def _numbers_in(text: str) -> list[float]:
    """All of them finite; none where the text is anything else."""
    try:
        found = [float(part) for part in text.split(",")]
    except ValueError:
        return []
    return found if all(map(math.isfinite, found)) else []


def lab(option: str, text: str) -> Any:
    """L,a,b of a surface."""
    from tonematch.measure.colour.convert import check_lab

    return check_lab(f"surface given with {option}", three_numbers(option, text))


def technique_named(text: str) -> "Technique":
    """How the leaf was laid."""
    return cast("Technique", one_of("--technique", text, ("water", "oil", "unknown")))


def finish_named(text: str) -> "Finish":
    """How the leaf was finished."""
    return cast("Finish", one_of("--finish", text, ("burnished", "matte", "unknown")))


def bole_named(option: str, text: str) -> str:
    """What lies beneath the leaf."""
    from tonematch.toning.layers.shelf import load_boles

    return one_of(option, text, [*load_boles()])


def one_of(option: str, text: str, allowed: Sequence[str]) -> str:
    """A word among those allowed."""
    if text not in allowed:
        *others, last = allowed
        words = f"{', '.join(others)} or {last}" if others else last
        raise ValueRefused(f"{option} {text} is not known: give {words}.")
    return text
