"""Linear light and clipping of a part of a photograph."""

import numpy as np
from numpy.typing import NDArray

from tonematch.photo.core import Encoded, FloatPicture, Photo
from tonematch.photo.profile import code_to_romm
from tonematch.swatchbook import limits


def linear_light(photo: Photo, x0: int, y0: int, x1: int, y1: int, step: int = 1) -> FloatPicture:
    """Linear RGB of every `step`-th pixel from (x0, y0) up to, not including, (x1, y1): (h, w, 3).

    Pixels are of the upright picture, 0 <= x0 < x1 <= width, and so for y; 1 is the highest code
    value of a channel.
    """
    part = photo.encoded[y0:y1:step, x0:x1:step]
    if photo.lut is not None:
        return code_to_romm(np.asarray(part / highest_code(part), dtype=np.float64), photo.lut)
    if photo.decoders is None:
        return part.astype(np.float32)
    return np.stack([photo.decoders[c][part[..., c]] for c in range(3)], axis=-1)


def clipped(photo: Photo, x0: int, y0: int, x1: int, y1: int, step: int = 1) -> NDArray[np.bool_]:
    """Pixels (h, w) that are clipped at white in any channel; arguments as `linear_light`."""
    part = photo.encoded[y0:y1:step, x0:x1:step]
    highest = limits("pixel")["clipped_code"] * highest_code(part)
    return np.asarray((part >= highest).any(axis=-1))


def highest_code(encoded: Encoded) -> float:
    """Code value of white."""
    kind = encoded.dtype
    return 1.0 if kind.kind == "f" else float(2 ** (8 * kind.itemsize) - 1)
