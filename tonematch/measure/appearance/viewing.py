"""An area, and a repair beside the original, as the eye sees them from a distance: S-CIELAB.

The picture is taken into three opponent channels, each is blurred as the eye blurs it at that
distance (colour more than lightness), and the result is read as CIELAB.

References
----------
Zhang, X. and Wandell, B. A. (1996). A spatial extension of CIELAB for digital color image
reproduction. SID International Symposium Digest 27, 731-734. Coefficients:
``swatches/scielab.toml``.
"""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import cv2
import numpy as np
from numpy.typing import NDArray

from tonematch.arrays import Vector3
from tonematch.errors import ValueRefused
from tonematch.measure.appearance.area_picture import AreaPicture, reduced
from tonematch.measure.appearance.cells import mottle
from tonematch.measure.appearance.evenness import EvennessComparison, EvennessVerdict
from tonematch.measure.colour.convert import xyz_to_lab
from tonematch.measure.colour.difference import delta_e_2000
from tonematch.swatchbook import limits, swatch_table

ARM_LENGTH, ACROSS_THE_ROOM = 0.7, 3.0
"""Usual viewing distances in metres."""

# Pixels per degree that are kept: finer ones lie far beyond the narrowest filter.
_FINEST = 60.0


@dataclass(frozen=True, eq=False)
class SeenComparison:
    """Two areas as they look from one distance.

    Attributes
    ----------
    lab_original, lab_repair : ndarray, shape (3,)
        CIELAB of the mean light that the eye receives from each.
    delta_e : float
        CIEDE2000 of the two; a `Comparison` has its interval, which distance does not change.
    mottle_original, mottle_repair : float
        Mean CIEDE2000 of each area, as seen, from its mean.
    evenness : {"alike", "too even", "too mottled", "otherwise mottled", "not known"}
        "alike" where the mottling that is seen differs too little to be noticed.
    as_one : bool
        Whether both colour and evenness pass from here.
    """

    metres: float
    lab_original: Vector3
    lab_repair: Vector3
    delta_e: float
    mottle_original: float
    mottle_repair: float
    evenness: EvennessVerdict
    as_one: bool
    words: str


def compare_seen(
    original: AreaPicture,
    repair: AreaPicture,
    near: EvennessComparison,
    metres: float,
    tolerance: float,
) -> SeenComparison:
    """Two areas of known scale as they look from 0.1 to 100 metres (else ValueRefused).

    `near` is how even they are from near: what does not differ there does not differ from afar.
    """
    pictures = seen_from(original, metres), seen_from(repair, metres)
    labs = [xyz_to_lab(p.xyz[p.used].mean(axis=0, dtype=np.float64)) for p in pictures]
    delta_e = float(delta_e_2000(labs[0], labs[1]))
    one, other = (mottle(p.lab()[p.used]) for p in pictures)
    seen: EvennessVerdict = near.verdict
    # Mottling of another kind is seen while there is any; of another depth, by the difference.
    left = max(one, other) if near.verdict == "otherwise mottled" else abs(one - other)
    if left < limits("evenness")["seen_mottle"] and near.verdict != "not known":
        seen = "alike"
    return SeenComparison(
        metres=metres,
        lab_original=labs[0],
        lab_repair=labs[1],
        delta_e=delta_e,
        mottle_original=one,
        mottle_repair=other,
        evenness=seen,
        as_one=delta_e <= tolerance and seen == "alike",
        words=_say(metres, delta_e, tolerance, seen),
    )


def _say(metres: float, delta_e: float, tolerance: float, seen: EvennessVerdict) -> str:
    colour = "is one with" if delta_e <= tolerance else "differs from"
    told = {
        "alike": "and is as even",
        "not known": "and its evenness is not known",
        "too even": "and looks too even",
        "too mottled": "and looks too mottled",
        "otherwise mottled": "and looks otherwise mottled",
    }[seen]
    return f"From {metres:g} m the repair {colour} the original in colour {told}."


def pixels_per_degree(mm_per_pixel: float, metres: float) -> float:
    """Pixels within one degree of visual angle; ValueRefused unless 0.1 to 100 metres away."""
    if not 0.1 <= metres <= 100.0:
        raise ValueRefused(
            f"A viewing distance of {metres:g} m cannot be used: give metres from 0.1 to 100."
        )
    return 2.0 * metres * 1000.0 * math.tan(math.radians(0.5)) / mm_per_pixel


def seen_from(picture: AreaPicture, metres: float) -> AreaPicture:
    """An area of known scale as it looks from a distance, 0.1 to 100 metres (else ValueRefused).

    Blurred by the filters of S-CIELAB. Beyond its edge the area is taken to go on as it is: each
    Gaussian is normalised by how much of it falls on the surface.
    """
    assert picture.mm_per_pixel is not None  # `look_at_surfaces` sees to it
    fine = pixels_per_degree(picture.mm_per_pixel, metres)
    small = reduced(picture, fine / _FINEST)
    per_degree = min(fine, _FINEST)
    table = swatch_table("scielab.toml")
    to_opponent = np.array(table["opponent"])
    opponent = small.xyz @ to_opponent.T.astype(np.float32)
    used = small.used.astype(np.float32)
    seen = [
        _filtered(opponent[..., i], used, channel, per_degree)
        for i, channel in enumerate(table["channel"])
    ]
    back = np.linalg.inv(to_opponent).T.astype(np.float32)
    return replace(small, xyz=np.stack(seen, axis=-1) @ back)


def _filtered(
    values: NDArray[np.float32],
    used: NDArray[np.float32],
    channel: Mapping[str, Sequence[float]],
    per_degree: float,
) -> NDArray[np.float32]:
    """An opponent channel through its Gaussians exp(-r^2 / spread^2), spread in degrees."""
    total, weights = np.zeros_like(values), channel["weight"]
    for weight, spread in zip(weights, channel["spread"], strict=True):
        # exp(-r^2 / spread^2) has a standard deviation of spread / sqrt(2).
        sigma = spread * per_degree / math.sqrt(2.0)
        seen = _blurred(values * used, sigma) / np.maximum(_blurred(used, sigma), 1e-6)
        total += np.float32(weight / sum(weights)) * seen
    return total


def _blurred(values: NDArray[np.float32], sigma: float) -> NDArray[np.float32]:
    """Gaussian blur over a surrounding of zeros."""
    if sigma < 0.2:
        return values
    # Wider than the picture there is nothing more to reach.
    reach = min(math.ceil(3.5 * sigma), max(values.shape))
    size = (2 * reach + 1, 2 * reach + 1)
    blurred = cv2.GaussianBlur(values, size, sigma, borderType=cv2.BORDER_CONSTANT)
    return np.asarray(blurred, dtype=np.float32)
