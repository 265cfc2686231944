"""CIEDE2000 of two noisy colours, with its interval.

A colour difference is never below 0, so noise lengthens it: with noise of 0.5 on each of L*,
a*, b* of the difference, two identical colours differ by 0.8 CIE 1976 on average (the mean of a
chi distribution of three degrees of freedom is 1.6). The difference is reported as it is read all
the same: a rule that brings equal colours to 0 brings true differences of 1 there as well. That it
may be noise alone is told by the interval, which starts at 0 then.

The interval holds every true difference under which the measured one lies within the central 95 %
of what could have been measured, by Monte Carlo (JCGM 101:2008, clause 7; Neyman, J. (1937).
Outline of a theory of statistical estimation. Philosophical Transactions of the Royal Society A
236, 333-380). The true difference is varied along the direction that was measured. An error in
proportion to the measured difference puts that right, case by case, and is not inverted (Cousins,
R. D. and Highland, V. L. (1992). Nuclear Instruments and Methods in Physics Research A 320,
331-335).
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
    lab1: Vector3,
    lab2: Vector3,
    noise1: Array,
    noise2: Array,
    by_read: Array | float = 0.0,
    by_true: Array | float = 0.0,
) -> NoisyDifference:
    """CIEDE2000 of two colours as measured, (3,) each; with no width where the noise is nil.

    Parameters
    ----------
    noise1, noise2 : ndarray, shape (n, 3)
        Draws of their errors in units of L*, a*, b*, drawn together: row i of both is one case.
        Of 2,000 rows the ends of the interval repeat within 0.02 (a standard deviation over
        seeds, on the bundled photographs).
    by_read, by_true : ndarray, shape (n, 3), optional
        The parts of ``noise2 - noise1`` that vanish between equal colours and are in proportion to
        the difference as it is read, and as it truly is; none unless given.
    """
    measured = float(delta_e_2000(lab1, lab2))
    middle = (lab1 + lab2) / 2.0
    growing = (by_read + by_true) / 2.0
    still = noise1 + growing, noise2 - growing
    alone = delta_e_2000(middle + still[0], middle + still[1])
    typical = float(np.sqrt((delta_e_2000(lab1 + noise1, lab1 + noise2) ** 2).mean()))
    if typical < _NO_NOISE:
        return NoisyDifference(measured, measured, measured)
    reach = np.linspace(max(0.0, measured - _REACH * typical), measured + _REACH * typical, _STEPS)
    truths, cases = _cases(lab1, lab2, reach, still, by_true)
    put_right = delta_e_2000(lab1 + by_read / 2.0, lab2 - by_read / 2.0)
    reached = np.maximum.accumulate((cases >= put_right).mean(axis=1))
    # No bound below what equal colours would get in the middle case: an accident of noise
    # that brings two readings together does not make them better known.
    short = np.maximum(put_right, float(np.median(alone)))
    stayed = np.minimum.accumulate((cases <= short).mean(axis=1))
    low = float(np.interp(_TAIL, reached, truths)) if reached[0] < _TAIL else float(truths[0])
    high = float(np.interp(-_TAIL, -stayed, truths))
    return NoisyDifference(measured, min(low, measured), max(high, measured))


def _cases(
    lab1: Vector3, lab2: Vector3, reach: Array, still: tuple[Array, Array], by_true: Array | float
) -> tuple[Array, Array]:
    """True differences along the measured direction, (s,), and what could be measured under each.

    They rise to about `reach`; the cases are (s, n). `still` are the errors that do not grow.
    """
    way = lab2 - lab1
    if np.abs(way).max() < _NO_NOISE:
        way = np.array([1.0, 0.0, 0.0])
    middle = (lab1 + lab2) / 2.0
    unit = float(delta_e_2000(middle - way / 2.0, middle + way / 2.0))
    half = reach[:, None, None] / unit * way / 2.0
    truths = delta_e_2000(middle - half[:, 0], middle + half[:, 0])
    grown = reach[:, None, None] / unit * by_true / 2.0
    cases = delta_e_2000(middle - half + still[0] - grown, middle + half + still[1] + grown)
    return np.maximum.accumulate(truths), cases
