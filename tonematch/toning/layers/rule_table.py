"""The table of rules of layering, swatches/rules.toml: its patterns and how it is read."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from fnmatch import fnmatchcase
from functools import cache
from typing import Any, Literal

from tonematch.swatchbook import swatch_table
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

    `leaf` and `other_than` hold patterns with ``*`` for what the leaf is called and is not.
    """

    technique: tuple[str, ...] = ()
    finish: tuple[str, ...] = ()
    leaf: tuple[str, ...] = ()
    other_than: tuple[str, ...] = ()
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
            and not _like(surface.leaf, self.other_than)
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
def load_rules() -> tuple[Rule, ...]:
    """The rules of layering, swatches/rules.toml."""
    return tuple(map(_rule, swatch_table("rules.toml")["rule"]))


@cache
def load_job_cautions() -> tuple[JobCaution, ...]:
    """What holds for the whole job: the rules that say so, and what no layer brings in."""
    more = swatch_table("rules.toml")["job"]
    return (
        *(JobCaution(rule.job, rule.reason) for rule in load_rules() if rule.job),
        *(JobCaution(entry["head"], entry["reason"]) for entry in more),
    )


@cache
def load_vocabulary() -> Vocabulary:
    """The words for binders and solvents, from swatches/rules.toml."""
    table = swatch_table("rules.toml")
    isolating = LayerPattern(**_as_tuples(table["isolating"]))
    return Vocabulary(tuple(table["binders"]), tuple(table["solvents"]), isolating)


def _like(text: str, patterns: Sequence[str]) -> bool:
    return any(fnmatchcase(text.lower(), pattern) for pattern in patterns)


def _rule(entry: Mapping[str, Any]) -> Rule:
    patterns = {"surface": SurfacePattern, "laid": LayerPattern, "over": LayerPattern}
    told = {key: patterns[key](**_as_tuples(entry[key])) for key in patterns.keys() & entry.keys()}
    return Rule(**{**entry, **told})


def _as_tuples(words: Mapping[str, Any]) -> dict[str, Any]:
    return {key: tuple(one) if isinstance(one, list) else one for key, one in words.items()}
