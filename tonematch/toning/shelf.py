"""The shelf: which layers there are, read from a file and checked field by field."""

import math
import re
import tomllib
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import MISSING, fields
from difflib import get_close_matches
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np

from tonematch.errors import ShelfError, ValueRefused
from tonematch.swatchbook import swatch_path
from tonematch.toning.core import KINDS, Layer, Trial, Vector3
from tonematch.toning.rule_table import load_vocabulary

MOST_STRENGTH = 10.0  # full strength is 1: beyond this a slip of the pen is likelier than a mix
MOST_COATS = 20
NEAR = 0.65  # likeness of two names from which one may be meant for the other, of 1; a choice


def load_shelf(path: Path | None = None) -> dict[str, Layer]:
    """Layers by name, in the order of the file.

    Parameters
    ----------
    path : pathlib.Path, optional
        A TOML file of ``[[layer]]`` tables; the layers that ship with tonematch by default.

    Returns
    -------
    dict of str to Layer

    Raises
    ------
    ShelfError
        When the file cannot be read, or an entry is wrong: names the layer and the field.
    """
    path = swatch_path("layers.toml") if path is None else path
    shelf: dict[str, Layer] = {}
    for number, entry in enumerate(_read_tables(path, "layer"), start=1):
        layer = layer_from_entry(entry, f"layer {number} of {path.name}")
        if layer.name in shelf:
            raise ShelfError(
                f"Layer {layer.name!r} stands twice in {path.name}: rename one of them."
            )
        shelf[layer.name] = layer
    boles = load_boles()
    for layer in shelf.values():
        if layer.beneath and layer.beneath not in boles:
            near = get_close_matches(layer.beneath, boles, n=1, cutoff=0.0)
            raise ShelfError(
                f"Layer {layer.name!r}, field beneath: no bole {layer.beneath!r} is known; "
                f"did you mean {near[0]!r}?"
            )
    return shelf


def load_boles(path: Path | None = None) -> dict[str, Vector3]:
    """CIELAB (D50, 2 degree) of what lies beneath the leaf, by name.

    Parameters
    ----------
    path : pathlib.Path, optional
        A TOML file of ``[[bole]]`` tables with ``name`` and ``lab``.

    Returns
    -------
    dict of str to ndarray, shape (3,)

    Raises
    ------
    ShelfError
        When the file cannot be read or an entry is wrong.
    """
    path = swatch_path("boles.toml") if path is None else path
    boles: dict[str, Vector3] = {}
    for entry in _read_tables(path, "bole"):
        name: Any = entry.get("name")
        lab: Any = entry.get("lab")
        if not isinstance(name, str) or not _numbers(lab, 3) or not 0 <= lab[0] <= 100:
            raise ShelfError(
                f"A bole of {path.name} is wrong: give it a name and lab = [L*, a*, b*], "
                "L* from 0 to 100."
            )
        boles[name] = np.array(lab, dtype=float)
    return boles


def boles_named(words: str) -> tuple[str, ...]:
    """The boles that a description of a piece speaks of.

    Parameters
    ----------
    words : str
        As the gilder writes it: "red", "yellow in the hollows, black on the high points".

    Returns
    -------
    tuple of str
        Names in swatches/boles.toml; empty where none of them is spoken of.
    """
    said = set(re.findall(r"[a-z]+", words.lower()))
    colours = {name: name.removesuffix(" bole").split() for name in load_boles()}
    return tuple(name for name in colours if name != "gesso" and said.issuperset(colours[name]))


def find_layer(shelf: Mapping[str, Layer], name: str) -> Layer:
    """The layer of that name; capitals and spaces around it do not matter.

    Raises
    ------
    ShelfError
        When the shelf has no such layer: names the nearest one where it is near.
    """
    plain = " ".join(name.lower().split())
    if plain in shelf:
        return shelf[plain]
    if not shelf:
        raise ShelfError(f"No layer {name!r} is on the shelf, which is empty: add the layer first.")
    # Trials may have added layers under names with capitals.
    plain_names = {known.lower(): known for known in shelf}
    if plain in plain_names:
        return shelf[plain_names[plain]]
    near = get_close_matches(plain, plain_names, n=1, cutoff=NEAR)
    remedy = f"did you mean {plain_names[near[0]]!r}?" if near else "choose one that is, or add it."
    raise ShelfError(f"No layer {name!r} is on the shelf: {remedy}")


def at_hand(shelf: Mapping[str, Layer]) -> list[Layer]:
    """The layers that a plan may use unless a gilder says otherwise."""
    return [layer for layer in shelf.values() if layer.at_hand]


