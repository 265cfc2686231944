"""The tone curve, from neutrals of known reflectance: one grey cannot show that a file lies.

A picture that says sRGB may be linear, of another gamma, or bent by its camera. The shapes of
`tone_shapes` cover these. How many parameters they get is chosen by leaving each neutral
out in turn; the profile stands unless a curve predicts the left-out neutrals better, so that
none is ever worse than the profile by that measure. Curves that are not monotone are refused.

The greys of a whole chart propose curves, among which its 24 patches choose. Here there is veiling
light as well: what window, lens and air add evenly over the picture, and what makes black look
bluish or brown. It is subtracted after the curve, per channel, as the greys show it.

References
----------
Stone, M. (1974). Cross-validatory choice and assessment of statistical predictions. Journal of
the Royal Statistical Society B 36(2), 111-147. ISO 9358:1994, veiling glare of image-forming
systems.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from tonematch.arrays import Vector3
from tonematch.measure.calibration.tone_shapes import CurveShapes, Neutral, NeutralRows
from tonematch.measure.core import ToneCurve
from tonematch.photo.limits import limits

_MOST_PARAMETERS = 3
_VEIL_ROUNDS = 6
_FEWEST_FOR_VEIL = 4
# Share of its light that a tone keeps at least when the veil is taken off.
_LEAST_LEFT = 0.02


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
    measured : bool
        Whether neutrals or a profile measured it.
    """

    curve: ToneCurve | None
    covariance: NDArray[np.float64]
    left_out_error: float = 0.0
    profile_error: float = 0.0
    warnings: tuple[str, ...] = ()
    measured: bool = False


def fit_tone(shapes: CurveShapes, card: Neutral, neutrals: Sequence[Neutral]) -> ToneFit:
    """Find the tone curve from the card and further neutrals; without any the file is believed."""
    if not neutrals:
        if not shapes.linear:
            return ToneFit(None, np.zeros((0, 0)))
        return ToneFit(shapes.curve(np.zeros(0), "linear by order"), np.zeros((0, 0)))
    rows = NeutralRows(shapes, card, neutrals)
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
    shapes: CurveShapes, anchor: Neutral, neutrals: Sequence[Neutral], parameters: int
) -> ToneFit | None:
    """The curve with a stated number of parameters.

    Parameters
    ----------
    anchor : Neutral
        The one that the others are compared with: the card, or a grey of a chart.
    parameters : int
        0 to 3, below the number of neutrals.

    Returns
    -------
    ToneFit or None
        None where the curve does not rise everywhere.
    """
    rows = NeutralRows(shapes, anchor, neutrals)
    if parameters and not shapes.rises(rows.solve(parameters)[0]):
        return None
    return _with_parameters(shapes, rows, parameters)


def tone_candidates(
    shapes: CurveShapes, anchor: Neutral, greys: Sequence[Neutral]
) -> list[ToneFit]:
    """Curves of 0 to 3 parameters, without and with veiling light, simplest first.

    Parameters
    ----------
    anchor : Neutral
        A middle grey of the chart.
    greys : sequence of Neutral
        Its other greys, in the same light.

    Returns
    -------
    list of ToneFit
        Those that rise everywhere.
    """
    most = min(_MOST_PARAMETERS, len(greys) - 1)
    found = []
    for parameters in range(most + 1):
        for veiled in (False, True):
            if veiled and len(greys) < max(_FEWEST_FOR_VEIL, parameters + 2):
                continue
            fit = _with_veil(shapes, anchor, greys, parameters, veiled)
            if fit is not None:
                found.append(fit)
    return found


def _with_veil(
    shapes: CurveShapes,
    anchor: Neutral,
    greys: Sequence[Neutral],
    parameters: int,
    veiled: bool,
) -> ToneFit | None:
    fit = fit_parameters(shapes, anchor, greys, parameters)
    if fit is None or fit.curve is None or not veiled:
        return fit
    curve, veil = fit.curve, np.zeros(3)
    subtracted = veil
    for _ in range(_VEIL_ROUNDS):
        lifted = [replace(grey, wanted=grey.wanted + veil) for grey in (anchor, *greys)]
        fit = fit_parameters(shapes, lifted[0], lifted[1:], parameters)
        if fit is None or fit.curve is None:
            return None
        curve = fit.curve
        subtracted, veil = _veil(curve, [anchor, *greys])
    # What is darker than the veil is no light that could be read; it must not fall to nothing.
    values = np.maximum(curve.values - subtracted, _LEAST_LEFT * curve.values)
    curve = replace(curve, values=values, words=f"{curve.words}, less veiling light")
    lights = np.sort(np.stack([grey.light for grey in (anchor, *greys)]), axis=0)
    read = np.stack([np.interp(lights[:, c], curve.levels[:, c], values[:, c]) for c in range(3)])
    return replace(fit, curve=curve) if (np.diff(read) > 0).all() else None


