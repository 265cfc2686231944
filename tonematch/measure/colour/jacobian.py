"""The one way in which slopes are found where no formula gives them."""

from collections.abc import Callable

import numpy as np

from tonematch.arrays import Array


def jacobian(law: Callable[[Array], Array], at: Array, step: float) -> Array:
    """Slopes of a law with each of the last axis's numbers, by central differences.

    Parameters
    ----------
    law : callable
        Of arrays of shape (..., k), however many of them stand in front.
    at : ndarray, shape (..., k)
    step : float
        Above 0: small against where the law bends, large against rounding.

    Returns
    -------
    ndarray, shape of ``law(at)`` and k more

    Examples
    --------
    >>> jacobian(lambda x: x[..., :1] * x[..., 1:], np.array([2.0, 3.0]), 1e-3).round(6).tolist()
    [[3.0, 2.0]]
    """
    k = at.shape[-1]
    shifts = step * np.eye(k).reshape(k, *(1,) * (at.ndim - 1), k)
    both = law(np.concatenate([at + shifts, at - shifts]))
    return np.asarray(np.moveaxis(both[:k] - both[k:], 0, -1) / (2.0 * step))
