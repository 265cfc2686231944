"""Tone curves that a camera may have, of families that no prior of the project was made from.

Each takes linear light, 0 to 1, to the linear light that a profile will decode. Their sizes are
those of real pictures: between neighbouring greys, decoded light has 0.5 to 1.6 times the
logarithmic slope of true light (sixteen pictures of one phone: 0.52 to 1.48, channels 0.04 apart,
root mean square; ``real_photographs`` reads them).
"""

from collections.abc import Callable

import numpy as np

from tests.demonstration.spectra import Array

Curve = Callable[[Array], Array]

GREYS = np.array([0.90, 0.59, 0.36, 0.18, 0.09, 0.035])
"""Reflectances between which slopes are looked at."""
EXPOSURE = 0.65
"""What white has of full light, for that."""
SLOPES = 0.5, 1.6
LEAST_LIGHT = 1e-6


def as_claimed(_rng: np.random.Generator) -> Curve:
    """What the profile says."""
    return lambda x: x


def s_curve(rng: np.random.Generator) -> Curve:
    """A logistic curve in the logarithm of light, or its inverse.

    References
    ----------
    Naka, K. I. and Rushton, W. A. H. (1966). Journal of Physiology 185, 536-555.
    """
    n, middle = rng.uniform(1.05, 1.6), np.exp(rng.uniform(np.log(0.2), np.log(1.2)))
    m = middle**n
    if rng.integers(2):
        return lambda x: (1 + m) * x**n / (x**n + m)
    return lambda x: (m * x / (1 + m - x)) ** (1 / n)


def lifted_shadows(rng: np.random.Generator) -> Curve:
    """Light added everywhere, or a toe that rises less than light."""
    if rng.integers(2):
        added = np.exp(rng.uniform(np.log(0.002), np.log(0.03)))
        return lambda x: (x + added) / (1 + added)
    knee, lift = rng.uniform(0.02, 0.15), rng.uniform(0.15, 0.5)
    return lambda x: x * ((1 + (knee / x) ** 2) / (1 + knee**2)) ** (lift / 2)


def rolled_off(rng: np.random.Generator) -> Curve:
    """Highlights held back, as by an exponential."""
    k = rng.uniform(0.3, 2.0)
    return lambda x: (1 - np.exp(-k * x)) / (1 - np.exp(-k))


def channel_bends(rng: np.random.Generator) -> Curve:
    """A parabola in the logarithm of light about a middle tone, other in each channel."""
    bend = rng.normal(0.0, 0.08) + rng.normal(0.0, 0.02, 3)

    def bent(x: Array) -> Array:
        u = np.log(x / 0.12)
        near = np.clip(u, -2.0, 2.0)  # straight beyond, so that it rises everywhere
        return np.asarray(np.exp(u + bend * near * (2 * u - near)))

    return lambda x: bent(x) / bent(np.ones(3))


CLAIMED = "as claimed"
FAMILIES = {
    CLAIMED: as_claimed,
    "S-curves": s_curve,
    "lifted shadows": lifted_shadows,
    "highlights rolled off": rolled_off,
    "per-channel bends": channel_bends,
}


def drawn_curve(family: str, rng: np.random.Generator) -> Curve:
    """A curve of a family whose slopes are those of real pictures."""
    x = EXPOSURE * np.repeat(GREYS[:, None], 3, axis=1)
    while True:
        curve = FAMILIES[family](rng)
        slopes = np.diff(np.log(curve(x)), axis=0) / np.diff(np.log(x), axis=0)
        if SLOPES[0] <= slopes.min() and slopes.max() <= SLOPES[1]:
            return lambda light: curve(np.clip(light, LEAST_LIGHT, 1.0))
