"""What people type, as values; what cannot be one is refused in one sentence.

What `_option` marks makes options: a command receives the value, a refusal names the option.
"""

import math
from collections.abc import Callable, Sequence
from datetime import date
from functools import partial
from typing import TYPE_CHECKING, Any

import typer

from tonematch import arrays
from tonematch.errors import ValueRefused
from tonematch.measure.area import areas
from tonematch.measure.area.areas import parse_shape, shape_area
from tonematch.measure.colour.convert import check_lab
from tonematch.measure.core import Area
from tonematch.toning.core import Coat, Layer
from tonematch.toning.layers.layer_entry import check_amount
from tonematch.toning.layers.leaf import load_leaves
from tonematch.toning.layers.mix import read_pot
from tonematch.toning.layers.shelf import find_layer, load_boles

if TYPE_CHECKING:
    Lab = arrays.Vector3
    Shape = areas.Shape
    NamedShape = tuple[str, Shape]
    Maker = tuple[str, str]
    Neutral = tuple[Area, float]
    Corners = list[tuple[float, float]]
    Numbers = list[float]
    WholeNumbers = list[int]
    LaidLeaf = tuple[str, Lab]
    Pot = float
else:
    # The parser goes by what reads the text; of a list it would make an option that is repeated.
    Lab = Shape = NamedShape = Maker = Neutral = Corners = Numbers = WholeNumbers = LaidLeaf = (
        Pot
    ) = Any


def _option(metavar: str, wanted: str = "") -> Callable[[Callable[[str], Any]], partial[Any]]:
    """An option of what reads its text; where that cannot, it says what to give."""

    def made(read: Callable[[str], Any]) -> partial[Any]:
        def parse(text: str) -> Any:
            try:
                return read(text)
            except (ValueError, ValueRefused) as error:
                raise typer.BadParameter(f"{text}: give {wanted}") from error

        return partial(typer.Option, parser=parse, metavar=metavar)

    return made


@_option("BOX")
def shape(text: str) -> Shape:
    """A box of a picture, or another shape by its corners."""
    return parse_shape(text)


@_option("NAME=x,y,w,h", "NAME=x,y,w,h, such as old=120,80,60,40")
def named_shape(text: str) -> NamedShape:
    """A box or another shape with its name."""
    name, sides = text.rsplit("=", 1)
    return name, parse_shape(sides)


@_option("x,y,w,h=REFLECTANCE", "x,y,w,h=REFLECTANCE, such as 10,20,30,30=0.9")
def neutral(text: str) -> Neutral:
    """A grey with what it reflects."""
    sides, reflectance = text.rsplit("=", 1)
    value = float(reflectance)
    return shape_area(f"neutral of {value:g}", parse_shape(sides)), value


@_option("LAYER=WORDS", "LAYER=WORDS, such as 'raw umber wash=a maker, batch 12'")
def maker(text: str) -> Maker:
    """Who made what was laid, and of which batch."""
    layer, words = text.split("=", 1)
    return layer.strip(), words.strip()


@_option("x1,y1,...,x4,y4", "the four corners as eight numbers, in pixels of the upright picture")
def corners(text: str) -> Corners:
    """Four corners in a picture."""
    found = _finite(text, 8)
    return list(zip(found[::2], found[1::2], strict=True))


@_option("L,a,b", "three numbers, L* from 0 to 100, a* and b* within 150 of neutral")
def lab(text: str) -> Lab:
    """Colour of a surface."""
    return check_lab("surface", _finite(text, 3))


@_option("L,a,b", "three numbers, such as 80.5,6.2,33")
def three_numbers(text: str) -> Numbers:
    """A colour that is yet to be checked."""
    return _finite(text, 3)


@_option("L,a,b", "three numbers, never below 0, such as 0.5,0.3,0.8")
def deviations(text: str) -> Numbers:
    """Standard uncertainties of L*, a*, b*."""
    found = _finite(text, 3)
    if min(found) < 0.0:
        raise ValueError(text)
    return found


@_option("NUMBER,...", "numbers with commas between, such as 0.5,1")
def numbers(text: str) -> Numbers:
    """One number or more."""
    return _finite(text)


@_option("NUMBER,...", "whole numbers with commas between, such as 1,2,5")
def whole_numbers(text: str) -> WholeNumbers:
    """Each once."""
    return list(dict.fromkeys(map(int, text.split(","))))


@_option("YYYY-MM-DD", "a date, year first, such as 2026-05-31")
def day(text: str) -> str:
    """As ISO 8601 writes it."""
    return date.fromisoformat(text).isoformat()


@_option("VOLUME", "a volume from 1 ml to 5 l, such as 50ml")
def pot(text: str) -> Pot:
    """How much is mixed, in ml."""
    return read_pot(text)


@_option("BOLE")
def bole(text: str) -> str:
    """What lies beneath the leaf."""
    return _one_of(text, [*load_boles()])


@_option("LEAF")
def leaf(text: str) -> str:
    """Leaf that can be laid."""
    return _one_of(text, [one.name for one in load_leaves()])


@_option("LEAF=L,a,b", "LEAF=L,a,b, such as '23.75 carat=74,6.5,29'")
def laid_leaf(text: str) -> LaidLeaf:
    """Leaf that was read, and what it reads."""
    name, colour = text.rsplit("=", 1)
    known = _one_of(name, [one.name for one in load_leaves()])
    return known, check_lab("strip of leaf", _finite(colour, 3))


def told(**values: object) -> dict[str, Any]:
    """Those that were typed."""
    return {name: value for name, value in values.items() if value is not None}


def known(choice: str) -> str | None:
    """What was chosen, or None for 'unknown'."""
    return None if choice == "unknown" else choice


def layers_named(text: str, shelf: dict[str, Layer]) -> list[Layer]:
    """NAME,NAME,... of layers on the shelf."""
    return [find_layer(shelf, name) for name in text.split(",")]


def coat(text: str, shelf: dict[str, Layer]) -> Coat:
    """NAME:STRENGTH[:COATS] of a layer on the shelf."""
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


def _finite(text: str, count: int | None = None) -> list[float]:
    found = [float(part) for part in text.split(",")]
    if len(found) != (count or len(found)) or not all(map(math.isfinite, found)):
        raise ValueError(text)
    return found


def _one_of(text: str, allowed: Sequence[str]) -> str:
    if text not in allowed:
        raise typer.BadParameter(f"{text} is not one of {', '.join(map(repr, allowed))}")
    return text
