"""A part of a photograph, cut out small to be looked at."""

from io import BytesIO

import numpy as np
import pytest
from PIL import ExifTags, Image

from tonematch.photo.decode import load_photo
from tonematch.photo.preview import part_jpeg

QUARTERS = ((200, 160, 90), (120, 90, 40)), ((60, 70, 80), (230, 230, 230))


def test_a_part_of_a_picture_is_upright_and_small() -> None:
    codes = np.repeat(np.repeat(np.array(QUARTERS, np.uint8), 600, axis=0), 1000, axis=1)
    exif = Image.Exif()
    exif[ExifTags.Base.Orientation] = 6  # turned on its side, as a camera held upright writes it
    file = BytesIO()
    Image.fromarray(codes).save(file, "JPEG", quality=95, exif=exif)
    photo = load_photo(file.getvalue())
    with Image.open(BytesIO(part_jpeg(photo, (0, 0, 1200, 1000), 320))) as cut:
        assert cut.size == (320, 267)
        # What was below at the left is above at the left now, and the upper left above right.
        assert cut.getpixel((40, 130)) == pytest.approx(QUARTERS[1][0], abs=3)
        assert cut.getpixel((280, 130)) == pytest.approx(QUARTERS[0][0], abs=3)
