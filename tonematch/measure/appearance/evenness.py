"""Evenness: whether two areas are mottled alike, whatever their mean colours are.

Old gold is mottled, and a repair of the right mean colour still shows where it is too even, too
blotchy, or blotched on another scale. Both areas are cut into cells and their Lab values
compared as distributions by the earth mover's distance with CIEDE2000 as the ground distance:
how far, on average, the cells' colours of one would have to be moved to give those of the other.
Beside it stands how much cells differ by their distance apart, which tells the scale. Both are
judged against what two halves of one surface give (`appearance.permutation`).
"""

import math
from dataclasses import dataclass
from typing import Literal

import numpy as np

from tonematch.measure.appearance.area_picture import AreaPicture, reduced
from tonematch.measure.appearance.cells import (
    FEWEST_BLOCKS,
    Cells,
    block_side,
    blocks_of,
    cut_into_cells,
    mottle,
)
from tonematch.measure.appearance.patches import Patches, patches_of
from tonematch.measure.appearance.permutation import permute_cells, permute_structure, sample
from tonematch.swatchbook import limits

EvennessVerdict = Literal["alike", "too even", "too mottled", "otherwise mottled", "not known"]

# Cells along the side of a square area.
_CELLS_ACROSS = 64
# Correlation lengths below so many cells are read from cells half as wide.
_FINE = 2.0
_SEED = 1996
# Three tests are made: with each at this level all three together err in no more than 5 % of
# pairs (tests/measure/surface_table.py).
_LEVEL = 0.005
# Within these ratios a spread or a scale is not what is said to differ.
_SAME_SPREAD, _SAME_SCALE = 1.15, 1.3


@dataclass(frozen=True, eq=False)
class Evenness:
    """How an area is mottled.

    Attributes
    ----------
    mottle : float
        Mean CIEDE2000 of the cells from their mean, a steady change across the area taken off.
    spread_L, spread_C : float
        Standard deviation of L* and of chroma C*ab over the same cells.
    scale : float
        Correlation length: the distance in pixels of the photograph at which the
        autocorrelation of the cells has fallen to 1/e, noise apart.
    scale_mm : float or None
        The same in millimetres, where the scale of the photograph is known.
    patches : Patches or None
        Those that can be seen.
    """

    mottle: float
    spread_L: float
    spread_C: float
    scale: float
    scale_mm: float | None
    patches: Patches | None


@dataclass(frozen=True, eq=False)
class EvennessComparison:
    """How a repair's surface differs from the original's, the mean colour aside.

    Attributes
    ----------
    verdict : {"alike", "too even", "too mottled", "otherwise mottled", "not known"}
    distance : float
        Earth mover's distance of the two surfaces in CIEDE2000, their means made equal.
    halves : float
        What two halves of one surface reach in 95 % of permutations.
    chance : float
        Share of permutations that differ as much, in the test of three that finds it rarest:
        distance of cells, distance of block means, and difference of cells by their distance
        apart.
    """

    verdict: EvennessVerdict
    distance: float
    halves: float
    chance: float
    original: Evenness
    repair: Evenness
    words: str


def compare_evenness(original: AreaPicture, repair: AreaPicture) -> EvennessComparison:
    """Compare two areas as surfaces.

    Cells of both are of one size on the piece where both scales are known, else of one size in the
    photograph. They are "alike" where two halves of one surface differ as much, or where neither
    area is mottled enough to be seen (``seen_mottle`` in ``swatches/limits.toml``); "not known"
    where an area holds too few blocks wider than its mottling. Raises ReadingError where an area
    has too few cells to be judged.
    """
    units = _units(original, repair)
    side = max(
        unit * math.sqrt(picture.used.sum()) / _CELLS_ACROSS
        for unit, picture in zip(units, (original, repair), strict=True)
    )
    side = max(side, *units)
    one, other = (
        cut_into_cells(reduced(picture, side / unit))
        for unit, picture in zip(units, (original, repair), strict=True)
    )
    told = _tell(one, original, side / units[0]), _tell(other, repair, side / units[1])
    random = np.random.default_rng(_SEED)
    blocks = [blocks_of(cells, block_side(one, other)) for cells in (one, other)]
    count = min(len(blocks[0]), len(blocks[1]))
    if count < FEWEST_BLOCKS:
        nan = math.nan
        words = (
            "The areas are too small for their mottling to be compared: mark larger ones, or "
            "photograph more of the piece."
        )
        return EvennessComparison("not known", nan, nan, nan, *told, words)
    samples, means = zip(*(sample(b, count, random) for b in blocks), strict=True)
    by_cell = permute_cells(samples[0], samples[1], random)
    by_block = permute_cells(means[0], means[1], random)
    chance = min(by_cell.chance, by_block.chance, permute_structure(blocks[0], blocks[1], random))
    verdict: EvennessVerdict = "alike"
    if chance <= _LEVEL:
        verdict = _direction(*told)
    return EvennessComparison(
        verdict=verdict,
        distance=by_cell.distance,
        halves=by_cell.halves,
        chance=chance,
        original=told[0],
        repair=told[1],
        words=_say(verdict, *told),
    )


def _units(original: AreaPicture, repair: AreaPicture) -> tuple[float, float]:
    if original.mm_per_pixel is not None and repair.mm_per_pixel is not None:
        return original.mm_per_pixel, repair.mm_per_pixel
    return original.pixel, repair.pixel


def _tell(cells: Cells, picture: AreaPicture, factor: float) -> Evenness:
    lab = cells.lab[cells.used]
    size, fine = max(factor, 1.0), cells
    if cells.length < _FINE and size > 1.0:  # the size of fine patches shows in finer cells
        size = max(size / 2.0, 1.0)
        fine = cut_into_cells(reduced(picture, size))
    mm = None if picture.mm_per_pixel is None else size * picture.mm_per_pixel
    return Evenness(
        mottle=mottle(lab),
        spread_L=float(lab[:, 0].std()),
        spread_C=float(np.hypot(lab[:, 1], lab[:, 2]).std()),
        scale=fine.length * size * picture.pixel,
        scale_mm=None if mm is None else fine.length * mm,
        patches=patches_of(fine, mm),
    )


def _direction(original: Evenness, repair: Evenness) -> EvennessVerdict:
    if max(original.mottle, repair.mottle) < limits("evenness")["seen_mottle"]:
        return "alike"
    ratio = repair.mottle / max(original.mottle, 1e-9)
    if ratio < 1.0 / _SAME_SPREAD:
        return "too even"
    return "too mottled" if ratio > _SAME_SPREAD else "otherwise mottled"


def _say(verdict: EvennessVerdict, original: Evenness, repair: Evenness) -> str:
    scale = ""
    if original.scale_mm is not None and repair.scale_mm is not None:
        if repair.scale_mm < original.scale_mm / _SAME_SCALE:
            scale = " Its mottling is finer."
        elif repair.scale_mm > original.scale_mm * _SAME_SCALE:
            scale = " Its mottling is coarser."
    match verdict:
        case "too even":
            return f"The repair is too even beside the original.{scale}"
        case "too mottled":
            return (
                f"The repair is too mottled beside the original.{scale} Lay a thinner, more even "
                "coat over it."
            )
        case "otherwise mottled":
            return (
                f"The repair is mottled otherwise than the original.{scale} Look at the size and "
                "the colour of its patches."
            )
        case _:
            return "The repair is as even as the original."
