"""What is known of a tone curve before a picture shows any of it: a smooth, wide prior.

A camera renders its pictures to please, so that the light that a file decodes to is not the light
that fell on the sensor: phones lift contrast in the middle and roll off both ends. What the file
says is right on average, and no more. The slope of log(true light) over log(decoded light) is a
Gaussian process around 1, with a squared exponential correlation over the logarithm of light,
unsurer towards white and black, where cameras roll off. The curve is its integral.

It is taken by the largest modes (Karhunen-Loeve) of such a process, integrated: a curve is a sum of
smooth modes whose weights are normal before anything is seen. A few modes more bend one channel
against the others, `tone.channel` times as strongly (``swatches/budget.toml`` has the sizes).

References
----------
Rasmussen, C. E. and Williams, C. K. I. (2006). Gaussian Processes for Machine Learning, 2.2 and
4.3. Grossberg, M. D. and Nayar, S. K. (2004). Modeling the space of camera response functions.
IEEE Transactions on Pattern Analysis and Machine Intelligence 26(10), 1272-1282 (curves of real
cameras lie in a space of few dimensions). Burggraaff, O. et al. (2019). Standardized spectral and
radiometric calibration of consumer cameras. Optics Express 27(14), 19075-19101 (raw files of
phones are linear, their JPEG far from the curve that they state).
"""

from functools import cache

import numpy as np
import scipy

from tonematch.arrays import Array
from tonematch.swatchbook import swatch_table

# Length of the correlation, natural logarithm of light: by the marginal likelihood of the greys of
# 20 real photographs. It and the counts below make the modes, and weights of these modes are kept
# in logbooks and profiles: who changes one must migrate these.
_LENGTH = 0.6
# Decoded light below this share of the highest is noise: a curve is straight there.
DARKEST = 5e-4
_NODES = 96
_KEPT = 0.995  # share of the slope's variance that the modes hold
_BENDS = 4  # smoothest modes that a channel may have for itself
# Two directions in which one channel parts from the others; each row has length 1.
_APART = np.sqrt(1.5) * np.array(
    [[1.0, 1.0], [-1.0, 1.0], [0.0, -2.0]] / np.sqrt([2.0, 6.0])
)  # fmt: skip


@cache
def _modes() -> tuple[Array, Array, Array]:
    """Logarithms of light, shape (n,), the slope's modes there and their integrals, (n, m) each."""
    at = np.linspace(np.log(DARKEST), 0.0, _NODES)
    variances, modes = scipy.linalg.eigh(np.exp(-0.5 * ((at[:, None] - at) / _LENGTH) ** 2))
    largest = np.argsort(variances)[::-1]
    kept = largest[: 1 + np.searchsorted(np.cumsum(variances[largest]), _KEPT * variances.sum())]
    # A mode and its opposite are one: the sign is fixed at the light end.
    slopes = modes[:, kept] * np.sign(modes[-1, kept]) * np.sqrt(variances[kept])
    steps = (slopes[1:] + slopes[:-1]) / 2.0 * (at[1] - at[0])
    return at, slopes, np.vstack([np.zeros(len(kept)), np.cumsum(steps, axis=0)])


def modes_at(light: Array) -> Array:
    """Modes of log(true light) at decoded light (..., 3), to a constant each; (..., 3, p)."""
    at, _, table = _modes()
    log_light = np.log(np.maximum(light, DARKEST))
    common = np.stack([np.interp(log_light, at, mode) for mode in table.T], axis=-1)
    bends = common[..., :_BENDS]
    return np.concatenate([common, bends * _APART[:, :1], bends * _APART[:, 1:]], axis=-1)


def prior_covariance(linear: bool) -> Array:
    """Covariance of the modes' weights before any neutral was seen, shape (p, p).

    `linear` light is a sensor's own (raw, or told to be linear), whose curve is nearly straight,
    towards white too; other light was developed to please.
    """
    size = swatch_table("budget.toml")["tone"]
    at, slopes, _ = _modes()
    swell = np.hypot(1.0, (0.0 if linear else size["swell"]) * (at - np.log(size["middle"])))
    common = np.linalg.pinv(slopes) @ (swell[:, None] * slopes)
    own = size["channel"] * np.eye(2 * _BENDS)
    slope = size["slope"] * (size["linear"] if linear else 1.0)
    return np.asarray(slope**2 * scipy.linalg.block_diag(common @ common.T, own @ own))
