"""Cases of moved lamps and of mottled pairs, drawn at random: for the tests and their table."""

from collections.abc import Sequence

import numpy as np

from tests.measure.metal_renders import (
    ORIGINAL,
    REPAIR,
    Floats,
    Lamp,
    Metal,
    calibrated,
    glinting,
    light_to_lab,
    lit,
    old_gold,
    parting_pair,
    photograph,
    ring,
    tilts,
)
from tests.measure.mottled import as_picture, mottled
from tonematch.measure.appearance.alignment import overlay
from tonematch.measure.appearance.evenness import EvennessComparison, compare_evenness
from tonematch.measure.appearance.lustre import Lustre, lustre_of
from tonematch.measure.appearance.lustre_comparison import LustreComparison, compare_lustre
from tonematch.measure.colour.difference import USUAL_TOLERANCE, delta_e_2000
from tonematch.measure.core import Area
from tonematch.photo.core import Photo

FIELD = (90, 100)


def random_metal(rng: np.random.Generator) -> Metal:
    """Old gold, smoked and worn by chance."""
    return old_gold(
        rng.uniform(0.1, 0.5), rng.uniform(0, 0.15), rng.uniform(3, 7), rng.uniform(1, 3)
    )


def glint_shift(lights: int, walking: bool, rng: np.random.Generator) -> tuple[float, float]:
    """How far glints over a fifth of an area move its body colour.

    Parameters
    ----------
    lights : int
    walking : bool
        Whether each lamp lights facets of its own; else the same facets gleam under every one.
    rng : Generator

    Returns
    -------
    body, single : float
        CIEDE2000 between with and without glints: of the body colour, and of the plain mean in
        linear light of the first picture, which is what a reading without any rule would be.
    """
    lamps, metal = ring(lights, rng, nearest=10.0), random_metal(rng)
    fields = tilts(rng, FIELD), tilts(rng, FIELD)
    seed = int(rng.integers(2**31))
    plain: list[Photo] = []
    glinted: list[Photo] = []
    means = []
    for i, lamp in enumerate(lamps):
        one, other = (lit(metal, field, lamp) for field in fields)
        facets = np.random.default_rng(seed + (i if walking else 0))
        shining = glinting(one, 0.2, facets)
        noise = int(rng.integers(2**31))
        for light, photos in ((one, plain), (shining, glinted)):
            photos.append(photograph(light, other, lamp, np.random.default_rng(noise), 0.5))
        means.append((one.mean(axis=(0, 1)), shining.mean(axis=(0, 1))))
    labs = [read_lustre(photos, ORIGINAL).body.lab for photos in (plain, glinted)]
    return float(delta_e_2000(*labs)), plain_mean_shift(*means[0])


def plain_mean_shift(one: Floats, other: Floats) -> float:
    """CIEDE2000 of two colours in linear sRGB."""
    return float(delta_e_2000(light_to_lab(one), light_to_lab(other)))


def photographs(
    original: Metal, repair: Metal, lamps: Sequence[Lamp], rng: np.random.Generator
) -> list[Photo]:
    """Both metals side by side under every lamp."""
    fields = tilts(rng, FIELD), tilts(rng, FIELD)
    return [
        photograph(lit(original, fields[0], lamp), lit(repair, fields[1], lamp), lamp, rng, 0.4)
        for lamp in lamps
    ]


def compared(photos: Sequence[Photo]) -> LustreComparison:
    """Lustre of original and repair."""
    original, repair = (read_lustre(photos, area) for area in (ORIGINAL, REPAIR))
    return compare_lustre(original, repair, USUAL_TOLERANCE)


def read_lustre(photos: Sequence[Photo], area: Area) -> Lustre:
    """Lustre of one area, each picture calibrated by its own card."""
    return lustre_of(overlay(photos, [area])[0], area, calibrated(photos))


def parting(flop: float, lights: int, rng: np.random.Generator) -> LustreComparison:
    """A pair alike under the lamp nearest the mirror, `flop` CIEDE2000 apart under the last."""
    while True:
        metal, lamps = random_metal(rng), ring(lights, rng)
        other = parting_pair(metal, lamps, flop, rng) if flop else metal
        if min(other.body.min(), other.shine.min()) > 0:
            return compared(photographs(metal, other, lamps, rng))


def evenness(
    original: tuple[float, float], repair: tuple[float, float], rng: np.random.Generator
) -> EvennessComparison:
    """Two surfaces of one mean, each given by spread and scale of its mottling."""
    return compare_evenness(*(as_picture(mottled(rng, *kind)) for kind in (original, repair)))


SAME = ((2.0, 1.5), (2.0, 3.0), (1.0, 3.0), (2.0, 5.0))
OTHER = (
    ((1.0, 3.0), (2.0, 3.0)),
    ((1.5, 3.0), (2.5, 3.0)),
    ((1.5, 3.0), (0.5, 3.0)),
    ((2.0, 2.0), (2.0, 4.0)),
)
"""Spread in L* and scale in pixels: of one kind, and of two kinds."""
