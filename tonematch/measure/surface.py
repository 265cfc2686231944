"""Evenness: whether two areas are mottled alike, whatever their mean colours are.

Old gold is mottled, and a repair of the right mean colour still shows where it is too even, too
blotchy, or blotched on another scale. Both areas are cut into cells and their Lab values
compared as distributions by the earth mover's distance with CIEDE2000 as the ground distance:
how far, on average, the cells' colours of one would have to be moved to give those of the other.

How great that distance is between two halves of one surface is found by mixing: blocks of both
areas, wider than the mottling, are dealt at random into two halves, again and again. Only a
distance that such halves seldom reach is a difference of the surfaces.

References
----------
Rubner, Y., Tomasi, C. and Guibas, L. J. (2000). The earth mover's distance as a metric for
image retrieval. International Journal of Computer Vision 40(2), 99-121. Good, P. (2005).
Permutation, Parametric and Bootstrap Tests of Hypotheses, 3rd ed. Springer.
"""

import math
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import linear_sum_assignment

from tonematch.errors import ReadingError
from tonematch.measure.area_picture import AreaPicture, reduced
from tonematch.measure.local_metric import local_metric
from tonematch.measure.picture_difference import picture_difference
from tonematch.photo.limits import limits

EvennessVerdict = Literal["alike", "too even", "too mottled", "otherwise mottled", "not known"]

