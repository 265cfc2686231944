"""The tone curve by a whole chart: its greys propose curves, its 24 patches choose among them.

Beside the shapes of `tone_shapes` there is veiling light: what window, lens and air add
evenly over the picture, and what makes black look bluish or brown. It is subtracted after the
curve, per channel, as the greys show it.

References
----------
ISO 9358:1994, veiling glare of image-forming systems.
"""

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from tonematch.measure.calibration.tone import ToneFit, fit_parameters
from tonematch.measure.calibration.tone_shapes import CurveShapes, Neutral
from tonematch.measure.core import ToneCurve, Vector3

_MOST_PARAMETERS = 3
_ROUNDS = 6
_FEWEST_FOR_VEIL = 4
_LEFT = 0.02


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
            fit = _fit(shapes, anchor, greys, parameters, veiled)
            if fit is not None:
                found.append(fit)
    return found


def _fit(
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
    for _ in range(_ROUNDS):
        lifted = [replace(grey, wanted=grey.wanted + veil) for grey in (anchor, *greys)]
        fit = fit_parameters(shapes, lifted[0], lifted[1:], parameters)
        if fit is None or fit.curve is None:
            return None
        curve = fit.curve
        subtracted, veil = _veil(curve, [anchor, *greys])
    # What is darker than the veil is no light that could be read; it must not fall to nothing.
    values = np.maximum(curve.values - subtracted, _LEFT * curve.values)
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
