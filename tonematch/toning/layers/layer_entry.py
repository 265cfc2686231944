"""What an entry of a layer may say: each field checked, from the shelf's file or from a form."""

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import fields
from functools import cache
from typing import Any

from tonematch.errors import ShelfError, ValueRefused
from tonematch.toning.core import SHELF_KINDS, Layer, Mix
from tonematch.toning.layers.mix import HOW_TO_WRITE, read_mix
from tonematch.toning.layers.rule_table import load_vocabulary
from tonematch.toning.layers.taking_back import ways_to_take_back

MOST_STRENGTH = 10.0  # full strength is 1: beyond this a slip of the pen is likelier than a mix
MOST_COATS = 20
MOST_NAME, MOST_TEXT = 100, 10_000  # characters: a name fits on a label, a text on a few pages


def fault_of_length(text: str, most: int) -> str:
    """What is wrong with a text that is too long, empty where nothing is."""
    return f"it has {len(text)} characters; write at most {most}" if len(text) > most else ""


def check_amount(name: str, strength: float, coats: int) -> None:
    """Refuse a strength or a number of coats that cannot be laid (ValueRefused)."""
    if not math.isfinite(strength) or not 0 < strength <= MOST_STRENGTH:
        raise ValueRefused(
            f"A strength of {strength:g} for {name!r} cannot be laid: give a number above 0 and up "
            f"to {MOST_STRENGTH:g}; 1 is the full-strength mix."
        )
    if not 1 <= coats <= MOST_COATS:
        raise ValueRefused(
            f"{coats} coats of {name!r} cannot be laid: give a whole number from 1 to {MOST_COATS}."
        )


def layer_from_entry(entry: Mapping[str, Any]) -> Layer:
    """A layer from one table of swatches/layers.toml, or one like it, every field checked.

    Raises ShelfError, which names the layer and the field.
    """
    name = entry["name"]
    if not name:
        raise ShelfError("Give the layer a name.")
    for field, text in entry.items():
        long = fault_of_length(str(text), MOST_NAME if field == "name" else MOST_TEXT)
        if long:
            raise ShelfError(f"Layer {name[:20]!r}, {_in_words(field)}: {long}.")
    checks = _checks()
    for field, value in entry.items():
        fits, expected = checks[field]
        if not fits(value):
            raise ShelfError(f"Layer {name!r}, {_in_words(field)}: {value!r} is not {expected}.")
    values: dict[str, Any] = {k: tuple(v) if isinstance(v, list) else v for k, v in entry.items()}
    if isinstance(entry.get("mix"), str):
        values["mix"] = read_mix(entry["mix"])
    return Layer(**values)


def _in_words(field: str) -> str:
    return field.replace("_", " ")


def _number(value: object) -> bool:
    return isinstance(value, int | float) and not isinstance(value, bool) and math.isfinite(value)


def _numbers(value: object, count: int) -> bool:
    return isinstance(value, list | tuple) and len(value) == count and all(map(_number, value))


def _texts(value: object) -> bool:
    return isinstance(value, list | tuple) and all(isinstance(text, str) and text for text in value)


def _bands(value: Any) -> bool:
    return _numbers(value, 3) and min(value) >= 0


def _strengths(value: Any) -> bool:
    return (
        isinstance(value, list | tuple)
        and len(value) > 0
        and all(_number(x) and 0 < x <= MOST_STRENGTH for x in value)
        and list(value) == sorted(set(value))
    )


def _hours(value: Any) -> bool:
    return _numbers(value, 2) and 0 <= value[0] <= value[1]


def _mix(value: Any) -> bool:
    try:
        return value is None or isinstance(value, Mix) or bool(read_mix(value))
    except (ShelfError, AttributeError):
        return False


def _coats(value: Any) -> bool:
    return isinstance(value, int) and not isinstance(value, bool) and 1 <= value <= MOST_COATS


@cache
def _checks() -> dict[str, tuple[Callable[[Any], bool], str]]:
    """For each field of a layer: what it must pass, and what to call that."""
    vocabulary = load_vocabulary()
    text: tuple[Callable[[Any], bool], str] = (lambda value: isinstance(value, str), "a text")
    bands: tuple[Callable[[Any], bool], str] = (_bands, "three numbers of 0 or more")
    return {
        **dict.fromkeys((field.name for field in fields(Layer)), text),
        "kind": _one_of(SHELF_KINDS),
        "binder": _one_of(vocabulary.binders),
        "solvent": _one_of(vocabulary.solvents),
        "absorption": bands,
        "scattering": bands,
        "cover": (lambda value: _number(value) and 0 <= value <= 1, "a number from 0 to 1"),
        "strengths": (
            _strengths,
            f"a list of numbers above 0 and up to {MOST_STRENGTH:g}, each once, rising",
        ),
        "most_coats": (_coats, f"a whole number from 1 to {MOST_COATS}"),
        "drying_hours": (_hours, "two numbers of hours, the shorter first"),
        "mix": (_mix, HOW_TO_WRITE),
        "taken_back_by": _one_of(("", *ways_to_take_back())),
        "lustre": _one_of(("raises", "lowers", "satin", "")),
        "cautions": (_texts, "a list of sentences"),
        "at_hand": (lambda value: isinstance(value, bool), "true or false"),
    }


def _one_of(words: Sequence[str]) -> tuple[Callable[[Any], bool], str]:
    return (lambda value: value in words), f"one of {', '.join(words)}"
