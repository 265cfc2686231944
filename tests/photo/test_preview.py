"""A photograph decoded small to be looked at is the same picture."""

from io import BytesIO

import numpy as np
import pytest
from PIL import ExifTags, Image

from tonematch.errors import PhotoError
from tonematch.photo.core import Photo
from tonematch.photo.decode import load_photo
from tonematch.photo.light import linear_light
from tonematch.photo.preview import part_jpeg, reduced, to_srgb_codes


def _picture(kind: str) -> bytes:
    """Four quarters, turned on its side as a camera held upright writes it."""
    codes = np.zeros((1200, 3200, 3), np.uint8)
    codes[:600, :1600], codes[:600, 1600:] = (200, 160, 90), (120, 90, 40)
    codes[600:, :1600], codes[600:, 1600:] = (60, 70, 80), (230, 230, 230)
    exif = Image.Exif()
    exif[ExifTags.Base.Orientation] = 6
    file = BytesIO()
    Image.fromarray(codes).save(file, kind, quality=95, exif=exif)
    return file.getvalue()


def _code(photo: Photo, across: float, down: float) -> list[int]:
    """The sRGB code at a part of the width and height."""
    x, y = int(across * photo.width), int(down * photo.height)
    code: list[int] = to_srgb_codes(linear_light(photo, x, y, x + 1, y + 1), photo)[0, 0].tolist()
    return code


@pytest.mark.parametrize("kind", ["JPEG", "PNG"])
def test_a_reduced_photograph_is_the_same_picture(kind: str) -> None:
    source = _picture(kind)
    whole, (small, scale) = load_photo(source), reduced(source, "a", 600)
    assert small.height == round(whole.height * scale)
    assert scale == (0.25 if kind == "JPEG" else 1.0)
    for x, y in ((0.25, 0.25), (0.75, 0.25), (0.25, 0.75), (0.75, 0.75)):
        seen = [_code(p, x, y) for p in (whole, small)]
        assert seen[1] == pytest.approx(seen[0], abs=2)


def test_a_part_is_cut_out_small() -> None:
    photo, _ = reduced(_picture("JPEG"), "a", 3200)
    cut = part_jpeg(photo, (0, 0, photo.width, photo.height / 2), 320)
    with Image.open(BytesIO(cut)) as image:
        assert image.size == (240, 320)


def test_a_photograph_that_is_none_is_refused_in_a_sentence() -> None:
    with pytest.raises(PhotoError):
        reduced(b"\xff\xd8 no picture", "a.jpg", 100)
