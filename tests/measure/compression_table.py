"""Areas saved as JPEG, WebP, HEIC or AVIF and read again: how far the mean moves, and its budget.

``python -m tests.measure.compression_table`` prints the table. Everything but compression is
left out: the truth is the picture before it was saved. Lab is CIELAB D50, 2 degree.
"""

import argparse
from dataclasses import dataclass
from io import BytesIO

import cv2
import numpy as np
import pillow_heif
from numpy.typing import NDArray
from PIL import Image

from tests.measure.painted import encode, lab_to_light, photo_of
from tonematch.measure.area.areas import box_area
from tonematch.measure.area.pixels import area_pixels
from tonematch.measure.area.rounding import rounding_covariance
from tonematch.measure.colour.convert import xyz_to_lab
from tonematch.photo.decode import load_photo

Array = NDArray[np.float64]
SURFACES = {"flat": (0.0, 0.0), "nearly flat": (0.01, 1.0), "noisy": (0.0, 3.0),
            "mottled": (0.08, 1.5)}  # fmt: skip
"""Mottle as a share of light, and noise in code values of 255."""
MARGIN = 16
"""Pixels from an area to the next surface."""


@dataclass(frozen=True, eq=False)
class Saved:
    """Errors of Lab of pairs of areas, shape (n, 2, 3), and their stated variances."""

    errors: Array
    variances: Array

    @property
    def apart(self) -> Array:
        """Errors of the differences, shape (n, 3)."""
        return np.asarray(self.errors[:, 1] - self.errors[:, 0])

    @property
    def covered(self) -> float:
        """Share of the differences of L*, a* and b* inside their 95 % intervals."""
        return float((np.abs(self.apart) < 1.96 * np.sqrt(self.variances.sum(axis=1))).mean())


def saved_pairs(
    kind: str, quality: int, sampling: str, pairs: int = 60, form: str = "JPEG"
) -> Saved:
    """Pairs of like golds side by side, at every phase of the blocks."""
    rng = np.random.default_rng(quality)
    found = [_one(kind, form, quality, sampling, rng) for _ in range(pairs)]
    return Saved(np.array([e for e, _ in found]), np.array([v for _, v in found]))


def _one(
    kind: str, form: str, quality: int, sampling: str, rng: np.random.Generator
) -> tuple[list[Array], list[Array]]:
    side = int(rng.integers(60, 140))
    x, y = (int(value) for value in rng.integers(0, 16, 2))
    light = np.full((y + side + 20, x + 2 * side + 20, 3), 0.15)
    old = rng.uniform((45, 0, 15), (75, 12, 40))
    mottle, noise = SURFACES[kind]
    for k, lab in enumerate((old, old + rng.normal(0, 2, 3))):
        grain = cv2.GaussianBlur(rng.standard_normal((side, side)), (0, 0), rng.uniform(1, 6))
        surface = 1 + mottle * (grain / grain.std())[..., None]
        light[y : y + side, x + k * side : x + (k + 1) * side] = lab_to_light(lab) * surface
    codes = np.clip(encode(light, 16) / 257.0 + rng.normal(0, noise, light.shape), 0, 255)
    true = photo_of(light)
    assert true.decoders is not None
    plain = np.asarray(true.decoders[0], dtype=np.float64)[np.rint(257 * codes).astype(int)]
    picture = Image.fromarray(np.rint(codes).astype(np.uint8))
    photo = load_photo(file_of(picture, form, quality, sampling), "saved")
    errors, variances = [], []
    for k in range(2):
        box = (x + k * side + MARGIN, y + MARGIN, side - 2 * MARGIN, side - 2 * MARGIN)
        pixels = area_pixels(photo, box_area("gold", box))
        mean = pixels.light.mean(axis=0)
        part = np.s_[box[1] : box[1] + box[3], box[0] : box[0] + box[2]]
        J = _lab_by_light(mean, photo.to_xyz)
        stated = rounding_covariance(pixels, np.ones(len(pixels.light), dtype=bool), pixels.light)
        errors.append(J @ (mean - plain[part].mean(axis=(0, 1))))
        variances.append(np.diag(J @ stated @ J.T))
    return errors, variances


def file_of(picture: Image.Image, form: str, quality: int, sampling: str) -> bytes:
    """WebP has 4:2:0 alone; HEIC through libheif, the others through Pillow."""
    file = BytesIO()
    if form == "HEIC":
        chroma = int(sampling.replace(":", ""))
        pillow_heif.from_pillow(picture).save(file, quality=quality, chroma=chroma)
    elif form == "WEBP":
        picture.save(file, format=form, quality=quality)
    else:
        picture.save(file, format=form, quality=quality, subsampling=sampling)
    return file.getvalue()


def _lab_by_light(light: Array, to_xyz: Array) -> Array:
    step = 1e-4 * light
    ends = [xyz_to_lab((light + sign * np.diag(step)) @ to_xyz.T) for sign in (1, -1)]
    return np.asarray(((ends[0] - ends[1]) / (2 * step[:, None])).T)


def main() -> None:
    """Print the table."""
    print("| saved | surface | greatest error of a reading | of a difference | covered |")
    print("| --- | --- | --- | --- | --- |")
    ways = [("JPEG", "4:2:0"), ("JPEG", "4:4:4"), ("WEBP", "4:2:0"), ("HEIC", "4:2:0")]
    for form, sampling in (*ways, ("AVIF", "4:2:0")):
        for quality in (60, 75, 85, 95):
            for kind in SURFACES:
                found = saved_pairs(kind, quality, sampling, form=form)
                reading, difference = (
                    np.linalg.norm(errors, axis=-1).max() for errors in (found.errors, found.apart)
                )
                print(
                    f"| {form} {quality}, {sampling} | {kind} | {reading:.1f} | {difference:.1f} "
                    f"| {100 * found.covered:.0f} % |"
                )


if __name__ == "__main__":
    argparse.ArgumentParser(description=main.__doc__).parse_args()
    main()
