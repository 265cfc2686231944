"""The table of rules of layering, swatches/rules.toml: its patterns and how it is read."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, fields
from fnmatch import fnmatchcase
from functools import cache
from pathlib import Path
from typing import Any, Literal

from tonematch.errors import ShelfError
from tonematch.swatchbook import read_toml, swatch_path
from tonematch.toning.core import Layer, Surface

Severity = Literal["blocked", "warning"]


@dataclass(frozen=True)
class LayerPattern:
    """Words that a layer must have; an empty tuple lets everything through.

    `name`, `other_than` (names that it must not have) and `reversible` hold patterns with ``*``;
    `where` counts only for a layer beneath.
    """

    kind: tuple[str, ...] = ()
    binder: tuple[str, ...] = ()
    solvent: tuple[str, ...] = ()
    name: tuple[str, ...] = ()
    other_than: tuple[str, ...] = ()
    reversible: tuple[str, ...] = ()
    where: Literal["any", "next"] = "any"

    def fits(self, layer: Layer) -> bool:
        """Whether the layer has all of the words."""
        return (
            (not self.kind or layer.kind in self.kind)
            and (not self.binder or layer.binder in self.binder)
            and (not self.solvent or layer.solvent in self.solvent)
            and (not self.name or _like(layer.name, self.name))
            and (not self.reversible or _like(layer.reversible, self.reversible))
            and not _like(layer.name, self.other_than)
        )


@dataclass(frozen=True)
class SurfacePattern:
    """What must be known to be true of the surface; None and empty let everything through.

    `leaf` holds patterns with ``*`` for what the leaf is called.
    """

    technique: tuple[str, ...] = ()
    finish: tuple[str, ...] = ()
    leaf: tuple[str, ...] = ()
    glass: tuple[str, ...] = ()
    two_boles: bool | None = None
    historic: bool | None = None
    unknown_coating: bool | None = None
    hours_known: bool | None = None
    hours_below: float | None = None
    humidity_above: float | None = None

    def fits(self, surface: Surface) -> bool:
        """Whether it is true of the surface, or could be where only the technique is unknown."""
        hours, humidity = surface.hours_since_gilding, surface.humidity
        words = ((self.finish, surface.finish), (self.glass, surface.glass))
        truths = (
            (self.historic, surface.historic),
            (self.unknown_coating, surface.unknown_coating),
            (self.hours_known, hours is not None),
            (self.two_boles, len(surface.boles) > 1),
        )
        return (
            (not self.technique or surface.technique in (*self.technique, "unknown"))
            and (self.technique != ("unknown",) or surface.technique == "unknown")
            and all(not asked or word in asked for asked, word in words)
            and all(asked in (None, told) for asked, told in truths)
            and (not self.leaf or _like(surface.leaf, self.leaf))
            and (self.hours_below is None or (hours is not None and hours < self.hours_below))
            and (
                self.humidity_above is None
                or (humidity is not None and humidity > self.humidity_above)
            )
        )


@dataclass(frozen=True)
class Rule:
    """One row of the table; see the head of swatches/rules.toml."""

    id: str
    severity: Severity
    reason: str
    source: str
    surface: SurfacePattern = SurfacePattern()
    laid: LayerPattern = LayerPattern()
    over: LayerPattern | None = None
    unless_isolated: bool = False
    seal_first: bool = False
    other_bole: bool = False
    job: str = ""

    def is_general(self) -> bool:
        """Whether it holds for the whole job, or for a surface whatever is laid on it."""
        return bool(self.job) or (self.over is None and self.laid == LayerPattern())

    def hangs_on_place(self) -> bool:
        """Whether it speaks of where a layer is laid, not of the layer as such."""
        on_some = self.surface != SurfacePattern() and self.laid != LayerPattern()
        return self.over is not None or self.unless_isolated or on_some

    def could_touch(self, surface: Surface, layer: Layer) -> bool:
        """Whether it could object to this layer on this surface, whatever lies beneath it."""
        return (
            self.surface.fits(surface)
            and self.laid.fits(layer)
            and (not self.other_bole or shows_other_bole(surface, layer))
        )


@dataclass(frozen=True)
class JobCaution:
    """What to mind through the whole job: in a few words, and in a sentence."""

    head: str
    sentence: str


@dataclass(frozen=True)
class Vocabulary:
    """The words for binders and solvents that rules and shelf share, and what isolates."""

    binders: tuple[str, ...]
    solvents: tuple[str, ...]
    isolating: LayerPattern


def shows_other_bole(surface: Surface, layer: Layer) -> bool:
    """Whether a rub would show a bole that is known not to lie there; gesso lies under all."""
    is_bole = layer.beneath not in ("", "gesso")
    return is_bole and bool(surface.boles) and layer.beneath not in surface.boles


@cache
def load_rules(path: Path | None = None) -> tuple[Rule, ...]:
    """The rules of layering: swatches/rules.toml, or a file like it.

    Raises ShelfError, which names the rule, when the file cannot be read or a rule is wrong.
    """
    table = _read_table(path or swatch_path("rules.toml"))
    return tuple(_rule_from_entry(entry) for entry in table["rule"])


@cache
def load_job_cautions() -> tuple[JobCaution, ...]:
    """What holds for the whole job: the rules that say so, and what no layer brings in."""
    table = _read_table(swatch_path("rules.toml"))
    return (
        *(JobCaution(rule.job, rule.reason) for rule in load_rules() if rule.job),
        *(JobCaution(entry["head"], entry["reason"]) for entry in table["job"]),
    )


@cache
def load_vocabulary() -> Vocabulary:
    """The words for binders and solvents, from swatches/rules.toml."""
    table = _read_table(swatch_path("rules.toml"))
    return Vocabulary(
        tuple(table["binders"]),
        tuple(table["solvents"]),
        _layer_pattern(table["isolating"], "isolating"),
    )


def _like(text: str, patterns: Sequence[str]) -> bool:
    return any(fnmatchcase(text.lower(), pattern) for pattern in patterns)


def _read_table(path: Path) -> dict[str, Any]:
    table = read_toml(path)
    for key in ("binders", "solvents", "isolating", "rule"):
        if key not in table:
            raise ShelfError(f"{path.name} has no {key}: see the head of the shipped rules.toml.")
    return table


def _rule_from_entry(entry: Mapping[str, Any]) -> Rule:
    name = entry.get("id", "without an id")
    for key in ("id", "severity", "reason", "source"):
        if not isinstance(entry.get(key), str) or not entry[key]:
            raise ShelfError(f"Rule {name} has no {key}: add it.")
    if entry["severity"] not in ("blocked", "warning"):
        raise ShelfError(f"Rule {name}: severity must be 'blocked' or 'warning'.")
    values: dict[str, Any] = dict(entry)
    if "surface" in values:
        values["surface"] = SurfacePattern(**_words(values["surface"], SurfacePattern, name))
    for key in values.keys() & {"laid", "over"}:
        values[key] = _layer_pattern(values[key], name)
    return Rule(**_words(values, Rule, name))


def _layer_pattern(entry: Mapping[str, Any], rule: str) -> LayerPattern:
    return LayerPattern(**_words(entry, LayerPattern, rule))


def _words(entry: Mapping[str, Any], pattern: type, rule: str) -> dict[str, Any]:
    known = {field.name for field in fields(pattern)}
    unknown = sorted(entry.keys() - known)
    if unknown:
        raise ShelfError(f"Rule {rule}: {unknown[0]!r} is none of {', '.join(sorted(known))}.")
    return {key: tuple(v) if isinstance(v, list) else v for key, v in entry.items()}
