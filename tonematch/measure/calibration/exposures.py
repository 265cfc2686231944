"""The tone curve from several exposures of one still scene, without a chart or a neutral.

Every place of the scene gives the pictures light in one ratio, that of their exposures; where the
file's light stands in another, the curve between the two levels is to blame. So each place is two
levels of known ratio, as a pair of neutrals is, and the curve is conditioned on them all.

References
----------
Debevec, P. E. and Malik, J. (1997). Recovering high dynamic range radiance maps from photographs.
SIGGRAPH 97, 369-378. Grossberg, M. D. and Nayar, S. K. (2003). Determining the camera response
from images: what is knowable? IEEE Transactions on Pattern Analysis and Machine Intelligence
25(11), 1455-1467 (without the ratios a curve is known but for its exponent).
"""

from collections.abc import Sequence
from dataclasses import replace
from fractions import Fraction
from itertools import pairwise

import cv2
import numpy as np
from numpy.typing import NDArray

from tonematch.arrays import Array
from tonematch.errors import PhotoError
from tonematch.measure.calibration.apply import true_light
from tonematch.measure.calibration.camera_profile import camera_of, curve_alone, taken_on
from tonematch.measure.calibration.tone import LightRatios, ToneFit, conditioned, unseen_curve
from tonematch.measure.core import CameraProfile
from tonematch.photo.core import Photo
from tonematch.photo.light import clipped, linear_light
from tonematch.swatchbook import limits

_FEWEST = 3
_ACROSS = 48  # places along the longer side
_EACH = 60  # places that a pair of exposures is judged by
_FEWEST_PLACES = 12


def profile_from_exposures(photos: Sequence[Photo], lamp: str = "") -> CameraProfile:
    """The camera profile that exposures teach; arguments and errors as `curve_from_exposures`."""
    fit, first = curve_from_exposures(photos), photos[0]
    return curve_alone(camera_of(first), first.space, taken_on(first), fit, lamp)


def curve_from_exposures(photos: Sequence[Photo]) -> ToneFit:
    """Find the tone curve that several exposures share, anchored at the middle of their light.

    Three or more, in any order: camera and scene still, white balance locked. Raises PhotoError
    where they are too few, differ in size or kind, state no exposure or one alone, hold too little
    that is well exposed in two of them, or were each rendered in another way.
    """
    _check_alike(photos)
    seen = sorted(
        ((_places(photo), photo) for photo in photos), key=lambda one: np.median(one[0][0])
    )
    pairs = [
        _ratios(darker, brighter, first, second)
        for (darker, first), (brighter, second) in pairwise(seen)
    ]
    anchor = np.median(np.concatenate([pair.light for pair in pairs]), axis=0)
    fit = conditioned(unseen_curve(photos[0], "profile", anchor), *pairs)
    _check_one_curve(fit, pairs)
    words = f"from {len(photos)} exposures"
    return replace(fit, curve=replace(fit.curve, words=words), warnings=())


def _check_alike(photos: Sequence[Photo]) -> None:
    if len(photos) < _FEWEST:
        raise PhotoError(
            f"A tone curve needs three exposures or more of one still scene, and there are "
            f"{len(photos)}: photograph it darker and brighter as well."
        )
    first = photos[0]
    for photo in photos[1:]:
        if (photo.width, photo.height, photo.space) != (first.width, first.height, first.space):
            raise PhotoError(
                f"'{photo.name}' differs from '{first.name}' in size or colour space: take all "
                "exposures with one camera on a stand, and change nothing but the exposure."
            )


def _places(photo: Photo) -> tuple[Array, NDArray[np.bool_]]:
    """Light of even places, shape (n, 3), and which of them are well exposed."""
    step = max(1, max(photo.width, photo.height) // (8 * _ACROSS))
    whole = (photo, 0, 0, photo.width, photo.height, step)
    light, white = linear_light(*whole).astype(np.float32), clipped(*whole)
    size = max(1, light.shape[1] // 8), max(1, light.shape[0] // 8)
    mean = cv2.resize(light, size, interpolation=cv2.INTER_AREA)
    square = cv2.resize(light * light, size, interpolation=cv2.INTER_AREA)
    share = cv2.resize(white.astype(np.float32), size, interpolation=cv2.INTER_AREA)
    limit = limits("exposures")
    rough = np.sqrt(np.maximum(square - mean**2, 0.0)) / np.maximum(mean, 1e-6)
    well = (share == 0) & (mean > limit["darkest"]).all(-1) & (rough < limit["roughest"]).all(-1)
    return mean.reshape(-1, 3).astype(np.float64), well.ravel()


def _exposure(photo: Photo) -> float:
    """Exposure time times sensitivity over the square of the f-number, as the file states them."""
    try:
        time, iso, stop = (
            float(Fraction(photo.metadata.get(name, fallback)))
            for name, fallback in (("exposure time", ""), ("iso", "100"), ("f-number", "1"))
        )
        exposure = time * iso / stop**2
    except (ValueError, ZeroDivisionError):
        exposure = 0.0
    if exposure > 0.0:
        return exposure
    raise PhotoError(
        f"'{photo.name}' does not state its exposure, without which no curve is known: give the "
        "files as the camera wrote them."
    )


def _ratios(
    darker: tuple[Array, NDArray[np.bool_]],
    brighter: tuple[Array, NDArray[np.bool_]],
    first: Photo,
    second: Photo,
) -> LightRatios:
    """What places that are well exposed in both pictures say of the curve."""
    limit, ratio = limits("exposures"), _exposure(second) / _exposure(first)
    both = np.flatnonzero(darker[1] & brighter[1])
    if len(both) < _FEWEST_PLACES:
        raise PhotoError(
            "Too little of the scene is well exposed in two pictures that follow each other: "
            "take them a stop apart, of a scene with light and dark things that are plain."
        )
    order = both[np.argsort(darker[0][both].mean(axis=1))]
    chosen = order[np.linspace(0, len(order) - 1, min(_EACH, len(order))).astype(int)]
    dark, bright = darker[0][chosen], brighter[0][chosen]
    if ratio <= limit["least_ratio"]:
        raise PhotoError(
            f"'{first.name}' and '{second.name}' have one exposure: photograph the scene at least "
            "a stop apart, twice as long or half as long."
        )
    own = limit["place_sigma"] ** 2 + (limit["dark_sigma"] / dark.ravel()) ** 2
    covariance = limit["sigma"] ** 2 + np.diag(own)
    return LightRatios(bright, dark, np.full((len(chosen), 3), ratio), covariance)


def _check_one_curve(fit: ToneFit, pairs: Sequence[LightRatios]) -> None:
    """Refuse pictures that no one curve explains."""
    limit = limits("exposures")
    for pair in pairs:
        found = np.log(true_light(fit.curve, pair.light) / true_light(fit.curve, pair.beside))
        left = (found - np.log(pair.ratio)).ravel()
        doubt = np.sqrt(pair.covariance[0, 1])
        own = np.sqrt(np.diag(pair.covariance) - doubt**2)
        level = float(np.median(left))
        misfit = float(np.sqrt(np.mean(((left - level) / own) ** 2)))
        if misfit > limit["misfit_refused"] or abs(level) > limit["level_refused"] * doubt:
            raise PhotoError(
                "No one tone curve explains these pictures: the camera rendered each in its own "
                "way, or something moved; take them as raw files, or mark white, grey and black "
                "cards in the picture instead."
            )
