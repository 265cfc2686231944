"""Rules of layering: for each rule, by name, what breaks it and what does not."""

from dataclasses import replace
from typing import Any

import pytest

from tonematch.toning.core import Layer, Surface
from tonematch.toning.layers.rule_table import load_rules
from tonematch.toning.layers.rules import check_layering
from tonematch.toning.layers.shelf import load_shelf

SHELF = load_shelf()
# Layers that a gilder may have and the shelf does not.
OTHERS = {
    layer.name: layer
    for layer in (
        Layer("xylene varnish", "seal", binder="resin", solvent="aromatic spirit"),
        Layer("casein in ammonia", "wash", binder="casein", solvent="ammonia water"),
        Layer("agate burnish", "rub", binder="none", solvent="dry"),
        Layer("nameless wash", "wash"),
        Layer("bronze paint", "glaze", binder="resin", solvent="aromatic spirit"),
        Layer("red dye glaze", "glaze", binder="shellac", solvent="alcohol"),
        Layer("red lead dust", "dust", binder="none", solvent="dry"),
        Layer("mica glaze", "glaze", binder="resin", solvent="white spirit"),
    )
}
WATER = Surface(technique="water", finish="burnished")
MATTE = replace(WATER, finish="matte")
OIL = Surface(technique="oil", finish="matte")
OLD = Surface(technique="water", historic=True)
SEAL, RAW = "clear shellac seal", "raw umber wash"


def findings(surface: Surface, *names: str) -> dict[str, str]:
    """Severity by the id of each rule that the layers touch."""
    layers = [(SHELF | OTHERS)[name] for name in names]
    return {f.rule.id: f.severity for f in check_layering(surface, layers)}


