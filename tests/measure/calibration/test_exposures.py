"""The tone curve from exposures of one scene, beside OpenCV's and beside the truth."""

from dataclasses import replace

import cv2
import numpy as np
import pytest
from numpy.typing import NDArray

from tests.cases import in_ci
from tests.measure.painted import photo_of
from tests.measure.tone_families import FAMILIES, Curve, drawn_curve
from tonematch.errors import PhotoError
from tonematch.measure.calibration.apply import true_light
from tonematch.measure.calibration.exposures import curve_from_exposures
from tonematch.photo.core import Photo

TIMES = (0.25, 0.5, 1.0, 2.0)
TONES = np.array([0.05, 0.1, 0.18, 0.3, 0.5, 0.7])


def scene(rng: np.random.Generator) -> NDArray[np.float64]:
    """Plain squares of many tones, a little coloured."""
    tones = np.exp(rng.uniform(np.log(0.02), np.log(0.9), (6, 8, 1)))
    coloured = tones * np.exp(rng.normal(0.0, 0.3, (6, 8, 3)))
    return np.repeat(np.repeat(coloured, 40, axis=0), 40, axis=1)


def codes_of(light: NDArray[np.float64]) -> NDArray[np.uint8]:
    """IEC 61966-2-1, 8 bits."""
    encoded = np.where(light <= 0.0031308, 12.92 * light, 1.055 * light ** (1 / 2.4) - 0.055)
    return np.round(255 * encoded).astype(np.uint8)


def decoded_of(codes: NDArray[np.uint8]) -> NDArray[np.float64]:
    encoded = codes / 255
    return np.where(encoded <= 0.04045, encoded / 12.92, ((encoded + 0.055) / 1.055) ** 2.4)


def taken(curves: list[Curve], rng: np.random.Generator) -> list[NDArray[np.uint8]]:
    here = scene(rng)
    pictures = []
    for curve, time in zip(curves, TIMES, strict=True):
        light = curve(np.clip(here * time, 1e-6, 1.0))
        pictures.append(codes_of(np.clip(light + rng.normal(0, 0.002, light.shape), 1e-6, 1.0)))
    return pictures


def photos_of(pictures: list[NDArray[np.uint8]]) -> list[Photo]:
    return [
        replace(
            photo_of(decoded_of(codes)),
            metadata={"exposure time": f"{time / 50}"},
        )
        for codes, time in zip(pictures, TIMES, strict=True)
    ]


def errors(found: NDArray[np.float64]) -> NDArray[np.float64]:
    """Of the logarithm of light beside a middle tone, shape (tones, 3)."""
    return np.asarray(np.log(found / found[2]) - np.log(TONES / TONES[2])[:, None])


def on_tones(curve: Curve) -> NDArray[np.float64]:
    return curve(np.repeat(TONES[:, None], 3, axis=1))


@pytest.mark.parametrize("family", ["as claimed", "S-curves", in_ci("highlights rolled off")])
def test_the_curve_is_found_from_its_exposures(family: str) -> None:
    rng = np.random.default_rng(12)
    found = []
    for _ in range(3):
        curve = drawn_curve(family, rng)
        fit = curve_from_exposures(photos_of(taken([curve] * 4, rng)))
        assert fit.measured
        found.append(errors(true_light(fit.curve, on_tones(curve))))
    assert np.sqrt(np.mean(np.square(found))) < 0.06


def test_it_is_as_near_as_the_curve_of_another_library() -> None:
    """OpenCV's CalibrateDebevec: Debevec and Malik (1997), on the same 8-bit pictures."""
    rng = np.random.default_rng(21)
    curve = drawn_curve("S-curves", rng)
    pictures = taken([curve] * 4, rng)
    response = cv2.createCalibrateDebevec(samples=200).process(
        [picture[..., ::-1] for picture in pictures], np.array(TIMES, dtype=np.float32)
    )[:, 0, ::-1]
    codes = codes_of(on_tones(curve))
    theirs = np.stack([response[codes[:, c], c] for c in range(3)], axis=-1).astype(float)
    ours = true_light(curve_from_exposures(photos_of(pictures)).curve, on_tones(curve))
    assert np.abs(errors(theirs)).mean() < 0.1
    assert np.abs(errors(ours)).mean() < np.abs(errors(theirs)).mean() + 0.02


@pytest.mark.parametrize("family", sorted(set(FAMILIES) - {"as claimed"}))
def test_pictures_that_were_each_rendered_in_a_way_of_its_own_are_refused(family: str) -> None:
    rng = np.random.default_rng(31)
    with pytest.raises(PhotoError, match=r"own way|one exposure"):
        curve_from_exposures(photos_of(taken([drawn_curve(family, rng) for _ in TIMES], rng)))


def test_what_cannot_tell_a_curve_is_refused() -> None:
    rng = np.random.default_rng(8)
    photos = photos_of(taken([drawn_curve("as claimed", rng)] * 4, rng))
    with pytest.raises(PhotoError, match="three exposures or more"):
        curve_from_exposures(photos[:2])
    with pytest.raises(PhotoError, match="have one exposure"):
        curve_from_exposures([photos[0]] * 3)
    with pytest.raises(PhotoError, match="differs from"):
        curve_from_exposures([*photos[:2], replace(photos[2], space="Adobe RGB (1998)")])
    black = photo_of(np.full((240, 320, 3), 0.004))
    dark = [replace(black, metadata=photo.metadata) for photo in photos]
    with pytest.raises(PhotoError, match="Too little of the scene"):
        curve_from_exposures(dark)