# Cells along the side of a square area.
_CELLS_ACROSS = 64
# Blocks are so many correlation lengths wide, and there must be so many of them in each area.
_BLOCK_LENGTHS, _SMALLEST_BLOCK, _FEWEST_BLOCKS = 2.0, 6, 12
_WELL_USED = 0.7
_SAMPLES = 100
_DEALS = 199
_SEED = 1996
# Three tests are made, and neighbouring blocks are not quite independent: with each at this
# level all three together err in fewer than 5 % of pairs (tests/measure/surface_table.py).
_LEVEL = 0.005
_LAGS = (1, 2, 4, 8, 16)
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
        autocorrelation of the cells has fallen to 1/e.
    scale_mm : float or None
        The same in millimetres, where the scale of the photograph is known.
    """

    mottle: float
    spread_L: float
    spread_C: float
    scale: float
    scale_mm: float | None


@dataclass(frozen=True, eq=False)
class EvennessComparison:
    """How a repair's surface differs from the original's, the mean colour aside.

    Attributes
    ----------
    verdict : {"alike", "too even", "too mottled", "otherwise mottled", "not known"}
    distance : float
        Earth mover's distance of the two surfaces in CIEDE2000, their means made equal.
    halves : float
        What two halves of one surface reach in 95 % of deals.
    chance : float
        Share of deals that differ as much, in the test of three that finds it rarest: distance
        of cells, distance of block means, and difference of cells by their distance apart.
    whole_distance : float
        Earth mover's distance with the means as they are.
    original, repair : Evenness
    words : str
    """

    verdict: EvennessVerdict
    distance: float
    halves: float
    chance: float
    whole_distance: float
    original: Evenness
    repair: Evenness
    words: str


@dataclass(frozen=True, eq=False)
class _Cells:
    lab: NDArray[np.float64]  # (rows, columns, 3), a steady change taken off, mean kept
    used: NDArray[np.bool_]
    length: float  # correlation length in cells


@dataclass(frozen=True, eq=False)
class _Block:
    lab: NDArray[np.float64]  # (side, side, 3)
    used: NDArray[np.bool_]

    def cells(self) -> NDArray[np.float64]:
        return self.lab[self.used]


def compare_evenness(original: AreaPicture, repair: AreaPicture) -> EvennessComparison:
    """Compare two areas as surfaces.

    Parameters
    ----------
    original, repair : AreaPicture
        Cells of both are of one size on the piece where both scales are known, else of one
        size in the photograph.

    Returns
    -------
    EvennessComparison
        "alike" where two halves of one surface differ as much, or where neither area is
        mottled enough to be seen (``seen_mottle`` in ``swatches/limits.toml``). "not known"
        where an area holds too few blocks wider than its mottling.

    Raises
    ------
    ReadingError
        Where an area has too few cells to be judged.
    """
    units = _units(original, repair)
    side = max(
        unit * math.sqrt(picture.used.sum()) / _CELLS_ACROSS
        for unit, picture in zip(units, (original, repair), strict=True)
    )
    side = max(side, *units)
    one, other = (
        _cells(reduced(picture, side / unit), picture.name)
        for unit, picture in zip(units, (original, repair), strict=True)
    )
    told = _tell(one, original, side / units[0]), _tell(other, repair, side / units[1])
    random = np.random.default_rng(_SEED)
    block = max(_SMALLEST_BLOCK, round(_BLOCK_LENGTHS * max(one.length, other.length)))
    blocks = [_blocks(cells, block) for cells in (one, other)]
    count = min(len(blocks[0]), len(blocks[1]))
    if count < _FEWEST_BLOCKS:
        nan = math.nan
        words = (
            "The areas are too small for their mottling to be compared: mark larger ones, or "
            "photograph more of the piece."
        )
        return EvennessComparison("not known", nan, nan, nan, nan, *told, words)
    each = max(1, _SAMPLES // count)
    samples, means = zip(*(_sample(b, count, each, random) for b in blocks), strict=True)
    by_cell = _deal(samples[0], samples[1], each, random)
    by_block = _deal(means[0], means[1], 1, random)
    chance = min(by_cell.chance, by_block.chance, _deal_structure(blocks[0], blocks[1], random))
    verdict: EvennessVerdict = "alike"
    if chance <= _LEVEL:
        verdict = _direction(*told)
    return EvennessComparison(
        verdict=verdict,
        distance=by_cell.distance,
        halves=by_cell.halves,
        chance=chance,
        whole_distance=pairing_cost(_differences(samples[0], samples[1])),
        original=told[0],
        repair=told[1],
        words=_say(verdict, *told),
    )


@dataclass(frozen=True)
class _Test:
    distance: float
    halves: float
    chance: float


def _deal(
    one: NDArray[np.float64], other: NDArray[np.float64], each: int, random: np.random.Generator
) -> _Test:
    """The distance of two sets of samples, and what halves dealt from both reach.

    Samples come in runs of `each` from one block, which is dealt as a whole.
    """
    both = np.concatenate([one, other])
    count = len(both) // each
    half = count // 2
    found = _evened(one, other)
    reached = np.empty(_DEALS)
    for deal in range(_DEALS):
        order = random.permutation(count)[:, None] * each + np.arange(each)
        reached[deal] = _evened(both[order[:half].ravel()], both[order[half:].ravel()])
    chance = (1 + int((reached >= found).sum())) / (_DEALS + 1)
    return _Test(found, float(np.quantile(reached, 0.95)), chance)


def _deal_structure(one: list[_Block], other: list[_Block], random: np.random.Generator) -> float:
    """Chance that halves dealt at random differ so much in how cells at some distance differ.

    For each block, the mean squared difference of cells a lag apart (the empirical variogram:
    Matheron, G. (1963). Principles of geostatistics. Economic Geology 58, 1246-1266) in three
    axes that are CIEDE2000 near the mean colour; its logarithm is compared between the halves
    by the greatest t over lags and axes.
    """
    both = one + other
    middle = np.mean([block.cells().mean(axis=0) for block in both], axis=0)
    axes = np.linalg.cholesky(local_metric(middle[None])[0])
    structure = np.stack([_variogram(block, axes) for block in both])
    structure = structure[:, np.isfinite(structure).all(axis=0)]

    def greatest(first: NDArray[np.intp], second: NDArray[np.intp]) -> float:
        a, b = structure[first], structure[second]
        error = a.var(axis=0, ddof=1) / len(a) + b.var(axis=0, ddof=1) / len(b)
        return float((np.abs(a.mean(axis=0) - b.mean(axis=0)) / np.sqrt(error + 1e-12)).max())

    order = np.arange(len(both))
    found = greatest(order[: len(one)], order[len(one) :])
    reached = 0
    for _ in range(_DEALS):
        dealt = random.permutation(order)
        reached += greatest(dealt[: len(one)], dealt[len(one) :]) >= found
    return (1 + reached) / (_DEALS + 1)


def _variogram(block: _Block, axes: NDArray[np.float64]) -> NDArray[np.float64]:
    """Logarithm of the mean squared difference by lag and axis, shape (lags * 3,)."""
    values = block.lab @ axes
    side = len(values)
    told = []
    for lag in (lag for lag in _LAGS if lag <= side // 2):
        down = (values[lag:] - values[:-lag])[block.used[lag:] & block.used[:-lag]]
        right = (values[:, lag:] - values[:, :-lag])[block.used[:, lag:] & block.used[:, :-lag]]
        squared = np.concatenate([down, right]) ** 2
        told.append(np.log(squared.mean(axis=0) + 1e-9))
    return np.concatenate(told)


def _differences(one: NDArray[np.float64], other: NDArray[np.float64]) -> NDArray[np.float32]:
    shape = (len(one), len(other), 3)
    return picture_difference(
        np.broadcast_to(one.astype(np.float32)[:, None], shape),
        np.broadcast_to(other.astype(np.float32)[None], shape),
    )


def _evened(one: NDArray[np.float64], other: NDArray[np.float64]) -> float:
    """Earth mover's distance with both means moved to the middle of the two."""
    apart = (other.mean(axis=0) - one.mean(axis=0)) / 2.0
    return pairing_cost(_differences(one + apart, other - apart))


def pairing_cost(cost: NDArray[np.float32]) -> float:
    """Earth mover's distance of two sets of equal size: the mean cost of the cheapest pairing.

    Parameters
    ----------
    cost : ndarray, shape (n, n)
        Ground distance from each of one set to each of the other.

    Returns
    -------
    float
    """
    return float(cost[linear_sum_assignment(cost)].mean())


def mottle(lab: NDArray[np.float64]) -> float:
    """Mean CIEDE2000 from the mean colour.

    Parameters
    ----------
    lab : ndarray, shape (n, 3)

    Returns
    -------
    float
    """
    middle = lab.mean(axis=0).astype(np.float32)
    return float(picture_difference(lab.astype(np.float32), middle).mean())