def layers_from_trials(trials: Iterable[Trial], shelf: Mapping[str, Layer]) -> dict[str, Layer]:
    """The shelf with those layers added that only trials know, by name and kind alone.

    Parameters
    ----------
    trials : iterable of Trial
    shelf : mapping of str to Layer

    Returns
    -------
    dict of str to Layer
        The shelf's own layers first. What an added layer's strengths and coats can be is taken
        from its trials.

    Raises
    ------
    ShelfError
        When two trials give one layer different kinds.
    """
    known = dict(shelf)
    strengths: dict[str, set[float]] = {}
    coats: dict[str, int] = {}
    for trial in trials:
        laid = trial.application
        layer = known.setdefault(laid.layer, Layer(laid.layer, laid.kind))
        if layer.kind != laid.kind:
            raise ShelfError(
                f"Layer {laid.layer!r} is a {layer.kind} in one place and a {laid.kind} in a "
                "trial: give one of the two another name."
            )
        strengths.setdefault(laid.layer, set()).add(laid.strength)
        coats[laid.layer] = max(coats.get(laid.layer, 1), laid.coats)
    for name in known.keys() - shelf.keys():
        known[name] = Layer(
            name,
            known[name].kind,
            strengths=tuple(sorted(strengths[name])),
            most_coats=coats[name],
            cautions=(
                "The shelf does not say what it is made of: look up its binder, its solvent and "
                "the maker's data sheet, and make a strip first.",
            ),
            source="trials",
        )
    return known


def layers_with_trials(trials: Iterable[Trial], shelf: Mapping[str, Layer]) -> list[Layer]:
    """The layers that a gilder evidently has: those laid in trials, and the usual seals.

    Parameters
    ----------
    trials : iterable of Trial
    shelf : mapping of str to Layer
        Must hold every layer of the trials (`layers_from_trials`).

    Returns
    -------
    list of Layer
        All that are at hand where there are no trials. Seals come unasked: without one between,
        the rules of layering let little be laid.
    """
    laid = {trial.application.layer for trial in trials}
    usual = at_hand(shelf)
    if not laid:
        return usual
    return [
        layer
        for layer in shelf.values()
        if layer.name in laid or (layer.kind == "seal" and layer in usual)
    ]


def check_amount(name: str, strength: float, coats: int) -> None:
    """Refuse a strength or a number of coats that cannot be laid.

    Raises
    ------
    ValueRefused
    """
    if not math.isfinite(strength) or not 0 < strength <= MOST_STRENGTH:
        raise ValueRefused(
            f"A strength of {strength:g} for {name!r} cannot be laid: give a number above 0 and up "
            f"to {MOST_STRENGTH:g}; 1 is the full-strength mix."
        )
    if not 1 <= coats <= MOST_COATS:
        raise ValueRefused(
            f"{coats} coats of {name!r} cannot be laid: give a whole number from 1 to {MOST_COATS}."
        )


def layer_from_entry(entry: Mapping[str, Any], place: str = "the layer") -> Layer:
    """A layer from one table of a shelf file, every field checked.

    Parameters
    ----------
    entry : mapping
        Fields of `Layer`; ``name`` and ``kind`` are required.
    place : str
        Where the entry stands, for an entry without a usable name.

    Returns
    -------
    Layer

    Raises
    ------
    ShelfError
        Names the layer and the field.
    """
    name = entry.get("name")
    if not isinstance(name, str) or not name or name != " ".join(name.lower().split()):
        raise ShelfError(
            f"The name of {place} is {name!r}: write it in lower case with single spaces."
        )
    known = {field.name for field in fields(Layer)}
    needed = {field.name for field in fields(Layer) if field.default is MISSING}
    for unknown in entry.keys() - known:
        near = get_close_matches(unknown, known, n=1, cutoff=0.0)[0]
        raise ShelfError(f"Layer {name!r} has a field {unknown!r}: did you mean {near!r}?")
    for missing in sorted(needed - entry.keys()):
        raise ShelfError(f"Layer {name!r} has no field {missing}: add it.")
    checks = _checks()
    for field, value in entry.items():
        fits, expected = checks[field]
        if not fits(value):
            raise ShelfError(f"Layer {name!r}, field {field}: {value!r} is not {expected}.")
    values: dict[str, Any] = {k: tuple(v) if isinstance(v, list) else v for k, v in entry.items()}
    layer = Layer(**values)
    if (layer.absorption is None) != (layer.scattering is None):
        raise ShelfError(
            f"Layer {name!r} has only one of absorption and scattering: give both or neither."
        )
    return layer


def _read_tables(path: Path, key: str) -> list[dict[str, Any]]:
    try:
        with path.open("rb") as file:
            tables = tomllib.load(file).get(key, [])
    except OSError as error:
        raise ShelfError(f"{path} cannot be read ({error.strerror}): check the path.") from error
    except (tomllib.TOMLDecodeError, UnicodeDecodeError) as error:
        raise ShelfError(f"{path.name} is not a TOML file ({error}): correct it there.") from error
    if not isinstance(tables, list) or not tables:
        raise ShelfError(f"{path.name} has no [[{key}]] tables: write one for each {key}.")
    return tables


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
        "kind": _one_of(KINDS),
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
        "lustre": _one_of(("raises", "lowers", "satin", "")),
        "cautions": (_texts, "a list of sentences"),
        "at_hand": (lambda value: isinstance(value, bool), "true or false"),
    }


def _one_of(words: Sequence[str]) -> tuple[Callable[[Any], bool], str]:
    return (lambda value: value in words), f"one of {', '.join(words)}"
