"""Rules of layering: a table of patterns in swatches/rules.toml, and the one function that judges.

A rule fits a layer that is laid when its patterns fit the surface, the layer, and a layer beneath.
"""

import tomllib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, fields
from fnmatch import fnmatchcase
from functools import cache
from pathlib import Path
from typing import Any, Literal

from tonematch.errors import ShelfError
from tonematch.swatchbook import swatch_path
from tonematch.toning.core import Finish, Layer, Technique

Severity = Literal["blocked", "warning"]


@dataclass(frozen=True)
class Surface:
    """What is known about the gilding that is toned.

    Attributes
    ----------
    technique : {"water", "oil", "unknown"}
    finish : {"burnished", "matte", "unknown"}
    beneath : tuple of Layer
        What has been laid on the gold already, the lowest first.
    hours_since_gilding : float or None
        None when nobody knows; it is then taken as cured.
    historic : bool
        The gold itself is old, not a new repair.
    unknown_coating : bool
        An old coating that nobody can name lies on it.
    humidity : float or None
        Relative humidity of the workshop, 0 to 100 %.
    """

    technique: Technique = "unknown"
    finish: Finish = "unknown"
    beneath: tuple[Layer, ...] = ()
    hours_since_gilding: float | None = None
    historic: bool = False
    unknown_coating: bool = False
    humidity: float | None = None


@dataclass(frozen=True)
class LayerPattern:
    """Words that a layer must have; an empty tuple lets everything through.

    `name` and `reversible` hold patterns with ``*``; `where` counts only for a layer beneath.
    """

    kind: tuple[str, ...] = ()
    binder: tuple[str, ...] = ()
    solvent: tuple[str, ...] = ()
    name: tuple[str, ...] = ()
    reversible: tuple[str, ...] = ()
    where: Literal["any", "next"] = "any"

    def fits(self, layer: Layer) -> bool:
        """Whether the layer has all of the words."""
        return (
            (not self.kind or layer.kind in self.kind)
            and (not self.binder or layer.binder in self.binder)
            and (not self.solvent or layer.solvent in self.solvent)
            and (not self.name or _like(layer.name.lower(), self.name))
            and (not self.reversible or _like(layer.reversible, self.reversible))
        )


