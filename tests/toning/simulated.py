"""What any simulated workshop can do, and the logbook that a gilder would keep in it.

The first is `tests.toning.simulator.FIRST`; every seed of `tests.toning.second_workshop` is one
more. The loop of plan, layer and reading (`tests.toning.closed_loop`) runs in any of them.
"""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Literal, Protocol, TypeVar

import numpy as np
from numpy.typing import NDArray

from tonematch.toning.core import Application, Finish, Kind, Layer, Technique, Trial

Array = NDArray[np.float64]
Whole = NDArray[np.intp]
S = TypeVar("S")

READING_NOISE = 0.4
"""Deviation of each of L*, a*, b* of a reading."""
STRENGTHS = (0.25, 0.5, 0.75, 1.0)


class Simulated(Protocol[S]):
    """A workshop whose truth is known; its surfaces are of type S, one or many at once."""

    @property
    def hand(self) -> float:
        """Deviation of log thickness from one application to the next."""

    @property
    def layers(self) -> Mapping[str, Layer]:
        """The shelf by name, as far as the gilder knows it."""

    def new_surface(self, rng: np.random.Generator) -> S:
        """Untoned leaf of a random alloy over a random bole, a little worn."""

    def random_old_surface(self, seed: int) -> S:
        """Gilding that was worn, smoked and toned by hands unknown."""

    def true_after(
        self,
        surface: S,
        layer: str,
        strength: float | Array,
        coats: float | Array = 1,
        *,
        technique: Technique = "water",
        finish: Finish = "burnished",
        hand: float | Array = 0.0,
    ) -> S:
        """The surface once a layer lies on it.

        `hand` is the natural logarithm by which the hand laid more than meant; 0 is its median.
        On n surfaces strength, coats and hand may each have the shape (n, 1).
        """

    def lab_of(self, surface: S) -> Array:
        """True CIELAB (D50, 2 degree), shape (..., 3)."""

    def rows(self, surface: S, at: Whole) -> S:
        """These of many surfaces; a single one counts as many of one."""


@dataclass(frozen=True, eq=False)
class SimulatedTrial:
    """A trial with the CIELAB that an even hand and a perfect reading would have given.

    `beneath` holds the kinds of the layers that lay there before, the lowest first.
    """

    trial: Trial
    true_after: Array
    beneath: tuple[Kind, ...] = ()


def read(rng: np.random.Generator, lab: Array) -> Array:
    """A reading of a true CIELAB."""
    return lab + READING_NOISE * rng.standard_normal(3)


def simulated_trials(workshop: Simulated[S], seed: int) -> Iterator[SimulatedTrial]:
    """Trials without end: pieces with two strips each of one to four layers, in the usual order.

    Every ten trials in a row lay each of ten layers about once: layers come from a shuffled deck,
    as nobody can learn what was never tried.
    """
    rng = np.random.default_rng(seed)
    deck: list[str] = []
    piece = 0
    while True:
        piece += 1
        technique: Technique = "oil" if rng.random() < 0.4 else "water"
        finish: Finish = "matte" if technique == "oil" or rng.random() < 0.3 else "burnished"
        start = workshop.new_surface(rng)
        for _ in range(2):
            while len(deck) < 4:
                deck += [str(name) for name in rng.permutation(list(workshop.layers))]
            size = int(rng.integers(1, 5))
            names, deck = deck[:size], deck[size:]
            gilding = f"piece {seed}-{piece}", technique, finish
            yield from _strip(workshop, rng, start, names, *gilding)


def make_with_truth(workshop: Simulated[S], n: int, seed: int) -> list[SimulatedTrial]:
    """The first n trials of a seed with their truth; another seed is other pieces."""
    made = simulated_trials(workshop, seed)
    return [next(made) for _ in range(n)]


def _strip(
    workshop: Simulated[S],
    rng: np.random.Generator,
    surface: S,
    names: Sequence[str],
    piece: str,
    technique: Technique,
    finish: Finish,
) -> Iterator[SimulatedTrial]:
    place: dict[Kind, Literal[0, 1, 2]] = {"rub": 0, "wax": 2}
    in_order = sorted(names, key=lambda name: place.get(workshop.layers[name].kind, 1))
    kinds = [workshop.layers[name].kind for name in in_order]
    for step, name in enumerate(in_order, start=1):
        strength = float(rng.choice(STRENGTHS))
        coats = 2 if rng.random() < 0.25 else 1
        before = read(rng, workshop.lab_of(surface))
        even = workshop.true_after(
            surface, name, strength, coats, technique=technique, finish=finish
        )
        surface = workshop.true_after(
            surface, name, strength, coats,
            technique=technique, finish=finish, hand=workshop.hand * rng.standard_normal(),
        )  # fmt: skip
        application = Application(before, name, kinds[step - 1], strength, coats, technique, finish)
        after = read(rng, workshop.lab_of(surface))
        trial = Trial(application, after, piece, "2026-01-01", step)
        yield SimulatedTrial(trial, workshop.lab_of(even), tuple(kinds[: step - 1]))
