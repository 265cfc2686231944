"""Where on the relief old gold is redder or greyer: on what stands out, or in the recesses.

Shape changes how much light comes back and hardly its colour; wear and dirt change both. The
logarithm of light is taken as shape and a patch's own darkness, which goes with its colour as
differences between near cells tell. What stands brighter than its surroundings after that is
taken as high, as under soft light from all sides ("dark is deep", Langer and Bülthoff 2000). The
repair, on the like relief, tells what the shape alone does to the colour (gold lights gold in its
recesses). Where chance could do the same, nothing is told.

References
----------
Langer, M. S. and Bülthoff, H. H. (2000). Depth discrimination from shading under diffuse
lighting. Perception 29, 649-660.
Clifford, P., Richardson, S. and Hémon, D. (1989). Assessing the significance of the correlation
between two spatial processes. Biometrics 45(1), 123-134: its variance, from both
autocorrelations.
"""

import math
from dataclasses import dataclass
from typing import Literal

import cv2
import numpy as np
from numpy.typing import NDArray

from tonematch.arrays import Array
from tonematch.measure.appearance.area_picture import AreaPicture, reduced
from tonematch.measure.appearance.cells import autocovariance
from tonematch.measure.colour.convert import WHITE
from tonematch.swatchbook import limits

_CELLS_ACROSS = 64
# Surroundings of a cell, and near cells, in cells.
_AROUND, _NEAR = 8.0, 2
_SURE = 2.58  # standard deviations: 99 of 100
# CIELAB a* and b* of a small change in the logarithms of X / Y and Y / Z on white.
_AS_LAB = np.array([500.0, 200.0]) / 3.0
_REDDER = 0.5  # of the change, seen from the middle: 30 degrees and more
# Change of a* and b* over one deviation of the relief. Flat film that is darker where it is thicker
# gives up to 0.2, wear that is seen 0.4 and more: rendered rails of known wear, chosen on two of a
# kind and held on eight others.
_SEEN = 0.3


@dataclass(frozen=True)
class Wear:
    """Where on its relief the original is tinted: worn or dirty.

    Attributes
    ----------
    where : {"high", "deep", "not known"}
    tint : {"redder", "greyer"}
        Beside the rest of the original.
    """

    where: Literal["high", "deep", "not known"]
    tint: Literal["redder", "greyer"]


@dataclass(frozen=True, eq=False)
class _Relief:
    """Logarithm of light and tint in a* and b*, cell by cell."""

    light: Array
    tint: Array
    used: NDArray[np.bool_]


def find_wear(original: AreaPicture, repair: AreaPicture) -> Wear | None:
    """Where the original is tinted along the relief, and the repair is not.

    None on flat gold: where not both lie on relief.
    """
    old, new = _relief(original), _relief(repair)
    tints = old.tint[old.used]
    way = np.linalg.svd(tints - tints.mean(axis=0), full_matrices=False)[2][0]
    tint: Literal["redder", "greyer"] = "redder" if abs(way[0]) >= _REDDER else "greyer"
    way = way * (np.sign(way[0]) if tint == "redder" else -np.sign(way[1]))
    (high, slope, variance), (low, by_shape, its_variance) = (_along(s, way) for s in (old, new))
    if min(high, low) < limits("evenness")["relief"]:
        return None
    more = slope - by_shape
    if abs(more) < max(_SURE * math.sqrt(variance + its_variance), _SEEN / high):
        return Wear("not known", tint)
    return Wear("high" if more > 0 else "deep", tint)


def _relief(picture: AreaPicture) -> _Relief:
    cells = reduced(picture, math.sqrt(picture.used.sum()) / _CELLS_ACROSS)
    light = np.log(np.maximum(cells.xyz / WHITE, 1e-4), dtype=np.float64)
    return _Relief(light[..., 1], -np.diff(light, axis=-1) * _AS_LAB, cells.used)


def _along(side: _Relief, way: Array) -> tuple[float, float, float]:
    """How much relief there is, the slope of the tint on it, and the slope's variance by chance.

    Relief is the standard deviation of the logarithm of light around its surroundings.
    """
    used, tint = side.used, side.tint @ way
    shape = side.light - tint * _darkening(side, way)
    both = np.stack([shape - _surroundings(shape, used), tint], axis=-1)
    covariance, pairs = autocovariance(both, used)
    high, tinted = np.maximum(covariance[0], 1e-12)
    apart = both[used] - both[used].mean(axis=0)
    slope = float(apart[:, 0] @ apart[:, 1]) / len(apart) / high
    chance = float(pairs @ covariance.prod(axis=-1)) / (high * tinted * len(apart) ** 2)
    return math.sqrt(high), slope, max(chance, 1.0 / len(apart)) * tinted / high


def _darkening(side: _Relief, way: Array) -> float:
    """Change of the logarithm of light that goes with a tint, from one cell to those near it."""
    light, tint = (
        np.concatenate([
            (a[_NEAR:] - a[:-_NEAR])[side.used[_NEAR:] & side.used[:-_NEAR]],
            (a[:, _NEAR:] - a[:, :-_NEAR])[side.used[:, _NEAR:] & side.used[:, :-_NEAR]],
        ])
        for a in (side.light, side.tint @ way)
    )  # fmt: skip
    return float(light @ tint / max(float(tint @ tint), 1e-12))


def _surroundings(field: Array, used: NDArray[np.bool_]) -> Array:
    weight = used.astype(np.float64)
    near = cv2.GaussianBlur(weight, (0, 0), _AROUND)
    return np.asarray(cv2.GaussianBlur(field * weight, (0, 0), _AROUND) / np.maximum(near, 1e-6))