def _veil(curve: ToneCurve, greys: Sequence[Neutral]) -> tuple[Vector3, Vector3]:
    """Light that is there where nothing is reflected, as true light and as a reflectance."""
    subtracted, veil = np.zeros(3), np.zeros(3)
    for c in range(3):
        wanted = np.array([grey.wanted[c] for grey in greys])
        seen = np.interp([grey.light[c] for grey in greys], curve.levels[:, c], curve.values[:, c])
        design = np.column_stack([wanted, np.ones(len(greys))]) / seen[:, None]
        gain, subtracted[c] = np.linalg.lstsq(design, np.ones(len(greys)), rcond=None)[0]
        veil[c] = subtracted[c] / gain
    return subtracted, np.clip(veil, -0.5 * _darkest(greys), 0.5)


def _darkest(greys: Sequence[Neutral]) -> NDArray[np.float64]:
    return np.asarray(np.min([grey.wanted for grey in greys], axis=0))


def _with_parameters(shapes: CurveShapes, rows: NeutralRows, parameters: int) -> ToneFit:
    profile_error = rows.error(0, np.zeros(0))
    error = _left_out(rows, parameters) if parameters else profile_error
    found, covariance = rows.solve(max(parameters, 1))
    if parameters == 0:
        found = np.zeros(1)  # the profile stands, known as well as the neutrals know it
    words = _words(parameters, shapes.linear, error, profile_error)
    said = _warnings(parameters, shapes.linear, error, profile_error)
    curve = shapes.curve(found, words)
    return ToneFit(curve, covariance, error, profile_error, said, measured=True)


def _by_one(shapes: CurveShapes, rows: NeutralRows, profile_error: float) -> ToneFit:
    """One neutral beside the card: checked, and corrected where it speaks against the profile."""
    found, covariance = rows.solve(1)
    honest = (limits("tone")["profile_exponent"] / shapes.exponent_per_step) ** 2
    if abs(found[0]) <= limits("tone")["beyond_noise"] * np.sqrt(covariance[0, 0] + honest):
        known = np.array([[1.0 / (1.0 / covariance[0, 0] + 1.0 / honest)]])
        curve = shapes.curve(np.zeros(1), _words(0, shapes.linear, 0.0, profile_error))
        return ToneFit(curve, known, profile_error, profile_error, measured=True)
    left = rows.error(1, found)
    curve = shapes.curve(found, _words(1, shapes.linear, left, profile_error))
    # One neutral cannot tell which shape: a tenth of the correction stays in doubt.
    covariance = covariance + (0.1 * found[0]) ** 2
    said = _warnings(1, shapes.linear, left, profile_error)
    return ToneFit(curve, covariance, left, profile_error, said, measured=True)


def _left_out(rows: NeutralRows, p: int) -> float:
    """Root mean square error in L*, each neutral left out of the fit in turn."""
    squared = []
    for k in range(rows.count):
        found, _ = rows.solve(p, without=k)
        squared.append(rows.error(p, found, only=k) ** 2)
    return float(np.sqrt(np.mean(squared)))


def _words(parameters: int, linear: bool, error: float, before: float) -> str:
    start = "linear by order" if linear else "as the file says"
    if parameters == 0:
        return f"{start}; the neutrals agree within {before:.1f} in L*"
    return (
        f"{start}, bent by {parameters} parameter{'s' if parameters > 1 else ''} so that the "
        f"neutrals agree within {error:.1f} in L* instead of {before:.1f}"
    )


def _warnings(parameters: int, linear: bool, error: float, before: float) -> tuple[str, ...]:
    said = []
    if parameters and before - error > limits("tone")["misfit_warned"]:
        claimed = "linear light would be" if linear else "its colour profile says"
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
