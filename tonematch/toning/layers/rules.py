"""Rules of layering: a table of patterns in swatches/rules.toml, and the one function that judges.

A rule fits a layer that is laid when its patterns fit the surface, the layer, and a layer beneath.
"""

from collections.abc import Sequence
from dataclasses import dataclass

from tonematch.measure.words import capital
from tonematch.toning.core import Layer, Surface
from tonematch.toning.layers.coats import say_too_many
from tonematch.toning.layers.rule_table import (
    Rule,
    Severity,
    SurfacePattern,
    load_rules,
    load_vocabulary,
)
from tonematch.toning.layers.taking_back import lifted, stack_after


@dataclass(frozen=True)
class Finding:
    """A rule that a layer touches: its reason with the names of the layers in it.

    `step` is the index of the layer among those that were judged, from 0.
    """

    rule: Rule
    sentence: str
    step: int = 0

    @property
    def severity(self) -> Severity:
        """Whether the rule blocks or warns."""
        return self.rule.severity


TOO_MANY_COATS = Rule("too-many-coats", "warning", "most_coats of the entry", "the layer's entry")
NOT_ON_TOP = Rule(
    "not-on-top",
    "blocked",
    "Only what lies on top comes off, and {layer} would find {beneath} there.",
    "by definition",
)

HARDENS = Rule(
    "hardens",
    "warning",
    "The shelf names nothing that takes {beneath} back once it is dry: {how}.",
    "the layer's entry",
)


def check_layering(
    surface: Surface, layers: Sequence[Layer], coats: Sequence[int] | None = None
) -> list[Finding]:
    """Judge layers that are laid one after the other, the lowest first, on a surface.

    The layers that lie on it already are not judged. Each rule is told at most once for a layer;
    each layer has one coat unless `coats` says more.
    """
    stack = list(surface.beneath)
    findings: list[Finding] = []
    for step, (layer, count) in enumerate(zip(layers, coats or [1] * len(layers), strict=True)):
        rules = rules_on(surface, layer)
        findings += judge_layer(rules, surface, stack, layer, step)
        too_many = say_too_many(layer, count, stack)
        if too_many:
            findings.append(Finding(TOO_MANY_COATS, too_many, step))
        stack = [*stack_after(stack, layer, count)]
    return findings


def rules_on(surface: Surface, layer: Layer) -> tuple[Rule, ...]:
    """The rules that could touch this layer on this surface, whatever lies beneath it."""
    return tuple(rule for rule in load_rules() if rule.could_touch(surface, layer))


def judge_layer(
    rules: Sequence[Rule], surface: Surface, stack: Sequence[Layer], laid: Layer, step: int = 0
) -> list[Finding]:
    """Judge one layer by the rules that `rules_on` leaves for it, over a stack, the lowest first.

    The stack holds all that `surface` says lies beneath; `step` is kept in the findings. A lift is
    judged by what it bares.
    """
    findings = []
    if laid.kind == "lift":
        names = [layer.name for layer in stack]
        if not lifted(names, laid.name):
            on_top = names[-1] if names else "bare gold"
            sentence = NOT_ON_TOP.reason.format(layer=laid.name, beneath=on_top)
            return [Finding(NOT_ON_TOP, sentence, step)]
        if not (top := stack[-1]).taken_back_by:
            sentence = HARDENS.reason.format(beneath=top.name, how=top.reversible)
            findings.append(Finding(HARDENS, sentence, step))
        stack = stack_after(stack, laid)
    for rule in rules:
        culprit = _what_breaks(rule, stack)
        if culprit is not None:
            sentence = rule.reason.format(layer=laid.name, beneath=culprit)
            findings.append(Finding(rule, _conditional(rule, surface, sentence), step))
    return findings


def layer_cautions(layer: Layer) -> tuple[str, ...]:
    """A layer's own cautions and what the rules say of it on any surface, safety included."""
    by_rule = [
        rule.reason.format(layer=layer.name, beneath="")
        for rule in load_rules()
        if rule.over is None
        and not rule.unless_isolated
        and not rule.other_bole
        and rule.surface == SurfacePattern()
        and rule.laid.fits(layer)
    ]
    return tuple(dict.fromkeys([*layer.cautions, *by_rule]))


def surface_cautions(surface: Surface) -> tuple[str, ...]:
    """What the rules say of a surface, whatever is laid on it."""
    return tuple(
        _conditional(rule, surface, rule.reason)
        for rule in load_rules()
        if rule.is_general() and not rule.job and rule.surface.fits(surface)
    )


def job_rules(layer: Layer) -> tuple[Rule, ...]:
    """The rules for the whole job, such as for its solvent, that a layer brings in."""
    return tuple(rule for rule in load_rules() if rule.job and rule.laid.fits(layer))


def is_irreversible(layer: Layer) -> bool:
    """Whether the shelf says that the layer cannot be taken off again."""
    return layer.reversible.startswith("not reversible")


def comes_off(layer: Layer) -> bool:
    """Whether the shelf says that the layer can be taken off again once it is dry."""
    hard = is_irreversible(layer) or "hard to reverse" in layer.reversible
    return layer.reversible not in ("", "unknown") and not hard


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
        return capital(sentence)
    return f"If this is {' or '.join(technique)} gilding: {sentence[:1].lower()}{sentence[1:]}"
