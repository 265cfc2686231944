"""Files that cannot carry a reading: one sentence each, and the original untouched."""

import os
import struct
import zlib
from collections.abc import Callable
from io import BytesIO
from pathlib import Path

import imagecodecs
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.typing import NDArray
from PIL import Image

from tests.cases import shared_by
from tests.photo.dng_file import dng_file
from tests.photo.heic_file import heic_file
from tonematch.errors import PhotoError
from tonematch.photo.decode import load_photo


def saved(kind: str, mode: str = "RGB", **options: object) -> bytes:
    codes = np.random.default_rng(5).integers(0, 256, (60, 80, 3), dtype=np.uint8)
    file = BytesIO()
    Image.fromarray(codes).convert(mode).save(file, format=kind, **options)
    return file.getvalue()


def moving(kind: str) -> bytes:
    frames = [Image.new("RGB", (20, 20), (k * 80, 10, 10)) for k in range(3)]
    file = BytesIO()
    frames[0].save(file, format=kind, save_all=True, append_images=frames[1:])
    return file.getvalue()


def vast() -> bytes:
    """A PNG whose header states 20000 by 20000 pixels, and which holds none."""
    header = b"IHDR" + struct.pack(">IIBBBBB", 20000, 20000, 8, 2, 0, 0, 0)
    content = b"IDAT" + zlib.compress(b"")
    return b"\x89PNG\r\n\x1a\n" + b"".join(
        struct.pack(">I", len(part) - 4) + part + struct.pack(">I", zlib.crc32(part))
        for part in (header, content, b"IEND")
    )


def vast_tiff() -> bytes:
    """A TIFF whose first directory states 80 by 16777336 pixels."""
    height = struct.pack("<HHI", 257, 4, 1)  # ImageLength, LONG, one value (TIFF 6.0)
    content = saved("TIFF")
    at = content.index(height) + len(height)
    return content[:at] + struct.pack("<I", 16_777_336) + content[at + 4 :]


def heic() -> bytes:
    noise = np.random.default_rng(5).integers(0, 256, (60, 80, 3), dtype=np.uint8)
    return heic_file(noise)


def dng() -> bytes:
    return dng_file(np.full((120, 160, 3), 0.2))


def floats() -> bytes:
    return bytes(imagecodecs.tiff_encode(np.zeros((8, 8, 3), dtype=np.float32), photometric="rgb"))


def noise16() -> NDArray[np.uint16]:
    return np.random.default_rng(6).integers(0, 65536, (30, 40, 3), dtype=np.uint16)


