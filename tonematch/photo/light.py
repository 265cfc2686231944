"""Linear light and clipping of a part of a photograph."""

import numpy as np
from numpy.typing import NDArray

from tonematch.photo.core import Encoded, FloatPicture, Photo
from tonematch.photo.limits import limits
from tonematch.photo.profile import code_to_romm


def linear_light(photo: Photo, x0: int, y0: int, x1: int, y1: int, step: int = 1) -> FloatPicture:
    """Linear RGB of the pixels from (x0, y0) up to, not including, (x1, y1).

    Parameters
    ----------
    x0, y0, x1, y1 : int
        Pixels of the upright picture; 0 <= x0 < x1 <= width, and so for y.
    step : int, optional
        Take every step-th pixel in both directions.

    Returns
    -------
    ndarray, shape (h, w, 3), float32
        1 is the highest code value of a channel.
    """
    part = photo.encoded[y0:y1:step, x0:x1:step]
    if photo.lut is not None:
        return code_to_romm(np.asarray(part / _highest(part), dtype=np.float64), photo.lut)
    if photo.decoders is None:
        return part.astype(np.float32)
    return np.stack([photo.decoders[c][part[..., c]] for c in range(3)], axis=-1)


def clipped(photo: Photo, x0: int, y0: int, x1: int, y1: int, step: int = 1) -> NDArray[np.bool_]:
    """Pixels that are clipped at white in any channel; arguments as `linear_light`.

    Returns
    -------
    ndarray, shape (h, w), bool
    """
    part = photo.encoded[y0:y1:step, x0:x1:step]
    highest = limits("pixel")["clipped_code"] * _highest(part)
    return np.asarray((part >= highest).any(axis=-1))


def _highest(encoded: Encoded) -> float:
    kind = encoded.dtype
    return 1.0 if kind.kind == "f" else float(2 ** (8 * kind.itemsize) - 1)
