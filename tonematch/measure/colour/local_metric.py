"""CIEDE2000 as a ruler that bends: its local metric around a colour."""

import numpy as np
from numpy.typing import NDArray

from tonematch.measure.colour.difference import delta_e_2000

# Small against any difference that matters, large against rounding.
_STEP = 0.05


def local_metric(lab: NDArray[np.float64]) -> NDArray[np.float64]:
    """Matrix g with which a small step d from `lab` has CIEDE2000 of about sqrt(d.T @ g @ d).

    Parameters
    ----------
    lab : ndarray, shape (n, 3)
        CIELAB, D50, 2 degree.

    Returns
    -------
    ndarray, shape (n, 3, 3)
        Symmetric.

    Notes
    -----
    By central differences of CIEDE2000 itself, as a quadratic form is found from its values
    (polarisation). Pant, D. R. and Farup, I. (2012). Riemannian formulation and comparison of
    color difference formulas. Color Research and Application 37(6), 429-440.
    """
    axes = np.eye(3)
    directions = np.array(
        [*axes, axes[0] + axes[1], axes[0] + axes[2], axes[1] + axes[2]], dtype=np.float64
    )
    reach = _STEP / 2.0 * directions[:, None, :]
    squared = (delta_e_2000(lab - reach, lab + reach) / _STEP) ** 2
    g = np.empty((len(lab), 3, 3))
    for i in range(3):
        g[:, i, i] = squared[i]
    for pair, (i, j) in enumerate(((0, 1), (0, 2), (1, 2)), start=3):
        g[:, i, j] = g[:, j, i] = (squared[pair] - squared[i] - squared[j]) / 2.0
    return g
