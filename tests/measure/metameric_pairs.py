"""Pairs that match for the standard observer under one lamp and part under another, and their like.

The repair is gold under a film of four measured artists' paints (tests/reference), of which so much
is taken that it matches an old gold under the first lamp. Which four, out of 115 drawn by chance,
are those whose difference grew most under the second. Old gold, camera and noise are those of
`simulated_camera`.
"""

from collections.abc import Iterator
from dataclasses import dataclass, replace
from pathlib import Path

import colour
import numpy as np
from scipy.optimize import least_squares

from tests.demonstration.films import Film, lay, new_gold
from tests.demonstration.spectra import Array, delta_e_2000, xyz_weights
from tests.measure.drawn_pairs import random_conditions
from tests.measure.simulated_camera import (
    CARD,
    LAMPS,
    Conditions,
    Patch,
    Scene,
    neutral,
    photograph,
    random_old,
    random_pair,
)
from tests.toning.simulator import mixed

RECIPES = (
    ("A", "D65", ("BismuthVanadateYellow", "CeruleanBlueChromium", "PhthaloGreenYellowShade",
                  "PyrroleRed")),
    ("A", "D65", ("CobaltBlue", "DiarylideYellow", "PhthaloGreenYellowShade", "PyrroleOrange")),
    ("A", "D65", ("BismuthVanadateYellow", "CobaltBlue", "QuinacridoneMagenta",
                  "QuinacridoneRed")),
    ("D50", "A", ("PhthaloGreenYellowShade", "PyrroleOrange", "QuinacridoneMagenta",
                  "UltramarineBlue")),
    ("A", "D65", ("BismuthVanadateYellow", "PhthaloBlueGreenShade", "PhthaloBlueRedShade",
                  "PyrroleRed")),
    ("D50", "A", ("BismuthVanadateYellow", "CadmiumOrange", "CeruleanBlueChromium",
                  "QuinacridoneMagenta")),
    ("LED-V2", "D65", ("DiarylideYellow", "PhthaloGreenYellowShade", "PyrroleOrange",
                       "UltramarineBlue")),
    ("D50", "FL2", ("HansaYellowOpaque", "PhthaloGreenBlueShade", "PhthaloGreenYellowShade",
                    "QuinacridoneMagenta")),
)  # fmt: skip
"""First lamp, second lamp, paints."""
MATCHED = 0.3
GROWN = 2.0
"""Greatest CIEDE2000 under the first lamp, least under the second, to the standard observer."""


@dataclass(frozen=True, eq=False)
class UnderTwoLamps:
    """A pair and the lamps that it is photographed under."""

    pair: tuple[Patch, Patch]
    lamps: tuple[str, str]

    @property
    def true(self) -> tuple[float, float]:
        """CIEDE2000 of the pair to the standard observer adapted to each lamp."""
        first, second = (
            float(delta_e_2000(*(seen_under(patch.mean, lamp) for patch in self.pair)))
            for lamp in self.lamps
        )
        return first, second

    @property
    def change(self) -> float:
        """CIEDE2000 by which the difference changes between them, about the middle of all four."""
        seen = [[seen_under(patch.mean, lamp) for patch in self.pair] for lamp in self.lamps]
        apart = (seen[1][1] - seen[1][0]) - (seen[0][1] - seen[0][0])
        middle = np.mean(seen, axis=(0, 1))
        return float(delta_e_2000(middle - apart / 2.0, middle + apart / 2.0))

    def photographed(self, rng: np.random.Generator, folder: Path) -> tuple[list[Path], list[str]]:
        """Two files, one a lamp, and the boxes of card, original, repair, white and black.

        One camera, its white balanced anew; the surfaces show other places of their mottle.
        """
        scene = Scene([neutral(CARD), *self.pair, neutral(0.9), neutral(0.05)], 5)
        first = replace(random_conditions(rng, self.lamps[:1]), exposure=0.62)
        second = replace(
            random_conditions(rng, self.lamps[1:]),
            exposure=0.62, camera=first.camera, exponent=first.exponent, quality=first.quality,
        )  # fmt: skip
        boxes = [",".join(f"{side:g}" for side in scene.box(place)) for place in range(5)]
        return [_written(scene, how, rng, folder) for how in (first, second)], boxes


def seen_under(reflectance: Array, lamp: str) -> Array:
    """CIELAB to the 2 degree observer under a lamp (two at once with a plus), with its white."""
    weights = np.mean([xyz_weights(part) for part in lamp.split(" + ")], axis=0)
    white = colour.XYZ_to_xy(weights.sum(axis=0))
    return np.asarray(colour.XYZ_to_Lab(reflectance @ weights, white), dtype=np.float64)


def metameric(rng: np.random.Generator) -> Iterator[UnderTwoLamps]:
    """Pairs whose difference grows under the second lamp, without end, by the recipes in turn."""
    while True:
        for first, second, paints in RECIPES:
            old = random_old(rng)
            found = UnderTwoLamps((old, _matched(old, first, paints)), (first, second))
            here, there = found.true
            if here <= MATCHED and there >= GROWN:
                yield found


def like(rng: np.random.Generator) -> Iterator[UnderTwoLamps]:
    """Pairs toned with the layers of the shelf, in turn equal and apart, under any two lamps."""
    while True:
        for difference in (0.0, None):
            first, second = (str(lamp) for lamp in rng.choice(LAMPS, 2, replace=False))
            yield UnderTwoLamps(random_pair(rng, difference), (first, second))


def _matched(old: Patch, lamp: str, paints: tuple[str, ...]) -> Patch:
    """Gold under so much of each paint that it matches an old gold under a lamp, if it can."""
    goal, gold = seen_under(old.mean, lamp), new_gold()

    def repair(log_shares: Array) -> Array:
        shares = dict(zip(paints, np.exp(log_shares), strict=True))
        return lay(gold, Film("paints", "wash", *mixed(shares), outer=0.01), 1.0).reflectance

    def misfit(log_shares: Array) -> Array:
        return seen_under(repair(log_shares), lamp) - goal

    start = np.full(len(paints), -1.5)
    found = least_squares(misfit, start, bounds=(-9, 2), max_nfev=30)
    return Patch(repair(found.x))


def _written(scene: Scene, how: Conditions, rng: np.random.Generator, folder: Path) -> Path:
    path = folder / f"{how.lamp}-{rng.integers(10**9)}.jpg"
    path.write_bytes(photograph(scene, how, rng))
    return path
