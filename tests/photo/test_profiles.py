"""Linear light through ICC profiles, against the standards and against LittleCMS in Pillow."""

from io import BytesIO

import imagecodecs
import numpy as np
import pytest
from numpy.typing import NDArray
from PIL import Image, ImageCms

from tests.photo.lut_profile import GRID, lut_profile, table_lab
from tonematch.errors import PhotoError
from tonematch.measure.colour.convert import xyz_to_lab
from tonematch.photo.decode import load_photo
from tonematch.photo.light import clipped, linear_light
from tonematch.photo.profile import colour_space, srgb_profile


def picture(seed: int = 1, height: int = 24, width: int = 32) -> NDArray[np.uint8]:
    return np.random.default_rng(seed).integers(0, 256, (height, width, 3), dtype=np.uint8)


def png(codes: NDArray[np.uint8], profile: bytes | None = None) -> bytes:
    file = BytesIO()
    Image.fromarray(codes).save(file, format="PNG", icc_profile=profile)
    return file.getvalue()


def lab_of(content: bytes) -> NDArray[np.float64]:
    photo = load_photo(content)
    light = linear_light(photo, 0, 0, photo.width, photo.height)
    assert light.dtype == np.float32
    return xyz_to_lab(light.astype(np.float64) @ photo.to_xyz.T)


def lab_by_pillow(codes: NDArray[np.uint8], profile: bytes) -> NDArray[np.float64]:
    """CIELAB in whole steps, by Pillow's own LittleCMS."""
    transform = ImageCms.buildTransform(
        ImageCms.ImageCmsProfile(BytesIO(profile)),
        ImageCms.createProfile("LAB"),
        "RGB",
        "LAB",
        ImageCms.Intent.RELATIVE_COLORIMETRIC,
        ImageCms.Flags.NOOPTIMIZE,
    )
    out = ImageCms.applyTransform(Image.fromarray(codes), transform)
    assert out is not None
    coded = np.asarray(out)
    lab = coded.astype(np.float64)
    lab[..., 0] *= 100.0 / 255.0
    lab[..., 1:] = coded[..., 1:].astype(np.int8)
    return lab


def assert_as_pillow(ours: NDArray[np.float64], theirs: NDArray[np.float64]) -> None:
    inside = (np.abs(ours[..., 1:]) < 127).all(axis=-1)
    assert inside.sum() > 0.8 * inside.size
    assert np.abs(ours - theirs)[inside][:, 0].max() < 0.25  # half a step of L* is 0.196
    assert np.abs(ours - theirs)[inside][:, 1:].max() < 0.6  # half a step of a*, b* is 0.5


def test_srgb_curve_and_matrix_are_those_of_the_standard() -> None:
    # IEC 61966-2-1 curve; matrix adapted to D50 by Bradford as computed by B. Lindbloom,
    # "RGB/XYZ matrices" (brucelindbloom.com), quoted from memory to four places.
    space = colour_space(srgb_profile(), 256)
    assert space.decoders is not None
    code = np.arange(256) / 255
    curve = np.where(code <= 0.04045, code / 12.92, ((code + 0.055) / 1.055) ** 2.4)
    for decoder in space.decoders:
        np.testing.assert_allclose(decoder, curve, atol=2e-5)
    np.testing.assert_allclose(
        space.to_xyz,
        [[0.4361, 0.3851, 0.1431], [0.2225, 0.7169, 0.0606], [0.0139, 0.0971, 0.7142]],
        atol=4e-4,
    )


def test_white_of_a_profile_is_d50() -> None:
    # ISO 15076-1:2010, 7.2.16: the illuminant of the profile connection space.
    for profile in (srgb_profile(), imagecodecs.cms_profile("adobergb")):
        white = colour_space(profile, 256).to_xyz.sum(axis=1)
        np.testing.assert_allclose(white, [0.9642, 1.0, 0.8249], atol=2e-4)


def test_untagged_is_read_as_srgb_with_a_note() -> None:
    photo = load_photo(png(picture()))
    assert any("sRGB" in note for note in photo.notes)
    assert not load_photo(png(picture(), srgb_profile())).notes


