"""A small upright sRGB picture to mark areas on. Nothing is ever measured on it."""

from dataclasses import replace
from io import BytesIO
from typing import cast

import cv2
import numpy as np
from numpy.typing import NDArray
from PIL import Image

from tonematch.errors import ValueRefused
from tonematch.photo.core import Encoded, FloatPicture, Photo
from tonematch.photo.light import linear_light
from tonematch.photo.profile import colour_space, srgb_profile


def preview_png(photo: Photo, longest: int = 1200) -> tuple[bytes, float]:
    """The same as a PNG file; parameters, the scale and errors as `preview`."""
    codes, scale = preview(photo, longest)
    file = BytesIO()
    Image.fromarray(codes).save(file, format="PNG", compress_level=1)
    return file.getvalue(), scale


def preview(photo: Photo, longest: int) -> tuple[NDArray[np.uint8], float]:
    """An upright sRGB preview, (h, w, 3), and its pixels for one of the original, at most 1.

    Its longest side has so many pixels, at least 16 (else ValueRefused); smaller pictures keep
    their size.
    """
    if longest < 16:
        raise ValueRefused(f"A preview of {longest} pixels is too small: ask for 16 or more.")
    scale = min(1.0, longest / max(photo.width, photo.height))
    size = (max(1, round(photo.width * scale)), max(1, round(photo.height * scale)))
    shown = replace(photo, encoded=_resized(photo.encoded, size)) if scale < 1 else photo
    return to_srgb_codes(linear_light(shown, 0, 0, shown.width, shown.height), photo), scale


def part_jpeg(photo: Photo, part: tuple[float, float, float, float], longest: int) -> bytes:
    """A part (left, top, width, height in pixels) of a photograph as a small sRGB JPEG file."""
    x, y, w, h = map(int, part)
    cut = replace(photo, encoded=photo.encoded[y : y + h, x : x + w])
    return jpeg_file(preview(cut, longest)[0])


def jpeg_file(codes: NDArray[np.uint8]) -> bytes:
    """An sRGB picture (h, w, 3) as a JPEG file, its colours at full size: golds are compared."""
    file = BytesIO()
    Image.fromarray(codes).save(file, format="JPEG", quality=90, subsampling=0)
    return file.getvalue()


def _resized(encoded: Encoded, size: tuple[int, int]) -> Encoded:
    # An upright view has negative strides, which OpenCV does not take.
    whole = np.ascontiguousarray(encoded)
    small = cv2.resize(whole, size, interpolation=cv2.INTER_AREA)
    return cast(Encoded, small)


def to_srgb_codes(light: FloatPicture, photo: Photo) -> NDArray[np.uint8]:
    """Linear RGB (h, w, 3) of a photo as 8-bit sRGB (IEC 61966-2-1); out of gamut is clipped."""
    return srgb_codes(light @ photo.to_xyz.T.astype(np.float32))


def srgb_codes(xyz: FloatPicture) -> NDArray[np.uint8]:
    """XYZ (..., 3) for D50, Y of white 1, as 8-bit sRGB; out of gamut is clipped."""
    to_srgb = np.linalg.inv(colour_space(srgb_profile(), 256).to_xyz)
    linear = np.clip(xyz @ to_srgb.T.astype(np.float32), 0.0, 1.0)
    low = 12.92 * linear
    high = 1.055 * linear ** np.float32(1 / 2.4) - 0.055
    coded = np.where(linear <= 0.0031308, low, high)
    return np.asarray(np.rint(coded * 255.0), dtype=np.uint8)
