"""HEIC, WebP and AVIF files: their colour, their depth and their turning."""

from io import BytesIO

import imagecodecs
import numpy as np
import pytest
from PIL import ExifTags, Image

from tests.photo.heic_file import heic_file
from tonematch.errors import PhotoError
from tonematch.measure.colour.colour_science import colour
from tonematch.photo.decode import load_photo
from tonematch.photo.light import linear_light
from tonematch.photo.nclx import nclx_profile

CODES = np.zeros((32, 48, 3), dtype=np.uint8)
CODES[:16, :24] = (200, 60, 30)
CODES[:16, 24:] = (60, 190, 90)
CODES[16:, :24] = (40, 70, 180)
CODES[16:, 24:] = (120, 118, 90)

SPACES = {12: "Display P3", 9: "ITU-R BT.2020", 1: "sRGB"}


@pytest.mark.parametrize("primaries", SPACES)
@pytest.mark.parametrize("how", ["numbers", "profile"])
def test_colours_agree_with_colour_science(primaries: int, how: str) -> None:
    if how == "numbers":
        content = heic_file(CODES, nclx=(primaries, 13))
    else:
        content = heic_file(CODES, icc=nclx_profile(primaries, 13))
    photo = load_photo(content)
    assert np.abs(photo.encoded.astype(int) - CODES).max() <= 2
    light = linear_light(photo, 0, 0, 48, 32).astype(np.float64)
    read = light @ photo.to_xyz.T
    space = colour.RGB_COLOURSPACES[SPACES[primaries]]
    truth = colour.RGB_to_XYZ(
        colour.cctf_decoding(photo.encoded / 255, "sRGB"),
        space,
        colour.XYZ_to_xy(np.array([0.9642, 1, 0.8249])),
        chromatic_adaptation_transform="Bradford",
    )
    np.testing.assert_allclose(read, truth, atol=1e-3)


def test_ten_bits_are_kept() -> None:
    ramp = np.linspace(0, 65535, 64 * 64).astype(np.uint16).reshape(64, 64, 1)
    photo = load_photo(heic_file(np.repeat(ramp, 3, axis=2)))
    assert photo.encoded.dtype == np.uint16
    assert len(np.unique(photo.encoded)) > 700
    np.testing.assert_allclose(photo.encoded, np.repeat(ramp, 3, axis=2), atol=400)


@pytest.mark.parametrize("orientation", range(1, 9))
def test_turned_once(orientation: int) -> None:
    """The encoder turns by the EXIF orientation into the file's own turning; both are there."""
    exif = Image.Exif()
    exif[ExifTags.Base.Orientation] = orientation
    photo = load_photo(heic_file(CODES, exif=exif))
    file = BytesIO()
    Image.fromarray(CODES).save(file, format="PNG", exif=exif)
    expected = load_photo(file.getvalue()).encoded
    assert photo.encoded.shape == expected.shape
    assert np.abs(photo.encoded.astype(int) - expected).max() <= 2


def test_high_dynamic_range_is_refused() -> None:
    for transfer in (16, 18):
        with pytest.raises(PhotoError, match="high dynamic range"):
            load_photo(heic_file(CODES, nclx=(9, transfer)))


def test_metadata_and_past_are_told() -> None:
    exif = Image.Exif()
    exif[ExifTags.Base.Model] = "invented camera"
    photo = load_photo(heic_file(CODES, exif=exif, xmp=b"<x hdrgm:Version='1.0'/>"))
    assert photo.metadata["model"] == "invented camera"
    assert any("tone-mapped" in note for note in photo.notes)


@pytest.mark.parametrize("kind", ["WEBP", "AVIF"])
def test_webp_and_avif_as_pillow_opens_them(kind: str) -> None:
    Image.init()  # else only what was opened before is known
    if kind not in Image.SAVE:
        pytest.skip(f"this build of Pillow cannot write {kind}")
    file = BytesIO()
    profile = bytes(imagecodecs.cms_profile("srgb"))
    options = {"lossless": True} if kind == "WEBP" else {"quality": 100, "subsampling": "4:4:4"}
    Image.fromarray(CODES).save(file, format=kind, icc_profile=profile, **options)
    photo = load_photo(file.getvalue())
    assert np.abs(photo.encoded.astype(int) - CODES).max() <= 4
    assert not photo.notes
