"""Derivatives by finite differences."""

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]


def jacobian(function: Callable[[Array], Array], at: Array, step: float) -> Array:
    """Jacobian of a function by central differences.

    Parameters
    ----------
    function : callable
        Takes and returns arrays; called once for each direction of each variable.
    at : ndarray, shape (n,)
    step : float
        By which each variable is moved to either side, in its unit.

    Returns
    -------
    ndarray, shape (..., n)
        The derivative of what the function returns, of shape (...), by each variable.

    Examples
    --------
    >>> jacobian(lambda x: np.array([x[0] * x[1], x[1]]), np.array([2.0, 3.0]), 0.5).tolist()
    [[3.0, 2.0], [0.0, 1.0]]
    """
    ways = [function(at + shift) - function(at - shift) for shift in step * np.eye(len(at))]
    return np.stack(ways, axis=-1) / (2.0 * step)
