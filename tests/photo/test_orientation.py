"""Pictures are turned upright by their EXIF orientation, whatever their format."""

from io import BytesIO

import numpy as np
import pytest
from numpy.typing import NDArray
from PIL import ExifTags, Image, ImageOps

from tonematch.photo.decode import load_photo
from tonematch.photo.preview import preview_png

ALL = range(1, 9)


def stored() -> NDArray[np.uint8]:
    """A picture without any symmetry, in blocks that JPEG keeps apart."""
    codes = np.zeros((32, 48, 3), dtype=np.uint8)
    codes[:16, :16] = (200, 30, 30)
    codes[:16, 32:] = (30, 200, 30)
    codes[16:, :16] = (30, 30, 200)
    return codes


def file_with(orientation: int, kind: str) -> bytes:
    exif = Image.Exif()
    exif[ExifTags.Base.Orientation] = orientation
    file = BytesIO()
    Image.fromarray(stored()).save(
        file, format=kind, exif=exif, **({"quality": 95} if kind == "JPEG" else {})
    )
    return file.getvalue()


@pytest.mark.parametrize("kind", ["JPEG", "PNG", "TIFF"])
@pytest.mark.parametrize("orientation", ALL)
def test_upright_as_pillow_turns_it(orientation: int, kind: str) -> None:
    content = file_with(orientation, kind)
    expected = np.asarray(ImageOps.exif_transpose(Image.open(BytesIO(content))))
    np.testing.assert_array_equal(load_photo(content).encoded, expected)


def test_a_png_may_say_it_after_its_pixels() -> None:
    """PNG, third edition, 5.6: eXIf may stand anywhere before the end."""
    content = file_with(6, "PNG")
    at = content.index(b"eXIf") - 4
    block = content[at : at + 12 + int.from_bytes(content[at : at + 4], "big")]
    end = content.index(b"IEND") - 4
    late = content[:at] + content[at + len(block) : end] + block + content[end:]
    assert late.index(b"eXIf") > late.index(b"IDAT")
    np.testing.assert_array_equal(load_photo(late).encoded, load_photo(content).encoded)


@pytest.mark.parametrize("orientation", ALL)
def test_first_stored_pixel_lands_where_exif_says(orientation: int) -> None:
    # CIPA DC-008 (EXIF 2.32), tag 274: the visual side of stored row 0 and column 0.
    row, column = {
        1: ("top", "left"), 2: ("top", "right"), 3: ("bottom", "right"), 4: ("bottom", "left"),
        5: ("left", "top"), 6: ("right", "top"), 7: ("right", "bottom"), 8: ("left", "bottom"),
    }[orientation]  # fmt: skip
    sides = {row, column}
    upright = load_photo(file_with(orientation, "PNG")).encoded
    y = 0 if "top" in sides else -1
    x = 0 if "left" in sides else -1
    assert upright[y, x].tolist() == [200, 30, 30]


def test_preview_is_upright_and_scaled() -> None:
    photo = load_photo(file_with(6, "PNG"))
    content, scale = preview_png(photo, longest=24)
    shown = Image.open(BytesIO(content))
    assert scale == pytest.approx(0.5)
    assert shown.size == (16, 24)
    assert shown.getpixel((13, 2)) == (200, 30, 30)