# id, severity, what breaks the rule, what does not: each a surface and layers in order.
CASES: list[tuple[str, str, tuple[Any, ...], tuple[Any, ...]]] = [
    ("unknown-technique", "warning", (Surface(), SEAL), (WATER, SEAL)),
    ("unknown-solvent", "warning", (WATER, "nameless wash"), (WATER, SEAL, RAW, "rub to bole")),
    ("fresh-oil-gilding", "blocked",
     (replace(OIL, hours_since_gilding=47), RAW), (replace(OIL, hours_since_gilding=48), RAW)),
    ("soft-oil-size", "warning",
     (replace(OIL, hours_since_gilding=100), RAW), (replace(OIL, hours_since_gilding=600), RAW)),
    ("oil-gilding-of-unknown-age", "warning",
     (OIL, RAW), (replace(OIL, hours_since_gilding=600), RAW)),
    ("water-on-bare-water-gilding", "blocked", (WATER, RAW), (WATER, SEAL, RAW)),
    ("size-on-bare-burnish", "blocked", (WATER, "tinted size"), (MATTE, "tinted size")),
    ("size-on-bare-matte", "warning", (MATTE, "gelatine size"), (MATTE, SEAL, "gelatine size")),
    ("glue-on-water-gilding", "warning", (WATER, SEAL, "gelatine size"), (OIL, "gelatine size")),
    ("oil-on-oil-gilding", "warning", (OIL, "raw umber glaze"), (WATER, "raw umber glaze")),
    ("aromatic-on-oil-gilding", "blocked", (OIL, "xylene varnish"), (WATER, "xylene varnish")),
    ("turpentine-on-oil-gilding", "warning",
     (OIL, "dammar seal"), (OIL, "low-polarity resin seal", "dammar seal")),
    ("polar-seal-on-historic-oil-gilding", "blocked",
     (replace(OIL, historic=True), SEAL), (replace(OIL, historic=True), "low-polarity resin seal")),
    ("shellac-on-oil-gilding", "warning", (OIL, SEAL), (WATER, SEAL)),
    ("alcohol-over-shellac", "warning", (WATER, SEAL, "button shellac"), (WATER, SEAL, RAW)),
    ("alkali-over-shellac", "warning",
     (WATER, SEAL, "casein in ammonia"), (OIL, "casein in ammonia")),
    ("water-over-water-borne", "warning",
     (OIL, RAW, "yellow ochre wash"), (OIL, RAW, SEAL, "yellow ochre wash")),
    ("casein-over-fresh-shellac", "warning",
     (WATER, SEAL, "casein umber wash"), (WATER, SEAL, RAW)),
    ("over-oil-not-dry", "warning", (WATER, "raw umber glaze", SEAL), (WATER, "dark wax")),
    ("oil-over-slow-oil", "warning",
     (WATER, "van dyke brown glaze", "raw umber glaze"),
     (WATER, "raw umber glaze", "van dyke brown glaze")),
    ("over-wax", "blocked", (WATER, "clear wax", "raw umber glaze"), (WATER, "clear wax")),
    ("wet-specks-over-wax", "blocked",
     (WATER, "clear wax", "fly-specks"), (WATER, "clear wax", "rottenstone dust")),
    ("dust-into-wax", "warning",
     (WATER, "clear wax", "rottenstone dust"), (WATER, "rottenstone dust", "clear wax")),
    ("wet-over-loose-dust", "blocked",
     (OIL, "rottenstone dust", SEAL), (OIL, "rottenstone dust", "sprayed fixing coat", RAW)),
    ("burnish-after-coating", "blocked", (WATER, SEAL, "agate burnish"), (WATER, "agate burnish")),
    ("burnish-oil-gilding", "blocked", (OIL, "burnish again"), (WATER, "burnish again")),
    ("rub-after-coating", "blocked", (WATER, SEAL, "rub to bole"), (WATER, "rub to bole", SEAL)),
    ("rub-twice", "blocked",
     (WATER, "rub to bole", "rub to gesso"), (WATER, "burnish again", "rub to bole")),
    ("rub-to-another-bole", "blocked",
     (replace(WATER, boles=("black bole",)), "rub to bole"),
     (replace(WATER, boles=("black bole", "red bole")), "rub to bole")),
    ("rub-through-two-boles", "warning",
     (replace(WATER, boles=("yellow bole", "red bole")), "rub to bole"),
     (replace(WATER, boles=("red bole",)), "rub to bole")),
    ("rub-on-old-gilding", "blocked", (OLD, "rub to bole"), (WATER, "rub to bole")),
    ("rub-on-oil-gilding", "warning", (OIL, "rub to bole"), (WATER, "rub to bole")),
    ("rub-on-unknown-gilding", "blocked", (Surface(), "rub to bole"), (OIL, "rub to bole")),
    ("rub-on-soft-oil-gilding", "blocked",
     (replace(OIL, hours_since_gilding=503), "rub to bole"),
     (replace(OIL, hours_since_gilding=505), "rub to bole")),
    ("steel-wool-rusts", "warning",
     (WATER, "rub to bole", SEAL, RAW), (WATER, "burnish again", SEAL, RAW)),
    ("specks-without-seal", "warning", (WATER, "fly-specks"), (WATER, SEAL, "fly-specks")),
    ("glue-over-modern-resin", "warning",
     (OIL, "dammar seal", "gelatine size"), (OIL, SEAL, "gelatine size")),
    ("shellac-in-damp-air", "warning",
     (replace(WATER, humidity=75), SEAL), (replace(WATER, humidity=60), SEAL)),
    ("old-shellac", "warning", (WATER, SEAL), (WATER, "dark wax")),
    ("bronze-paint", "blocked", (WATER, "bronze paint"), (WATER, "mica glaze")),
    ("bitumen-creeps", "warning", (WATER, "bitumen glaze"), (WATER, "raw umber glaze")),
    ("over-bitumen", "warning", (WATER, "bitumen glaze", SEAL), (WATER, SEAL, "bitumen glaze")),
    ("van-dyke-fades", "warning", (WATER, "van dyke brown glaze"), (WATER, "raw umber glaze")),
    ("dye-turns-green", "warning", (WATER, "red dye glaze"), (WATER, "burnt sienna glaze")),
    ("toxic-dry-pigment", "blocked", (WATER, "red lead dust"), (WATER, "raw umber dust")),
    ("bare-silver-or-brass", "warning",
     (replace(WATER, leaf="Silver"), "dark wax"),
     (replace(WATER, leaf="silver"), "yellow varnish", "dark wax")),
    ("ammonia-on-brass", "blocked",
     (replace(OIL, leaf="brass"), "casein in ammonia"), (OIL, "casein in ammonia")),
    ("spirit-on-yellow-varnish", "blocked",
     (replace(OLD, leaf="silver"), SEAL), (replace(OLD, leaf="silver"), "low-polarity resin seal")),
    ("patina-on-gold", "blocked",
     (replace(OIL, leaf="23.75 ct"), "green patina on brass"),
     (replace(OIL, leaf="Dutch metal"), "green patina on brass")),
    ("patina-over-a-coat", "blocked",
     (OIL, SEAL, "green patina on brass"), (OIL, "green patina on brass", SEAL)),
    ("patina-goes-on", "warning", (OIL, "black patina on brass"), (OIL, RAW)),
    ("tone-off-the-old-gold", "warning", (OLD, "dark wax"), (OLD, SEAL, "dark wax")),
    ("irreversible-on-old-gilding", "warning",
     (OLD, SEAL, "casein umber wash"), (WATER, SEAL, "casein umber wash")),
    ("old-piece", "warning", (OLD, SEAL), (WATER, SEAL)),
    ("unknown-coating", "warning", (replace(WATER, unknown_coating=True), SEAL), (WATER, SEAL)),
    ("bronze-overpaint", "warning", (replace(WATER, unknown_coating=True), SEAL), (WATER, SEAL)),
    ("heavy-mirror", "warning",
     (replace(WATER, glass="new mirror"), SEAL), (replace(WATER, glass="none"), SEAL)),
    ("tin-mercury-back", "warning",
     (replace(WATER, glass="old mirror"), SEAL), (replace(WATER, glass="new mirror"), SEAL)),
    ("wet-near-old-silvering", "warning",
     (replace(OIL, glass="old mirror"), RAW),
     (replace(OIL, glass="old mirror"), "rottenstone dust")),
    ("safety-oily-rags", "warning", (WATER, "raw umber glaze"), (WATER, SEAL)),
    ("safety-flammable-solvent", "warning", (WATER, SEAL), (OIL, RAW)),
    ("safety-turpentine", "warning", (WATER, "dammar seal"), (WATER, "dark wax")),
    ("safety-spray", "warning",
     (WATER, "sprayed fixing coat"), (WATER, "low-polarity resin seal")),
    ("safety-patina", "warning",
     (OIL, "black patina on brass"), (OIL, "green patina on brass")),
    ("safety-copper-salts", "warning",
     (OIL, "green patina on brass"), (OIL, "brown patina on brass")),
    ("safety-ammonia", "warning", (OIL, "casein in ammonia"), (OIL, "casein umber wash")),
    ("safety-silica-dust", "warning", (WATER, "rottenstone dust"), (WATER, "dark wax")),
    ("safety-rubbing-dust", "warning", (WATER, "rub to bole"), (WATER, SEAL)),
    ("safety-umber", "warning", (WATER, "raw umber dust"), (WATER, "rottenstone dust")),
]  # fmt: skip


