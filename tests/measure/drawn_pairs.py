"""Pairs of surfaces and photographs of them, drawn at random and compared."""

from collections.abc import Callable, Sequence
from concurrent.futures import Executor
from dataclasses import replace
from functools import partial
from itertools import chain
from typing import TypeVar

import numpy as np

from tests.measure.accuracy import (
    WHITE_AND_BLACK,
    Compared,
    compare_on_card,
    compare_on_chart,
    compare_on_greys,
    compare_on_profile,
    random_pairs,
    retaken,
)
from tests.measure.simulated_camera import CAMERAS, CARD, LAMPS, Conditions, neutral, tinted_neutral

Made = TypeVar("Made")
Seed = int | Sequence[int]

CHUNK = 50
"""Pairs that are drawn from one seed, so that the number of processes changes no figure."""


def drawn(
    make: Callable[[int, Seed], list[Made]],
    count: int,
    seed: Sequence[int],
    workers: Executor | None = None,
) -> list[Made]:
    """`count` results of a function of number and seed, in chunks with seeds of their own."""
    counts = [min(CHUNK, count - start) for start in range(0, count, CHUNK)]
    seeds = [[*seed, chunk] for chunk in range(len(counts))]
    parts = workers.map(make, counts, seeds) if workers else map(make, counts, seeds)
    return list(chain.from_iterable(parts))


def random_conditions(
    rng: np.random.Generator, lamps: Sequence[str] = LAMPS, faults: float = 1.0
) -> Conditions:
    """A photograph as a careful person takes it.

    Parameters
    ----------
    rng : numpy.random.Generator
    lamps : sequence of str
    faults : float
        0 for even light and a tone curve as the profile says, 1 for light from two sides, a lens
        that the camera corrects and a little contrast: deviations of 3 % of the light over the
        picture (2.1 % across and down each), 1 % to its corners, and 0.04 of the exponent.
    """
    red, blue = rng.uniform(0.92, 1.08, 2)
    gx, gy, falloff, contrast = rng.normal(0, faults * np.array([0.021, 0.021, 0.01, 0.04]))
    return Conditions(
        camera=str(rng.choice(CAMERAS)),
        lamp=str(rng.choice(lamps)),
        exposure=rng.uniform(0.5, 0.8),
        balance=(red, 1.0, blue),
        gradient=(gx, gy),
        falloff=falloff,
        exponent=1.0 + contrast,
        quality=int(rng.integers(85, 97)),
    )


def on_card(
    count: int,
    seed: Seed,
    lamps: tuple[str, ...] = LAMPS,
    difference: float | None = None,
    mottling: float = 1.0,
    faults: float = 1.0,
    card_faults: float = 0.0,
    warm: float = 0.0,
    second_card: bool = False,
) -> list[Compared]:
    """Random pairs under random conditions, compared on the grey card alone.

    Parameters
    ----------
    count : int
    seed : int or sequence of int
    lamps : tuple of str, optional
    difference : float, optional
        True CIEDE2000; 0 to 6 by chance unless given.
    mottling : float, optional
        0 for flat surfaces, 1 for old gold.
    faults : float, optional
        Of light, lens and tone curve, beside the sizes that the uncertainty budget assumes.
    card_faults : float, optional
        How far the card is from neutral and from its stated reflectance; see `tinted_neutral`.
    warm : float, optional
        A warm reflection on the repair's side; see `Conditions`.
    second_card : bool, optional
        Whether a second card lies beside the repair.
    """
    rng = np.random.default_rng(seed)
    found = []
    for pair in random_pairs(count, rng, difference, mottling):
        card = tinted_neutral(CARD, card_faults, rng) if card_faults else neutral(CARD)
        on = partial(compare_on_card, pair, rng=rng, card=card, second_card=second_card)
        how = replace(random_conditions(rng, lamps, faults), warm=warm)
        found.append(retaken(on, how))
    return found


def on_greys(count: int, seed: Seed) -> list[Compared]:
    """Compared on a card and a grey scale; the file's gamma is anything from 1.0 to 2.6.

    Exposed so that the card of a linear file, which looks dark, is not refused as too dark.
    """
    rng = np.random.default_rng(seed)
    found = []
    for pair in random_pairs(count, rng):
        gamma, exposure = rng.uniform(1.0, 2.6), rng.uniform(0.65, 0.75)
        how = replace(random_conditions(rng), gamma=gamma, exposure=exposure)
        found.append(retaken(partial(compare_on_greys, pair, rng=rng), how))
    return found


def on_three_tones(count: int, seed: Seed, lamps: tuple[str, ...] = LAMPS) -> list[Compared]:
    """Compared beside white, grey and black cards."""
    rng = np.random.default_rng(seed)
    found = []
    for pair in random_pairs(count, rng):
        on = partial(compare_on_greys, pair, rng=rng, values=WHITE_AND_BLACK)
        found.append(retaken(on, random_conditions(rng, lamps)))
    return found


def on_chart(count: int, seed: Seed) -> list[tuple[Compared, Compared]]:
    """Compared beside a chart, and in a second picture with the profile of the first."""
    rng = np.random.default_rng(seed)
    found = []
    for pair in random_pairs(count, rng):
        how = random_conditions(rng)
        compared, profile = retaken(partial(compare_on_chart, pair, rng=rng), how)
        later = replace(compared.how, exposure=compared.how.exposure * rng.uniform(0.8, 1.0))
        on_it = partial(compare_on_profile, pair, profile=profile, rng=rng)
        found.append((compared, retaken(on_it, later)))
    return found
