"""Plans told one after the other: what to lay, why, how to wait for it, and what to mind."""

from collections.abc import Iterable, Mapping, Sequence

from tonematch.measure.words import capital
from tonematch.toning.core import Layer, Plan, Proposal, Step, Surface
from tonematch.toning.layers.mix import say_pot
from tonematch.toning.layers.shelf import find_layer
from tonematch.toning.planning.choice import is_offered
from tonematch.toning.planning.plan_words import (
    STRIPS_FIRST,
    STRIPS_INSTEAD,
    TOO_UNCERTAIN,
    UNTRIED,
    say_bench,
    say_chance,
    say_job,
    say_to_lay,
    say_work,
)

LEARNED_FROM = "Laid to learn"
_STRIPS = frozenset((STRIPS_FIRST, STRIPS_INSTEAD, TOO_UNCERTAIN, UNTRIED))


def asks_for_strips(proposal: Proposal) -> bool:
    """Whether test strips come before any of its plans."""
    return not _STRIPS.isdisjoint((*proposal.notes, *(plan.words for plan in proposal.plans)))


def plan_name(number: int, plan: Plan, missing: str) -> str:
    """``Plan 2``, or what stands in its place where it gets there too seldom to be one.

    `missing` is that of its proposal.
    """
    if is_offered(plan):
        return f"Plan {number}"
    return "The best that can be done" if missing else LEARNED_FROM


class PlanTeller:
    """Tells plans one after the other, for a pot of so many ml, and nothing of a layer twice."""

    def __init__(self, layers: Mapping[str, Layer], surface: Surface, pot: float) -> None:
        self.layers, self.surface, self.pot = layers, surface, pot
        self._told: dict[object, str] = {}
        self._asked: dict[str, set[str]] = {}

    def job(self, plans: Iterable[Plan]) -> str:
        """What to mind through the whole job with these plans, in a few words."""
        return say_job(find_layer(self.layers, s.layer) for plan in plans for s in plan.steps)

    def chance(self, plan: Plan) -> str:
        """``likely (64 %), dry in 1 to 2 hours``; whether another layer must follow as a rule."""
        more = " with one more layer after it" if plan.chance < plan.chance_read / 2.0 else ""
        bench = say_bench(plan, self.layers, self.surface)
        return f"{say_chance(plan.chance_read)}{more}, {bench}"

    def steps(self, name: str, plan: Plan) -> list[tuple[str, list[str]]]:
        """For each step of a plan what to do, in a sentence, and what to mind that is new."""
        return [
            self._step(f"{name}, step {place}", step)
            for place, step in enumerate(plan.steps, start=1)
        ]

    def _step(self, place: str, step: Step) -> tuple[str, list[str]]:
        layer = find_layer(self.layers, step.layer)
        what = (step.layer, step.strength, step.coats)
        said = [capital(say_to_lay(step))]
        if what in self._told:
            said.append(f"as in {self._told[what]}")
        if (layer.name, step.because) not in self._told:
            said.append(step.because)
        takes = say_pot(layer, step.strength, self.pot, step.coats)
        pot = "" if what in self._told else f": {takes}"
        self._told = {what: place, (layer.name, step.because): place} | self._told
        rest, mind = self._rest(layer, step)
        return "; ".join(filter(None, (", ".join(said) + pot, rest))) + ".", mind

    def _rest(self, layer: Layer, step: Step) -> tuple[str, list[str]]:
        """How it is laid, dries and comes off, and what to mind; or the layer that it is like."""
        work = say_work(layer, step.coats, self.surface)
        asks = {one.lower().replace(layer.name, "it"): one for one in step.cautions}
        known = self._asked.get(layer.name)
        self._told.setdefault(layer.name, work)
        like = [name for name in self._asked if self._told[name] == work]
        whole = [name for name in like if asks.keys() <= self._asked[name]]
        if known is not None:
            work = ""
        elif whole:
            work, known = f"for the rest like {whole[0]}", self._asked[whole[0]]
        else:
            work = f"laid, dried and taken off like {like[0]}" if like else work
        mind = self.new([one for ask, one in asks.items() if ask not in (known or ())])
        self._asked[layer.name] = {*asks, *(known or ())}
        return work, mind

    def new(self, cautions: Sequence[str]) -> list[str]:
        """Those that were not told yet."""
        new = [one for one in cautions if one not in self._told]
        self._told |= dict.fromkeys(new, "")
        return new
