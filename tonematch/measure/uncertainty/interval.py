"""CIEDE2000 of two noisy colours, with its interval.

A colour difference is never below 0, so noise lengthens it: with noise of 0.5 on each of L*,
a*, b* of the difference, two identical colours differ by 0.8 CIE 1976 on average (the mean of a
chi distribution of three degrees of freedom is 1.6). The difference is reported as it is read all
the same: a rule that brings equal colours to 0 brings true differences of 1 there as well. That it
may be noise alone is told by the interval, which starts at 0 then.

The interval holds every true difference under which the measured one lies within the central 95 %
of what could have been measured, by Monte Carlo (JCGM 101:2008, clause 7; Neyman, J. (1937).
Outline of a theory of statistical estimation. Philosophical Transactions of the Royal Society A
236, 333-380). The true difference is varied along the direction that was measured.
"""

from dataclasses import dataclass

import numpy as np

from tonematch.arrays import Array, Vector3
from tonematch.measure.colour.difference import delta_e_2000
from tonematch.measure.core import REACH_95

_STEPS = 41
_REACH = 5.0
_TAIL = 0.025
_NO_NOISE = 1e-9


@dataclass(frozen=True)
class NoisyDifference:
    """CIEDE2000 (kL = kC = kH = 1) with its 95 % interval.

    Attributes
    ----------
    value : float
        As measured.
    low, high : float
        ``0 <= low <= value <= high``.
    """

    value: float
    low: float
    high: float


def half_width_95(covariance: Array) -> Array:
    """Half the width of each coordinate's 95 % interval: the one error bar that people are shown.

    Parameters
    ----------
    covariance : ndarray, shape (k, k)
        Of a normal distribution, or of a Student's t: from 4 degrees of freedom on its half
        width differs by less than 2 %.

    Returns
    -------
    ndarray, shape (k,)
        The expanded uncertainty of JCGM 100:2008, 6.2.
    """
    return np.asarray(REACH_95 * np.sqrt(np.diag(covariance)))


def noisy_difference(
    lab1: Vector3, lab2: Vector3, noise1: Array, noise2: Array, growth: Array | None = None
) -> NoisyDifference:
    """CIEDE2000 of two colours as measured, (3,) each; with no width where the noise is nil.

    Parameters
    ----------
    noise1, noise2 : ndarray, shape (n, 3)
        Draws of their errors in units of L*, a*, b*, drawn together: row i of both is one case.
        Of 2,000 rows the ends of the interval repeat within 0.02 (a standard deviation over
        seeds, on the bundled photographs).
    growth : ndarray, shape (n, 3), optional
        The part of ``noise2 - noise1`` that is in proportion to the difference and vanishes
        between equal colours; none unless given.
    """
    growth = np.zeros_like(noise1) if growth is None else growth
    measured = float(delta_e_2000(lab1, lab2))
    middle = (lab1 + lab2) / 2.0
    alone = delta_e_2000(middle + noise1 + growth / 2.0, middle + noise2 - growth / 2.0)
    if alone.max() < _NO_NOISE:
        return NoisyDifference(measured, measured, measured)
    truths, cases = _cases(lab1, lab2, measured, noise1, noise2, growth)
    reached = np.maximum.accumulate((cases >= measured).mean(axis=1))
    # No bound below what equal colours would get in the middle case: an accident of noise
    # that brings two readings together does not make them better known.
    short = max(measured, float(np.median(alone)))
    stayed = np.minimum.accumulate((cases <= short).mean(axis=1))
    low = float(np.interp(_TAIL, reached, truths)) if reached[0] < _TAIL else float(truths[0])
    high = float(np.interp(-_TAIL, -stayed, truths))
    return NoisyDifference(measured, min(low, measured), max(high, measured))


def _cases(
    lab1: Vector3, lab2: Vector3, measured: float, noise1: Array, noise2: Array, growth: Array
) -> tuple[Array, Array]:
    """True differences along the measured direction, (s,), and what could be measured under each.

    They rise, from 0 where that is in reach of the noise; the cases are (s, n).
    """
    way = lab2 - lab1
    if measured < _NO_NOISE:
        way = np.array([1.0, 0.0, 0.0])
    middle = (lab1 + lab2) / 2.0
    unit = float(delta_e_2000(middle - way / 2.0, middle + way / 2.0))
    typical = float(np.sqrt((delta_e_2000(lab1 + noise1, lab1 + noise2) ** 2).mean()))
    reach = np.linspace(max(0.0, measured - _REACH * typical), measured + _REACH * typical, _STEPS)
    share = (reach / unit)[:, None]
    half = share * way / 2.0
    truths = delta_e_2000(middle - half, middle + half)
    grown = (share[..., None] - 1.0) * growth / 2.0
    cases = delta_e_2000(
        (middle - half)[:, None, :] + noise1 - grown, (middle + half)[:, None, :] + noise2 + grown
    )
    return np.maximum.accumulate(truths), cases
