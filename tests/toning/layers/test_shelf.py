"""The shelf: what ships with tonematch, and what a wrong entry says."""

from collections import Counter
from typing import Any

import numpy as np
import pytest

from tonematch.arrays import Array
from tonematch.errors import ShelfError
from tonematch.measure.colour.difference import delta_e_2000
from tonematch.swatchbook import swatch_table
from tonematch.toning.core import SHELF_KINDS, Application, Kind, Trial
from tonematch.toning.layers.layer_entry import layer_from_entry
from tonematch.toning.layers.leaf import load_leaves
from tonematch.toning.layers.rules import layer_cautions
from tonematch.toning.layers.shelf import (
    at_hand,
    boles_named,
    find_layer,
    layers_from_trials,
    load_boles,
    load_shelf,
)
from tonematch.toning.model.prior import first_prior
from tonematch.toning.optics.film import Laid, lay

LEAF = "23.75 carat"
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
    for field in ("material", "technique", "effect", "mix", "reversible", "over"):
        assert getattr(layer, field), field
    assert "starting guess" in layer.source
    assert layer.cautions
    assert all(caution.endswith((".", "?")) for caution in layer_cautions(layer))
    assert (layer.absorption is None) == (layer.scattering is None) == (layer.beneath != "")
    assert layer.beneath in ("", *load_boles())
    assert (layer.beneath != "") == (layer.kind == "rub" and "burnish" not in layer.name)


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
        ("mix", "some umber in water"),
        ("mix", 3),
    ],
)
def test_wrong_field_is_named(field: str, value: object) -> None:
    with pytest.raises(ShelfError, match=f"'test wash', {field.replace('_', ' ')}:"):
        layer_from_entry(ENTRY | {field: value})


def test_every_layer_has_a_name_of_its_own() -> None:
    assert len(load_shelf()) == len(swatch_table("layers.toml")["layer"])
    with pytest.raises(ShelfError, match="Give the layer a name"):
        layer_from_entry(ENTRY | {"name": ""})


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


def test_oil_glazes_dry_in_the_order_of_their_pigments() -> None:
    """Umbers first (manganese; Gettens and Stout, p. 168), Van Dyke last (Saitzyk 1987)."""
    hours = {
        name: layer.drying_hours for name, layer in load_shelf().items() if layer.binder == "oil"
    }
    slowest = hours.pop("van dyke brown glaze")
    umbers = [hours.pop(f"{way} umber glaze") for way in ("raw", "burnt")]
    assert len(hours) == 2
    for between in hours.values():
        assert all(umber < between for umber in umbers)
        assert between[1] < slowest[0]


def laid_on(name: str, before: list[float]) -> Array:
    """What a full coat is first thought to make of a surface."""
    full = Application(np.array(before), name, load_shelf()[name].kind, 1.0)
    after: Array = lay(first_prior(load_shelf()[name]).mean, Laid.of([full]))[0]
    return after


def test_burnishing_again_makes_gold_darker_and_more_saturated_beside_the_mirror() -> None:
    # Wu et al. 2020, Heritage Science: burnished leaf with the mirror direction left out.
    for L, a, b in ([74.2, 6.2, 28.6], [60.0, 5.0, 22.0]):
        darker, *colour = laid_on("burnish again", [L, a, b])
        assert darker < L - 1.0
        assert np.hypot(*colour) / darker > np.hypot(a, b) / L


def test_yellow_varnish_makes_gold_of_silver() -> None:
    silver, gold = (next(x.mirror for x in load_leaves() if x.name == n) for n in ("silver", LEAF))
    assert delta_e_2000(laid_on("yellow varnish", list(silver)), gold) < 4.0
