"""Pairs that are photographed several times, each time compared on the card, and combined."""

from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np

from tests.measure.accuracy import (
    Compared,
    again,
    compare_apart,
    compare_on_card,
    random_pairs,
    retaken,
)
from tests.measure.drawn_pairs import Seed, random_conditions
from tests.measure.simulated_camera import Conditions, Patch
from tonematch.measure.core import Comparison
from tonematch.measure.repeats import combine

Kind = Literal["lamp kept", "lamp moved", "two photographs"]
"""What is done between repeats: nothing to the light, the lamp moved each time; and original and
repair in a photograph each, under a light that fell otherwise, but with one white balance."""


@dataclass(frozen=True, eq=False)
class Repeated:
    """One pair in several photographs.

    Attributes
    ----------
    shots : tuple of Compared
    together : Comparison
        All combined.
    """

    shots: tuple[Compared, ...]
    together: Comparison

    @property
    def agreeing(self) -> int:
        """How many of the first two differences, 0 to 2, lie in the other's interval."""
        one, other = (shot.comparison for shot in self.shots[:2])
        return sum(
            seen.interval[0] <= beside.delta_e <= seen.interval[1]
            for seen, beside in ((one, other), (other, one))
        )

    @property
    def holds(self) -> bool:
        """Whether the combined interval holds the truth."""
        return self.together.interval[0] <= self.shots[0].true <= self.together.interval[1]

    @property
    def width(self) -> float:
        """Of the combined interval."""
        return self.together.interval[1] - self.together.interval[0]


def twice(count: int, seed: Seed) -> list[Repeated]:
    """Pairs photographed twice: two stops apart, the white balance changed."""
    rng = np.random.default_rng(seed)
    found = []
    for pair in random_pairs(count, rng):
        how, surface = replace(random_conditions(rng), exposure=0.9), _surface(rng)
        shoot = _shooter(pair, rng, surface)
        first = retaken(shoot, how)
        second = shoot(again(first.how, -2.0, rng))
        found.append(_combined([first, second]))
    return found


def repeated(
    count: int, seed: Seed, number: int, kind: Kind = "lamp kept", mottling: float = 1.0
) -> list[Repeated]:
    """Pairs of like places photographed `number` times.

    Exposure (two stops in all) and white balance are new each time.
    """
    rng = np.random.default_rng(seed)
    found = []
    for pair in random_pairs(count, rng, mottling=mottling):
        how, surface, beside = random_conditions(rng), _surface(rng), random_conditions(rng)
        shots = []
        for _ in range(number):
            how = again(replace(how, exposure=0.8), rng.uniform(-2.0, 0.0), rng)
            if kind == "lamp moved":
                how = _lit_as(how, random_conditions(rng))
            light = beside if kind == "two photographs" else None
            shots.append(retaken(_shooter(pair, rng, surface, light), how))
        found.append(_combined(shots))
    return found


def _shooter(
    pair: tuple[Patch, Patch],
    rng: np.random.Generator,
    surface: int,
    beside: Conditions | None = None,
) -> Callable[[Conditions], Compared]:
    """Takes the same places of a pair; the repair by itself in another light, where given."""

    def shoot(how: Conditions) -> Compared:
        if beside is None:
            return compare_on_card(pair, how, rng, surface=surface)
        return compare_apart(pair, (how, _lit_as(how, beside)), rng, surface)

    return shoot


def _combined(shots: list[Compared]) -> Repeated:
    return Repeated(tuple(shots), combine([shot.comparison for shot in shots]))


def _lit_as(how: Conditions, other: Conditions) -> Conditions:
    return replace(how, gradient=other.gradient, falloff=other.falloff)


def _surface(rng: np.random.Generator) -> int:
    return int(rng.integers(2**31))
