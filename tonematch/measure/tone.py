"""The tone curve, from neutrals of known reflectance: one grey cannot show that a file lies.

A picture that says sRGB may be linear, of another gamma, or bent by its camera. On the logarithm
of light three shapes with few parameters cover them, and all are linear in their parameters:

========== ======================================================= ==========================
parameters  log(true light) beside the card                        what it covers
========== ======================================================= ==========================
0           log d                                                  the profile holds
1           (1 - a) log d + a log c                                between profile and linear
2           a log d + b log c                                      any power of either
3           a log d + b log c + e (log d)^2                        a contrast curve as well
========== ======================================================= ==========================

d is the light as the profile decodes it, c the code value as a share of the highest. A file of
linear light is a = 1 of the second row, a pure gamma is a = 0 of the third. The number of
parameters is chosen by leaving each neutral out in turn; the profile stands unless a curve
predicts the left-out neutrals better, so that none is ever worse than the profile by that
measure. Curves that are not monotone are refused.

References
----------
Stone, M. (1974). Cross-validatory choice and assessment of statistical predictions. Journal of
the Royal Statistical Society B 36(2), 111-147.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from tonematch.measure.core import Matrix3, ToneCurve, Vector3
from tonematch.photo.core import Photo
from tonematch.photo.limits import limits

Array = NDArray[np.float64]
Encoding = Literal["profile", "linear"]

_NODES = 1025
# Below this share of the highest, code values and light are noise; the logarithm needs a floor.
_FLOOR = 1e-5
_MOST_PARAMETERS = 3


@dataclass(frozen=True, eq=False)
class Neutral:
    """A neutral in the picture.

    Attributes
    ----------
    name : str
    light : ndarray, shape (3,)
        Mean of its decoded light.
    wanted : ndarray, shape (3,)
        Linear RGB that its known value stands for, free of the lamp; times the share of light
        that falls on it.
    """

    name: str
    light: Vector3
    wanted: Vector3


@dataclass(frozen=True, eq=False)
class ToneFit:
    """A tone curve and what it is worth.

    Attributes
    ----------
    curve : ToneCurve or None
        None where the profile is taken as it is and no neutral can say how surely.
    covariance : ndarray, shape (p, p)
        Of the curve's parameters.
    left_out_error, profile_error : float
        Root mean square error in L* of neutrals that were left out of the fit (of all where
        there is one beside the card), with the curve and with the file's profile.
    warnings : tuple of str
    settled : bool
        Whether neutrals or a profile measured it.
    """

    curve: ToneCurve | None
    covariance: NDArray[np.float64]
    left_out_error: float = 0.0
    profile_error: float = 0.0
    warnings: tuple[str, ...] = ()
    settled: bool = False


def fit_tone(
    photo: Photo,
    anchor: Neutral,
    neutrals: Sequence[Neutral],
    encoding: Encoding = "profile",
    card_light: Vector3 | None = None,
) -> ToneFit:
    """Find the tone curve.

    Parameters
    ----------
    photo : Photo
    anchor : Neutral
        The one that the others are compared with: the card, or a grey of a chart.
    neutrals : sequence of Neutral
        Further neutrals; none leaves the file's word as it is.
    encoding : {"profile", "linear"}, optional
        Whether the curve starts from the file's profile or from code values as linear light.
    card_light : ndarray, shape (3,), optional
        Decoded light of the card, where the modes of the curve are 0; of the anchor unless
        given.

    Returns
    -------
    ToneFit
    """
    shapes = _Shapes(photo, encoding, anchor.light if card_light is None else card_light)
    if not neutrals:
        if encoding == "profile":
            return ToneFit(None, np.zeros((0, 0)))
        return ToneFit(shapes.curve(np.zeros(0), "linear by order"), np.zeros((0, 0)))
    rows = _Rows(shapes, anchor, neutrals)
    if len(neutrals) == 1:
        return _by_one(shapes, rows, rows.error(0, np.zeros(0)))
    best = _with_parameters(shapes, rows, 0)
    for p in range(1, min(_MOST_PARAMETERS, len(neutrals) - 1) + 1):
        fit = _with_parameters(shapes, rows, p)
        needed = limits("tone")["gain_needed"] * best.left_out_error
        if shapes.rises(rows.solve(p)[0]) and fit.left_out_error < needed:
            best = fit
    return best


def fit_parameters(
    photo: Photo,
    anchor: Neutral,
    neutrals: Sequence[Neutral],
    encoding: Encoding,
    card_light: Vector3,
    parameters: int,
) -> ToneFit | None:
    """The curve with a stated number of parameters; arguments as `fit_tone`.

    Parameters
    ----------
    parameters : int
        0 to 3, below the number of neutrals.

    Returns
    -------
    ToneFit or None
        None where the curve does not rise everywhere.
    """
    shapes = _Shapes(photo, encoding, card_light)
    rows = _Rows(shapes, anchor, neutrals)
    if parameters and not shapes.rises(rows.solve(parameters)[0]):
        return None
    return _with_parameters(shapes, rows, parameters)


def _with_parameters(shapes: "_Shapes", rows: "_Rows", parameters: int) -> ToneFit:
    profile_error = rows.error(0, np.zeros(0))
    error = _left_out(rows, parameters) if parameters else profile_error
    found, covariance = rows.solve(max(parameters, 1))
    if parameters == 0:
        found = np.zeros(1)  # the profile stands, known as well as the neutrals know it
    words = _words(parameters, shapes.encoding, error, profile_error)
    said = _warnings(parameters, shapes.encoding, error, profile_error)
    curve = shapes.curve(found, words)
    return ToneFit(curve, covariance, error, profile_error, said, settled=True)


def _by_one(shapes: "_Shapes", rows: "_Rows", profile_error: float) -> ToneFit:
    """One neutral beside the card: checked, and corrected where it speaks against the profile."""
    found, covariance = rows.solve(1)
    honest = (limits("tone")["profile_exponent"] / shapes.exponent_per_step) ** 2
    if abs(found[0]) <= limits("tone")["beyond_noise"] * np.sqrt(covariance[0, 0] + honest):
        known = np.array([[1.0 / (1.0 / covariance[0, 0] + 1.0 / honest)]])
        curve = shapes.curve(np.zeros(1), _words(0, shapes.encoding, 0.0, profile_error))
        return ToneFit(curve, known, profile_error, profile_error, settled=True)
    left = rows.error(1, found)
    curve = shapes.curve(found, _words(1, shapes.encoding, left, profile_error))
    # One neutral cannot tell which shape: a tenth of the correction stays in doubt.
    covariance = covariance + (0.1 * found[0]) ** 2
    said = _warnings(1, shapes.encoding, left, profile_error)
    return ToneFit(curve, covariance, left, profile_error, said, settled=True)


def _left_out(rows: "_Rows", p: int) -> float:
    """Root mean square error in L*, each neutral left out of the fit in turn."""
    squared = []
    for k in range(rows.count):
        found, _ = rows.solve(p, without=k)
        squared.append(rows.error(p, found, only=k) ** 2)
    return float(np.sqrt(np.mean(squared)))


class _Shapes:
    """The shapes of curves for one photo, on a grid of code values."""

    def __init__(self, photo: Photo, encoding: Encoding, card_light: Vector3) -> None:
        self.encoding = encoding
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
        linear = encoding == "linear"
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


class _Rows:
    """The neutrals as rows of a linear fit, three channels each, beside the anchor."""

    def __init__(self, shapes: _Shapes, anchor: Neutral, neutrals: Sequence[Neutral]) -> None:
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


def _words(parameters: int, encoding: Encoding, error: float, before: float) -> str:
    start = "as the file says" if encoding == "profile" else "linear by order"
    if parameters == 0:
        return f"{start}; the neutrals agree within {before:.1f} in L*"
    return (
        f"{start}, bent by {parameters} parameter{'s' if parameters > 1 else ''} so that the "
        f"neutrals agree within {error:.1f} in L* instead of {before:.1f}"
    )


def _warnings(parameters: int, encoding: Encoding, error: float, before: float) -> tuple[str, ...]:
    said = []
    if parameters and before - error > limits("tone")["misfit_warned"]:
        claimed = "its colour profile says" if encoding == "profile" else "linear light would be"
        said.append(
            f"The picture's tone curve is not what {claimed} (neutrals are off by {before:.1f} in "
            f"L*): it was corrected from the neutrals, to {error:.1f}."
        )
    if error > limits("tone")["misfit_warned"]:
        said.append(
            f"The neutrals do not agree with one another (by {error:.1f} in L*): check their "
            "values, and that all lie in the same light without gloss."
        )
    return tuple(said)
