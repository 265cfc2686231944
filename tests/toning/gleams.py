"""Lustre trials of a workshop that does not exist: layers laid over one another, lobe by lobe.

A surface is a mixture of lobes, each a body and a gleam of some width (`measure/metal_renders.py`,
after Ward 1992). A film lets part of what lies beneath through, both ways, and adds its own body
and gleam; a cover takes its share of the area. Lustre is then peak over body of the mixture under
lamps placed by chance, as `read_lustre` defines it: no formula of the lustre model is used, whose
law is straight in stops where this one is straight in light.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from functools import cache
from itertools import islice

import numpy as np
from numpy.typing import NDArray

from tests.measure.metal_renders import lobes, ring, tilts
from tonematch.toning.core import Application, Kind, Layer, Trial

Floats = NDArray[np.float64]

READING = 0.06
"""Deviation of a lustre's own reading in stops, beside where the lamps stood."""
HAND = 0.15
"""Deviation of log thickness from one application to the next."""
LAMPS = 5


@dataclass(frozen=True)
class Gleam:
    """Light of a body and height and width (degrees) of its gleam."""

    body: float
    height: float
    width: float


@dataclass(frozen=True)
class SimulatedGleam:
    """A layer: its gleam, how fast it lets less through, whether it lies only here and there."""

    layer: Layer
    gleam: Gleam
    depth: float
    covers: bool = False


# Name, kind, word, body, height, width, depth, covers: all made up.
_LAYERS: tuple[tuple[str, Kind, str, float, float, float, float, bool], ...] = (
    ("hard seal", "seal", "raises", 0.02, 0.50, 5.0, 0.9, False),
    ("thin seal", "seal", "raises", 0.03, 0.30, 6.0, 0.5, False),
    ("size", "seal", "lowers", 0.05, 0.05, 12.0, 0.8, False),
    ("soft wax", "wax", "satin", 0.05, 0.12, 9.0, 0.7, False),
    ("brown wax", "wax", "satin", 0.05, 0.12, 10.0, 1.2, False),
    ("matting wash", "wash", "lowers", 0.15, 0.02, 12.0, 1.2, True),
    ("grey dust", "dust", "lowers", 0.20, 0.02, 14.0, 2.0, True),
    ("oil glaze", "glaze", "", 0.02, 0.15, 7.0, 0.5, False),
    ("thin glaze", "glaze", "", 0.01, 0.02, 7.0, 0.15, False),
    ("umber wash", "wash", "", 0.10, 0.08, 10.0, 0.4, True),
)


def gleaming_shelf() -> dict[str, Layer]:
    """The ten layers as a shelf knows them: by name, kind and word."""
    return {name: made.layer for name, made in _workshop().items()}


def lustre_trials(seed: int) -> Iterator[Trial]:
    """Trials without end: pieces of one to four layers on gold of any burnish, each a piece."""
    rng = np.random.default_rng(seed)
    deck: list[str] = []
    piece = 0
    while True:
        piece += 1
        surface = [(1.0, Gleam(0.35, float(np.exp(rng.uniform(-3.0, 1.3))), rng.uniform(3.5, 9)))]
        while len(deck) < 4:
            deck += [str(name) for name in rng.permutation(list(_workshop()))]
        size = int(rng.integers(1, 5))
        names, deck = deck[:size], deck[size:]
        before = _read(surface, rng)
        for name in names:
            made = _workshop()[name]
            strength, coats = float(rng.choice((0.25, 0.5, 0.75, 1.0))), 1 + int(rng.random() < 0.3)
            surface = _laid(surface, made, strength * coats * np.exp(HAND * rng.standard_normal()))
            after = _read(surface, rng)
            laid = Application(np.array([80.0, 5, 30]), name, made.layer.kind, strength, coats)
            yield Trial(
                laid, laid.before, f"piece {seed}-{piece}", "2026-01-01", 1, "", before, after
            )
            before = after


def make_lustre_trials(n: int, seed: int) -> list[Trial]:
    """The first n trials of a seed; another seed is other pieces."""
    return list(islice(lustre_trials(seed), n))


@cache
def _workshop() -> dict[str, SimulatedGleam]:
    return {
        name: SimulatedGleam(
            Layer(name, kind, lustre=word), Gleam(body, height, width), depth, covers
        )
        for name, kind, word, body, height, width, depth, covers in _LAYERS
    }


Surface = list[tuple[float, Gleam]]


def _laid(surface: Surface, made: SimulatedGleam, amount: float) -> Surface:
    """Shares of light of each lobe once a layer lies over them."""
    taken = 1.0 - float(np.exp(-made.depth * amount))
    # Light passes a film twice, and only once is turned back at it.
    through = 1.0 - taken if made.covers else (1.0 - taken) ** 2
    return [(share * through, gleam) for share, gleam in surface] + [(taken, made.gleam)]


def _read(surface: Surface, rng: np.random.Generator) -> float:
    """Rise in stops under a ring of lamps that stand where they happen to."""
    field = _field()
    light = np.zeros((LAMPS, *field.shape[:2]))
    for number, lamp in enumerate(ring(LAMPS, rng)):
        for share, gleam in surface:
            wide, narrow = lobes(field, lamp, gleam.width)
            light[number] += share * (gleam.body * wide + gleam.height * narrow)
    peak, middle = light.max(axis=0).mean(), np.median(light, axis=0).mean()
    return max(0.0, float(np.log2(peak / middle)) + READING * float(rng.standard_normal()))


@cache
def _field() -> Floats:
    return tilts(np.random.default_rng(0), (24, 24))
