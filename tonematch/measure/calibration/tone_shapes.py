"""Shapes of tone curves with few parameters, and neutrals as rows of a fit of these.

On the logarithm of light three shapes cover what files do, and all are linear in their
parameters:

========== ======================================================= ==========================
parameters  log(true light) beside the card                        what it covers
========== ======================================================= ==========================
0           log d                                                  the profile holds
1           (1 - a) log d + a log c                                between profile and linear
2           a log d + b log c                                      any power of either
3           a log d + b log c + e (log d)^2                        a contrast curve as well
========== ======================================================= ==========================

d is the light as the profile decodes it, c the code value as a share of the highest. A file of
linear light is a = 1 of the second row, a pure gamma is a = 0 of the third.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from tonematch.arrays import Array, Matrix3, Vector3
from tonematch.measure.core import ToneCurve
from tonematch.photo.core import Photo
from tonematch.photo.limits import limits

_NODES = 1025
# Below this share of the highest, code values and light are noise; the logarithm needs a floor.
_FLOOR = 1e-5


@dataclass(frozen=True, eq=False)
class Neutral:
    """A neutral of known value in the picture: a card, a step of a grey scale, a grey patch.

    Attributes
    ----------
    light : ndarray, shape (3,)
        Mean of its decoded light.
    wanted : ndarray, shape (3,)
        Linear RGB that its known value stands for, free of the lamp; once the evenness of light
        is known, times the share of it that falls here.
    place : tuple of two float
        Its middle, x and y.
    """

    name: str
    light: Vector3
    wanted: Vector3
    place: tuple[float, float]


class CurveShapes:
    """The shapes of curves for one photo, on a grid of code values."""

    def __init__(self, photo: Photo, linear: bool, card_light: Vector3) -> None:
        self.linear = linear
        self.card_light = card_light
        codes = np.linspace(0.0, 1.0, _NODES)
        if photo.decoders is not None:
            tables = [
                np.interp(codes, np.linspace(0.0, 1.0, len(table)), table)
                for table in photo.decoders
            ]
        elif photo.lut is not None:  # no channel has a curve of its own: sRGB's stands for it
            decoded = np.where(codes <= 0.04045, codes / 12.92, ((codes + 0.055) / 1.055) ** 2.4)
            tables = [decoded] * 3
        else:
            tables = [codes] * 3
        self.levels = np.maximum.accumulate(np.stack(tables, axis=-1).astype(np.float64), axis=0)
        log_d = np.log(np.maximum(self.levels, _FLOOR))
        log_c = np.log(np.maximum(codes, _FLOOR))[:, None] + np.zeros(3)
        if np.abs(log_d - log_c).max() < 1e-3:  # linear already: any power stands for the other
            log_c = log_d / 2.2
        self.base: Array = log_c if linear else log_d
        other = log_d if linear else log_c
        self.shapes = (other - self.base, self.base, self.base**2)
        middle = np.searchsorted(codes, [0.3, 0.7])
        span = np.diff(self.base[middle, 1])
        self.exponent_per_step = float(np.abs(np.diff(self.shapes[0][middle, 1]) / span)[0])

    def at(self, table: Array, light: Vector3) -> Vector3:
        """A table's value for decoded light, per channel."""
        return np.array([np.interp(light[c], self.levels[:, c], table[:, c]) for c in range(3)])

    def curve(self, found: Array, words: str) -> ToneCurve:
        """The curve with given parameters; the shapes are 0 at the card."""
        modes = np.array(
            [shape - self.at(shape, self.card_light) for shape in self.shapes[: len(found)]]
        ).reshape(len(found), _NODES, 3)
        values = np.exp(self.base + np.tensordot(found, modes, 1))
        values[0] = np.where(self.levels[0] <= _FLOOR, 0.0, values[0])
        return ToneCurve(self.levels, values, modes, words)

    def rises(self, found: Array) -> bool:
        """Whether a curve rises everywhere above the darkest hundredth of the code values."""
        values = self.curve(found, "").values[_NODES // 100 :]
        return bool((np.diff(values, axis=0) >= 0).all())


class NeutralRows:
    """The neutrals as rows of a linear fit, three channels each, beside the anchor."""

    def __init__(self, shapes: CurveShapes, anchor: Neutral, neutrals: Sequence[Neutral]) -> None:
        self.count = len(neutrals)
        limit = limits("tone")
        rows, misses, sigmas, levels = [], [], [], []
        for neutral in neutrals:
            apart = [
                shapes.at(table, neutral.light) - shapes.at(table, anchor.light)
                for table in (shapes.base, *shapes.shapes)
            ]
            misses.append(np.log(neutral.wanted / anchor.wanted) - apart[0])
            rows.append(np.stack(apart[1:], axis=-1))
            level = float(neutral.wanted.mean())
            sigmas.append(np.hypot(np.sqrt(2) * limit["value_sigma"], limit["flare_sigma"] / level))
            levels.append(level)
        self.rows = np.array(rows)  # (n, 3, parameters)
        self.misses = np.array(misses)  # (n, 3)
        self.sigma = np.array(sigmas)
        self.lightness = 116.0 / 3.0 * np.cbrt(np.array(levels))  # dL*/dlog(Y), ISO/CIE 11664-4

    def solve(self, p: int, without: int | None = None) -> tuple[Array, Matrix3]:
        """Weighted least squares of p parameters, and their covariance."""
        used = np.arange(self.count) != (-1 if without is None else without)
        weight = np.repeat(1.0 / self.sigma[used], 3)
        design = self.rows[used][..., :p].reshape(-1, p) * weight[:, None]
        target = self.misses[used].ravel() * weight
        found, *_ = np.linalg.lstsq(design, target, rcond=None)
        left = target - design @ found
        freedom = max(1, int(used.sum()) - p)
        # The three channels of a neutral err together, so they count as one.
        scale = max(1.0, float(left @ left) / 3.0 / freedom)
        normal = design.T @ design / 3.0
        return found, np.asarray(scale * np.linalg.pinv(normal))

    def error(self, p: int, found: Array, only: int | None = None) -> float:
        """Root mean square error in L* of a curve."""
        which = slice(None) if only is None else slice(only, only + 1)
        left = self.misses[which] - self.rows[which][..., :p] @ found
        return float(np.sqrt(np.mean((left * self.lightness[which, None]) ** 2)))