JPEG = saved("JPEG")
BAD: dict[str, tuple[Callable[[], bytes], str]] = {
    "empty": (lambda: b"", "is empty"),
    "text": (lambda: b"this is no picture\n" * 50, "not a picture"),
    "zeros": (lambda: bytes(5000), "not a picture"),
    "truncated JPEG": (lambda: JPEG[: len(JPEG) // 2], "damaged"),
    "JPEG header only": (lambda: JPEG[:200], "damaged|not a picture"),
    "truncated PNG": (lambda: saved("PNG")[:-4000], "damaged"),
    "truncated TIFF": (lambda: saved("TIFF")[:-4000], "damaged"),
    "truncated 16-bit PNG": (
        lambda: bytes(imagecodecs.png_encode(noise16()))[:-700],
        "damaged",
    ),
    "enormous": (vast, "more than 150 megapixels"),
    "enormous TIFF": (vast_tiff, "more than 150 megapixels"),
    "animated PNG": (lambda: moving("PNG"), "several pictures or moves"),
    "TIFF of many pages": (lambda: moving("TIFF"), "several pictures or moves"),
    "animated GIF": (lambda: moving("GIF"), "GIF file"),
    "animated WebP": (lambda: moving("WEBP"), "several pictures or moves"),
    "truncated HEIC": (lambda: heic()[:-300], "damaged"),
    "HEIC header only": (lambda: heic()[:200], "damaged"),
    "truncated DNG": (lambda: dng()[:-20_000], "damaged|cut short"),
    "CMYK JPEG": (lambda: saved("JPEG", "CMYK"), "CMYK"),
    "CMYK TIFF": (lambda: saved("TIFF", "CMYK"), "CMYK"),
    "grey JPEG": (lambda: saved("JPEG", "L"), "greyscale"),
    "grey PNG": (lambda: saved("PNG", "L"), "greyscale"),
    "grey 16-bit PNG": (lambda: saved("PNG", "I;16"), "greyscale"),
    "black and white TIFF": (lambda: saved("TIFF", "1"), "greyscale"),
    "CIELAB TIFF": (lambda: saved("TIFF", "LAB"), "not RGB"),
    "floating-point TIFF": (floats, "not a picture|bits a channel"),
}


def assert_one_sentence(refusal: PhotoError) -> None:
    text = str(refusal)
    assert text.endswith(".")
    assert "\n" not in text
    assert len(text) < 200


@pytest.mark.parametrize("case", BAD)
def test_refused_by_one_sentence(case: str, tmp_path: Path) -> None:
    make, says = BAD[case]
    path = tmp_path / "piece.jpg"
    content = make()
    path.write_bytes(content)
    with pytest.raises(PhotoError, match=says) as refusal:
        load_photo(path)
    assert_one_sentence(refusal.value)
    assert "piece.jpg" in str(refusal.value)
    assert path.read_bytes() == content


def test_missing_file_and_folder(tmp_path: Path) -> None:
    for path, says in ((tmp_path / "none.jpg", "no file"), (tmp_path, "folder")):
        with pytest.raises(PhotoError, match=says) as refusal:
            load_photo(path)
        assert_one_sentence(refusal.value)


@pytest.mark.skipif(os.geteuid() == 0, reason="the administrator may read every file")
def test_unreadable_file(tmp_path: Path) -> None:
    path = tmp_path / "locked.jpg"
    path.write_bytes(JPEG)
    path.chmod(0)
    with pytest.raises(PhotoError, match="may not be read"):
        load_photo(path)


def test_permission_error_becomes_a_sentence(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = tmp_path / "locked.jpg"
    path.write_bytes(JPEG)

    def refuse(*_: object) -> None:
        raise PermissionError

    monkeypatch.setattr(Path, "open", refuse)
    with pytest.raises(PhotoError, match=r"locked\.jpg may not be read"):
        load_photo(path)


@pytest.mark.parametrize("mode", ["RGBA", "P"])
def test_transparency_and_palette_are_noted(mode: str) -> None:
    photo = load_photo(saved("PNG", mode))
    assert photo.encoded.shape == (60, 80, 3)
    assert any(word in " ".join(photo.notes) for word in ("transparency", "256 colours"))


def test_thumbnail_page_of_a_tiff_is_no_second_picture() -> None:
    file = BytesIO()
    small = Image.new("RGB", (10, 10))
    small.encoderinfo = {"tiffinfo": {254: 1}}
    Image.new("RGB", (40, 30), (9, 8, 7)).save(
        file, format="TIFF", save_all=True, append_images=[small]
    )
    assert load_photo(file.getvalue()).encoded.shape == (30, 40, 3)


def test_original_is_never_altered(tmp_path: Path) -> None:
    path = tmp_path / "piece.jpg"
    path.write_bytes(JPEG)
    before = path.stat().st_mtime_ns
    assert load_photo(path).name == "piece.jpg"
    assert path.read_bytes() == JPEG
    assert path.stat().st_mtime_ns == before


@pytest.mark.parametrize("kind", ["JPEG", "PNG", "TIFF", "WEBP", "HEIC", "DNG"])
@pytest.mark.parametrize("cut", [True, False])
@shared_by(12)
@given(place=st.floats(0, 1, exclude_max=True), junk=st.binary(min_size=1, max_size=12))
def test_damage_anywhere_is_a_sentence_or_a_picture(
    kind: str, place: float, junk: bytes, cut: bool
) -> None:
    made = {"HEIC": heic, "DNG": dng}
    content = made[kind]() if kind in made else saved(kind)
    at = int(place * len(content))
    damaged = content[:at] if cut else content[:at] + junk + content[at + len(junk) :]
    try:
        photo = load_photo(damaged)
    except PhotoError as refusal:
        assert_one_sentence(refusal)
    else:
        assert photo.encoded.ndim == 3
