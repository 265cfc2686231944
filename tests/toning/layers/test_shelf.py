"""The shelf: what ships with tonematch, and what a wrong entry says."""

import re
from collections import Counter
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from tonematch.errors import ShelfError
from tonematch.toning.core import SHELF_KINDS, Application, Kind, Trial
from tonematch.toning.layers.layer_entry import layer_from_entry
from tonematch.toning.layers.rules import layer_cautions
from tonematch.toning.layers.shelf import (
    at_hand,
    boles_named,
    find_layer,
    layers_from_trials,
    load_boles,
    load_shelf,
)

ENTRY: dict[str, Any] = {"name": "test wash", "kind": "wash", "binder": "gum", "solvent": "water"}


def trial_of(layer: str, kind: Kind, strength: float = 0.5, coats: int = 1) -> Trial:
    grey = np.array([50.0, 0.0, 0.0])
    return Trial(Application(grey, layer, kind, strength, coats), grey)


def test_shipped_shelf_covers_all_kinds() -> None:
    shelf = load_shelf()
    kinds = Counter(layer.kind for layer in shelf.values())
    assert len(shelf) >= 24
    assert set(kinds) == set(SHELF_KINDS)


@pytest.mark.parametrize("layer", load_shelf().values(), ids=lambda layer: layer.name)
def test_shipped_layer_is_complete(layer: Any) -> None:
    for field in ("material", "technique", "effect", "full_strength", "reversible", "over"):
        assert getattr(layer, field), field
    assert "starting guess" in layer.source
    assert layer.cautions
    assert all(caution.endswith((".", "?")) for caution in layer_cautions(layer))
    assert (layer.absorption is None) == (layer.kind == "rub")
    assert (layer.beneath != "") == (layer.kind == "rub")


def test_hazards_reach_every_layer_that_has_them() -> None:
    # Hazards: common practice, no source; silica: NIOSH limit 0.05 mg/m3 respirable.
    words = {name: " ".join(layer_cautions(layer)) for name, layer in load_shelf().items()}
    assert "fire" in words["raw umber glaze"]
    assert "rags" in words["raw umber glaze"].lower()
    assert "no flame" in words["clear shellac seal"]
    assert "no flame" in words["dark wax"]
    assert "silica" in words["rottenstone dust"]
    assert "mask" in words["rub to bole"]
    assert "flame" not in words["raw umber wash"]


def test_bitumen_is_off_by_default() -> None:
    # Bitumen creeps and cracks: common practice, no source.
    shelf = load_shelf()
    assert not shelf["bitumen glaze"].at_hand
    assert "bitumen glaze" not in {layer.name for layer in at_hand(shelf)}


def test_unknown_name_gets_the_nearest_one() -> None:
    with pytest.raises(ShelfError, match="did you mean 'raw umber wash'"):
        find_layer(load_shelf(), "raw umbre wsh")


def test_name_is_found_whatever_its_capitals() -> None:
    assert find_layer(load_shelf(), "  Raw Umber  Wash ").name == "raw umber wash"


def test_empty_shelf_says_so() -> None:
    with pytest.raises(ShelfError, match="empty"):
        find_layer({}, "raw umber wash")


@pytest.mark.parametrize(
    ("field", "value"),
    [
        ("kind", "paint"),
        ("binder", "egg"),
        ("solvent", "beer"),
        ("absorption", [0.1, 0.2]),
        ("absorption", [0.1, -0.2, 0.1]),
        ("absorption", [0.1, float("nan"), 0.1]),
        ("cover", 1.5),
        ("strengths", []),
        ("strengths", [0.5, 0.25]),
        ("strengths", [0.0, 0.5]),
        ("strengths", [0.5, 11.0]),
        ("most_coats", 0),
        ("most_coats", True),
        ("drying_hours", [3, 1]),
        ("cautions", "mind the flame"),
        ("at_hand", 1),
        ("effect", 3),
    ],
)
def test_wrong_field_is_named(field: str, value: object) -> None:
    with pytest.raises(ShelfError, match=f"'test wash', field {field}"):
        layer_from_entry(ENTRY | {field: value})


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"name": "Test Wash"}, "lower case"),
        ({"name": 7}, "lower case"),
        ({"sheen": "high"}, "has a field 'sheen'"),
        ({"absorption": [0.1, 0.1, 0.1]}, "only one of absorption and scattering"),
    ],
)
def test_wrong_entry_is_explained(change: dict[str, Any], words: str) -> None:
    with pytest.raises(ShelfError, match=re.escape(words)):
        layer_from_entry(ENTRY | change)


def test_missing_kind_is_named() -> None:
    with pytest.raises(ShelfError, match="no field kind"):
        layer_from_entry({"name": "test wash"})


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("[[layer]]\nname = ", "not a TOML file"),
        ("x = 1\n", r"no \[\[layer\]\] tables"),
        ('[[layer]]\nname = "a"\nkind = "wax"\n' * 2, "stands twice"),
        ('[[layer]]\nname = "a"\nkind = "rub"\nbeneath = "red bowl"\n', "mean 'red bole'"),
    ],
)
def test_wrong_file_is_explained(tmp_path: Path, text: str, words: str) -> None:
    path = tmp_path / "mine.toml"
    path.write_text(text)
    with pytest.raises(ShelfError, match=words):
        load_shelf(path)


def test_file_that_is_not_there(tmp_path: Path) -> None:
    with pytest.raises(ShelfError, match="cannot be read"):
        load_shelf(tmp_path / "none.toml")


def test_boles_have_a_colour_each() -> None:
    boles = load_boles()
    assert boles["gesso"][0] > 85 > boles["black bole"][0] + 50
    assert boles["red bole"][1] > boles["yellow bole"][1]


def test_trials_add_the_layers_that_only_they_know() -> None:
    shelf = load_shelf()
    trials = [trial_of("walnut juice", "wash", 0.3, 2), trial_of("walnut juice", "wash", 0.1)]
    known = layers_from_trials(trials, shelf)
    added = known["walnut juice"]
    assert (added.kind, added.strengths, added.most_coats) == ("wash", (0.1, 0.3), 2)
    assert (added.binder, added.absorption) == ("unknown", None)
    assert set(known) == {*shelf, "walnut juice"}


def test_one_layer_cannot_be_of_two_kinds() -> None:
    with pytest.raises(ShelfError, match="'clear wax' is a wax"):
        layers_from_trials([trial_of("clear wax", "seal")], load_shelf())


@pytest.mark.parametrize(
    ("words", "boles"),
    [
        ("red", ("red bole",)),
        ("Yellow in the hollows, black on the high points", ("yellow bole", "black bole")),
        ("orange purple", ("purple-brown bole",)),
        ("purple-brown", ("purple-brown bole",)),
        ("salmon pink", ("pink bole",)),
        ("orange", ()),
        ("red clay over gesso", ("red bole",)),
        ("covered", ()),
        ("", ()),
    ],
)
def test_boles_are_told_from_a_description(words: str, boles: tuple[str, ...]) -> None:
    assert boles_named(words) == boles