@pytest.mark.parametrize("name", ["srgb", "adobergb"])
def test_matrix_profiles_agree_with_littlecms(name: str) -> None:
    profile = bytes(imagecodecs.cms_profile(name))
    codes = picture()
    assert load_photo(png(codes, profile)).lut is None
    assert_as_pillow(lab_of(png(codes, profile)), lab_by_pillow(codes, profile))


def test_lut_profile_agrees_with_littlecms_and_with_its_own_table() -> None:
    profile = lut_profile()
    codes = picture(height=40, width=40) // 2 + 64
    photo = load_photo(png(codes, profile))
    assert photo.lut == profile
    assert photo.space == "mixed channels"
    assert_as_pillow(lab_of(png(codes, profile)), lab_by_pillow(codes, profile))
    # At the nodes of the table the reading is what the table states, by no software at all.
    nodes = np.array([0, 2, 4, 6]) * 65535 // (GRID - 1)
    grid = np.stack(np.meshgrid(nodes, nodes, nodes), axis=-1).reshape(8, 8, 3).astype(np.uint16)
    stated = table_lab(grid / 65535)
    read = lab_of(_png16(grid, profile))
    shown = (np.abs(stated[..., 1:]) < 60).all(axis=-1) & (stated[..., 0] > 10)
    np.testing.assert_allclose(read[shown], stated[shown], atol=0.05)


def _png16(codes: NDArray[np.uint16], profile: bytes) -> bytes:
    """A 16-bit PNG with a profile chunk (ISO/IEC 15948, 11.3.3.3) put in behind IHDR."""
    import struct
    import zlib

    plain = bytes(imagecodecs.png_encode(codes))
    content = b"iCCP" + b"test\0\0" + zlib.compress(profile)
    chunk = struct.pack(">I", len(content) - 4) + content
    chunk += struct.pack(">I", zlib.crc32(content))
    return plain[:33] + chunk + plain[33:]


def test_sixteen_bits_read_finer_than_eight() -> None:
    codes = np.full((8, 8, 3), 30000, dtype=np.uint16)
    for content in (imagecodecs.png_encode(codes), imagecodecs.tiff_encode(codes)):
        photo = load_photo(bytes(content))
        assert photo.encoded.dtype == np.uint16
        light = linear_light(photo, 0, 0, 8, 8)
        # IEC 61966-2-1 at 30000 / 65535.
        np.testing.assert_allclose(light, ((30000 / 65535 + 0.055) / 1.055) ** 2.4, rtol=2e-4)


def test_planar_tiff_reads_as_interleaved() -> None:
    codes = picture()
    planes = np.ascontiguousarray(np.moveaxis(codes, -1, 0))
    content = imagecodecs.tiff_encode(planes, photometric="rgb", planarconfig="separate")
    np.testing.assert_array_equal(load_photo(bytes(content)).encoded, codes)


def test_part_is_the_whole_cropped() -> None:
    for profile in (None, lut_profile()):
        photo = load_photo(png(picture(), profile))
        whole = linear_light(photo, 0, 0, photo.width, photo.height)
        np.testing.assert_array_equal(linear_light(photo, 3, 5, 20, 17), whole[5:17, 3:20])


def test_clipping_is_told_by_code_value() -> None:
    codes = np.full((4, 4, 3), 200, dtype=np.uint8)
    codes[1, 2, 1] = 255
    photo = load_photo(png(codes))
    assert np.argwhere(clipped(photo, 0, 0, 4, 4)).tolist() == [[1, 2]]


@pytest.mark.parametrize(
    "profile", [b"not a profile at all", imagecodecs.cms_profile("gray"), lut_profile()[:300]]
)
def test_profiles_that_cannot_be_used_are_refused(profile: bytes) -> None:
    with pytest.raises(PhotoError, match="profile") as refusal:
        load_photo(png(picture(), bytes(profile)))
    assert str(refusal.value).endswith(".")