@dataclass(frozen=True)
class SurfacePattern:
    """What must be known to be true of the surface; None and empty let everything through."""

    technique: tuple[str, ...] = ()
    finish: tuple[str, ...] = ()
    historic: bool | None = None
    unknown_coating: bool | None = None
    hours_below: float | None = None
    humidity_above: float | None = None

    def fits(self, surface: Surface) -> bool:
        """Whether it is true of the surface, or could be where only the technique is unknown."""
        hours, humidity = surface.hours_since_gilding, surface.humidity
        return (
            (not self.technique or surface.technique in (*self.technique, "unknown"))
            and (self.technique != ("unknown",) or surface.technique == "unknown")
            and (not self.finish or surface.finish in self.finish)
            and (self.historic is None or surface.historic == self.historic)
            and (self.unknown_coating is None or surface.unknown_coating == self.unknown_coating)
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


@dataclass(frozen=True)
class Finding:
    """A rule that a layer touches.

    Attributes
    ----------
    rule : Rule
    severity : {"blocked", "warning"}
    sentence : str
        Reason with the names of the layers in it.
    step : int
        Index of the layer among those that were judged, from 0.
    """

    rule: Rule
    severity: Severity
    sentence: str
    step: int = 0


@dataclass(frozen=True)
class Vocabulary:
    """The words for binders and solvents that rules and shelf share, and what isolates."""

    binders: tuple[str, ...]
    solvents: tuple[str, ...]
    isolating: LayerPattern


def load_rules(path: Path | None = None) -> tuple[Rule, ...]:
    """The rules of layering.

    Parameters
    ----------
    path : pathlib.Path, optional
        A file like swatches/rules.toml, which is the default.

    Raises
    ------
    ShelfError
        When the file cannot be read or a rule is wrong: names the rule.
    """
    table = _read_table(path or swatch_path("rules.toml"))
    return tuple(_rule_from_entry(entry) for entry in table["rule"])


@cache
def load_vocabulary() -> Vocabulary:
    """The words for binders and solvents, from swatches/rules.toml."""
    table = _read_table(swatch_path("rules.toml"))
    return Vocabulary(
        tuple(table["binders"]),
        tuple(table["solvents"]),
        _layer_pattern(table["isolating"], "isolating"),
    )


def check_layering(
    surface: Surface, layers: Sequence[Layer], rules: Sequence[Rule] | None = None
) -> list[Finding]:
    """Judge layers that are laid one after the other on a surface.

    Parameters
    ----------
    surface : Surface
        With the layers that lie on it already, which are not judged.
    layers : sequence of Layer
        The lowest first.
    rules : sequence of Rule, optional
        The shipped table by default.

    Returns
    -------
    list of Finding
        In the order of the layers; each rule at most once for a layer.
    """
    rules = _shipped_rules() if rules is None else rules
    stack = list(surface.beneath)
    findings: list[Finding] = []
    for step, layer in enumerate(layers):
        findings += judge_layer(rules_on(surface, layer, rules), surface, stack, layer, step)
        stack.append(layer)
    return findings


def rules_on(surface: Surface, layer: Layer, rules: Sequence[Rule]) -> tuple[Rule, ...]:
    """The rules that could touch this layer on this surface, whatever lies beneath it."""
    return tuple(rule for rule in rules if rule.surface.fits(surface) and rule.laid.fits(layer))


def judge_layer(
    rules: Sequence[Rule], surface: Surface, stack: Sequence[Layer], laid: Layer, step: int = 0
) -> list[Finding]:
    """Judge one layer that goes over a stack.

    Parameters
    ----------
    rules : sequence of Rule
        Those that `rules_on` leaves for this surface and layer.
    surface : Surface
    stack : sequence of Layer
        All that lies beneath, the lowest first, with what `surface` says of it.
    laid : Layer
    step : int
        Kept in the findings.

    Returns
    -------
    list of Finding
    """
    findings = []
    for rule in rules:
        culprit = _what_breaks(rule, stack)
        if culprit is not None:
            sentence = rule.reason.format(layer=laid.name, beneath=culprit)
            said = _conditional(rule, surface, sentence)
            findings.append(Finding(rule, rule.severity, said, step))
    return findings


def layer_cautions(layer: Layer) -> tuple[str, ...]:
    """A layer's own cautions and what the rules say of it on any surface, safety included."""
    by_rule = [
        rule.reason.format(layer=layer.name, beneath="")
        for rule in _shipped_rules()
        if rule.over is None
        and not rule.unless_isolated
        and rule.surface == SurfacePattern()
        and rule.laid.fits(layer)
    ]
    return tuple(dict.fromkeys([*layer.cautions, *by_rule]))


def is_irreversible(layer: Layer) -> bool:
    """Whether the shelf says that the layer cannot be taken off again."""
    return layer.reversible.startswith("not reversible")


def _what_breaks(rule: Rule, stack: Sequence[Layer]) -> str | None:
    """Name of the layer beneath that the rule objects to, empty for the gilding, None for none."""
    isolating = load_vocabulary().isolating
    if rule.over is None:
        protected = rule.unless_isolated and any(map(isolating.fits, stack))
        return None if protected else ""
    for layer in reversed(stack):
        if rule.over.fits(layer):
            return layer.name
        if rule.over.where == "next" or (rule.unless_isolated and isolating.fits(layer)):
            return None
    return None


def _conditional(rule: Rule, surface: Surface, sentence: str) -> str:
    """Say for which technique a sentence holds where the technique is not known."""
    technique = rule.surface.technique
    if surface.technique != "unknown" or not technique or technique == ("unknown",):
        return sentence[:1].upper() + sentence[1:]
    return f"If this is {' or '.join(technique)} gilding: {sentence}"


@cache
def _shipped_rules() -> tuple[Rule, ...]:
    return load_rules()


def _like(text: str, patterns: Sequence[str]) -> bool:
    return any(fnmatchcase(text, pattern) for pattern in patterns)


def _read_table(path: Path) -> dict[str, Any]:
    try:
        with path.open("rb") as file:
            table = tomllib.load(file)
    except OSError as error:
        raise ShelfError(f"{path} cannot be read ({error.strerror}): check the path.") from error
    except (tomllib.TOMLDecodeError, UnicodeDecodeError) as error:
        raise ShelfError(f"{path.name} is not a TOML file ({error}): correct it there.") from error
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