def _units(original: AreaPicture, repair: AreaPicture) -> tuple[float, float]:
    if original.mm_per_pixel is not None and repair.mm_per_pixel is not None:
        return original.mm_per_pixel, repair.mm_per_pixel
    return original.pixel, repair.pixel


def _cells(picture: AreaPicture, name: str) -> _Cells:
    rows, columns = np.nonzero(picture.used)
    if len(rows) < _FEWEST_BLOCKS * _SMALLEST_BLOCK**2:
        raise ReadingError(
            f"The area '{name}' is too small to judge its evenness: mark a larger one, or "
            "photograph from nearer."
        )
    lab = picture.lab()
    design = np.column_stack([np.ones(len(rows)), rows - rows.mean(), columns - columns.mean()])
    plane, *_ = np.linalg.lstsq(design, lab[picture.used], rcond=None)
    plane[0] = 0.0
    flat = np.zeros_like(lab)
    flat[picture.used] = lab[picture.used] - design @ plane
    return _Cells(flat, picture.used, _correlation_length(flat, picture.used))


def _correlation_length(lab: NDArray[np.float64], used: NDArray[np.bool_]) -> float:
    """Cells at which the autocorrelation of L*, a*, b* together has fallen to 1/e.

    By the Wiener-Khinchin theorem, over a surrounding of zeros, with the mask's own
    autocorrelation divided out.
    """
    shape = [2 * n for n in used.shape]
    apart = np.where(used[..., None], lab - lab[used].mean(axis=0), 0.0)
    power = (np.abs(np.fft.rfft2(apart, shape, axes=(0, 1))) ** 2).sum(axis=-1)
    mask = np.abs(np.fft.rfft2(used.astype(np.float64), shape)) ** 2
    covariance, pairs = np.fft.irfft2(power, shape), np.fft.irfft2(mask, shape)
    rows, columns = (np.minimum(np.arange(n), n - np.arange(n)) for n in shape)
    ring = np.rint(np.hypot(rows[:, None], columns[None])).astype(int)
    most = min(used.shape) // 2
    near = ring <= most
    sums = np.bincount(ring[near], covariance[near], most + 1)
    falling = sums / np.maximum(np.bincount(ring[near], pairs[near], most + 1), 1.0)
    if falling[0] <= 0:
        return 1.0
    below = np.flatnonzero(falling <= falling[0] / math.e)
    if len(below) == 0:
        return float(most)
    k = int(below[0])
    high, low = falling[k - 1], falling[k]
    return float(k - 1 + (high - falling[0] / math.e) / (high - low))


def _blocks(cells: _Cells, side: int) -> list[_Block]:
    """Every well filled block."""
    height, width = (n // side for n in cells.used.shape)
    top, left = (
        (n - m * side) // 2 for n, m in zip(cells.used.shape, (height, width), strict=True)
    )
    found = []
    for row in range(height):
        for column in range(width):
            y, x = top + row * side, left + column * side
            part = np.s_[y : y + side, x : x + side]
            used = cells.used[part]
            if used.mean() >= _WELL_USED:
                found.append(_Block(cells.lab[part], used))
    return found


def _sample(
    blocks: list[_Block], count: int, each: int, random: np.random.Generator
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Cells by chance, `each` of every one of `count` blocks, and the means of those blocks."""
    chosen = [blocks[i].cells() for i in random.permutation(len(blocks))[:count]]
    cells = [block[random.choice(len(block), each, replace=len(block) < each)] for block in chosen]
    return np.concatenate(cells), np.stack([block.mean(axis=0) for block in chosen])


def _tell(cells: _Cells, picture: AreaPicture, factor: float) -> Evenness:
    lab = cells.lab[cells.used]
    factor = max(factor, 1.0)
    mm = picture.mm_per_pixel
    return Evenness(
        mottle=mottle(lab),
        spread_L=float(lab[:, 0].std()),
        spread_C=float(np.hypot(lab[:, 1], lab[:, 2]).std()),
        scale=cells.length * factor * picture.pixel,
        scale_mm=None if mm is None else cells.length * factor * mm,
    )


def _direction(original: Evenness, repair: Evenness) -> EvennessVerdict:
    if max(original.mottle, repair.mottle) < limits("surface")["seen_mottle"]:
        return "alike"
    ratio = repair.mottle / max(original.mottle, 1e-9)
    if ratio < 1.0 / _SAME_SPREAD:
        return "too even"
    return "too mottled" if ratio > _SAME_SPREAD else "otherwise mottled"


def _say(verdict: EvennessVerdict, original: Evenness, repair: Evenness) -> str:
    scale = ""
    if repair.scale < original.scale / _SAME_SCALE:
        scale = " Its mottling is finer."
    elif repair.scale > original.scale * _SAME_SCALE:
        scale = " Its mottling is coarser."
    match verdict:
        case "too even":
            return (
                f"The repair is too even beside the original.{scale} Lay the next coat unevenly, "
                "or add specks and wear."
            )
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