@pytest.mark.parametrize(("rule", "severity", "broken", "kept"), CASES, ids=lambda case: case)
def test_rule(rule: str, severity: str, broken: tuple[Any, ...], kept: tuple[Any, ...]) -> None:
    assert findings(*broken).get(rule) == severity
    assert rule not in findings(*kept)


def test_every_rule_is_tested_and_has_reason_and_source() -> None:
    rules = load_rules()
    assert [case[0] for case in CASES] == [rule.id for rule in rules]
    for rule in rules:
        assert rule.severity in ("blocked", "warning")
        assert rule.reason.endswith(".")
        assert rule.source


def test_gesso_lies_under_every_bole_and_an_unknown_bole_forbids_no_rub() -> None:
    for surface, rub in (
        (replace(WATER, boles=("red bole",)), "rub to gesso"),
        (WATER, "rub to black bole"),
    ):
        assert "rub-to-another-bole" not in findings(surface, rub)


def test_unknown_technique_can_still_be_sealed_and_toned() -> None:
    assert findings(Surface(), RAW)["water-on-bare-water-gilding"] == "blocked"
    for surface in (Surface(), Surface(historic=True)):
        assert "blocked" not in findings(surface, "low-polarity resin seal", RAW).values()


def test_unknown_technique_says_for_which_gilding_a_rule_holds() -> None:
    said = [finding.sentence for finding in check_layering(Surface(), [SHELF[RAW]])]
    assert any(sentence.startswith("If this is water gilding: ") for sentence in said)


def test_layer_of_unknown_make_matches_no_binder_and_no_solvent() -> None:
    (finding,) = check_layering(WATER, [Layer("walnut juice", "wash")])
    assert finding.rule.id == "unknown-solvent"


def test_gelatine_does_not_isolate() -> None:
    gelatine = replace(WATER, beneath=(SHELF["gelatine size"],))
    assert findings(gelatine, RAW)["water-on-bare-water-gilding"] == "blocked"


def test_what_lies_beneath_counts_and_is_not_judged() -> None:
    waxed = replace(WATER, beneath=(SHELF["clear wax"],))
    (finding,) = [f for f in check_layering(waxed, [SHELF[SEAL]]) if f.rule.id == "over-wax"]
    assert (finding.severity, finding.step) == ("blocked", 0)
    assert "clear wax" in finding.sentence
    assert SEAL in finding.sentence
    assert check_layering(waxed, []) == []
