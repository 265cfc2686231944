"""JPEG, PNG, TIFF, WebP and AVIF files, through Pillow and imagecodecs."""

from collections.abc import Callable
from dataclasses import replace
from functools import partial
from io import BytesIO

import imagecodecs
import numpy as np
from numpy.typing import NDArray
from PIL import ExifTags, Image, UnidentifiedImageError

from tonematch.errors import PhotoError
from tonematch.photo.compression import compression_of
from tonematch.photo.core import Encoded, Photo
from tonematch.photo.decoded import NO_PROFILE, check_size, decoded, too_large
from tonematch.photo.metadata import camera_metadata, past_of
from tonematch.photo.nclx import nclx_of
from tonematch.photo.profile import colour_space, srgb_profile

Codes = NDArray[np.uint8 | np.uint16]

_KINDS = {"MPO": "JPEG"} | {kind: kind for kind in ("JPEG", "PNG", "TIFF", "WEBP", "AVIF")}
_GREY = {"1", "L", "LA", "La", "I", "F", "I;16", "I;16B", "I;16L", "I;16N"}
_HEADER = 65_536
_RGB = {"RGB", "RGBA", "RGBX", "RGBa", "P", "PA"}


def read_raster(label: str, content: bytes) -> Photo:
    """Decode a JPEG, PNG, TIFF, WebP or AVIF file, called `label` in messages.

    Raises PhotoError where it is no picture, too large, moves, or is not RGB. Damage raises what
    Pillow and imagecodecs raise.
    """
    with _open(label, content) as image:
        kind = _check_header(label, image, content)
        if kind == "PNG" and "Raw profile type exif" not in image.info:
            for name, said in _told_beside_pixels(content).items():
                image.info.setdefault(name, said)
        exif, bits = image.getexif(), _bits(label, image, kind, content)
        icc = image.info.get("icc_profile") or (nclx_of(content) if kind == "AVIF" else None)
        compression = compression_of(image, content)
        notes = _notes(image, icc) + _past(image, exif, content, icc is not None)
        orientation = int(exif.get(ExifTags.Base.Orientation, 1) or 1)
        metadata = camera_metadata(exif)
        decoder = _decoder(image, kind)
        codes = np.asarray(image.convert("RGB")) if decoder is None else decoder(content)
        codes = _three_channels(label, codes, image, bits)
    space = colour_space(icc or srgb_profile(), 2**bits)
    return decoded(
        label,
        content,
        turned(codes, orientation),
        space if icc else replace(space, name="sRGB (assumed)"),
        notes if compression is None else notes + compression.notes,
        metadata,
        compression,
    )


def _open(label: str, content: bytes) -> Image.Image:
    try:
        return Image.open(BytesIO(content))
    except Image.DecompressionBombError as error:
        raise PhotoError(too_large(label)) from error
    except UnidentifiedImageError as error:
        raise PhotoError(
            f"{label} is not a picture that can be read: give the camera's own file (raw, DNG, "
            "HEIC or JPEG), or a PNG or TIFF."
        ) from error


def _check_header(label: str, image: Image.Image, content: bytes) -> str:
    """Refuse by what the header says, before anything is decoded; name the kind of file."""
    if image.format not in _KINDS:
        raise PhotoError(
            f"{label} is a {image.format} file: give the camera's own raw, HEIC or JPEG file, or a "
            "PNG or TIFF."
        )
    kind = _KINDS[image.format]
    way = "webp" if kind == "WEBP" else f"{_bits(label, image, kind, content)}_bits"
    way = way if _decoder(image, kind) else "by_pillow"
    check_size(label, content, image.width, image.height, way)
    if kind != "JPEG" and _further_pictures(image):
        raise PhotoError(
            f"{label} holds several pictures or moves: save the one that counts as a file."
        )
    if image.mode in _GREY:
        raise PhotoError(f"{label} is greyscale: take the photograph in colour.")
    if image.mode == "CMYK":
        raise PhotoError(
            f"{label} is in CMYK, for printing: use the camera's own RGB file instead."
        )
    if image.mode not in _RGB:
        raise PhotoError(f"{label} is not RGB but {image.mode}: save it as an RGB file.")
    if kind == "JPEG" and not _jpeg_complete(content):
        raise EOFError
    return kind


def _told_beside_pixels(content: bytes) -> dict[str, bytes]:
    """What a PNG tells of its camera and its past, wherever it stands (PNG, third edition, 5.3).

    Pillow would decode all of the picture to look for a block after the pixels.
    """
    told, at = {"exif": b""}, 8
    while at + 12 <= len(content):
        length, name = int.from_bytes(content[at : at + 4], "big"), content[at + 4 : at + 8]
        data = content[at + 8 : at + 8 + length] if name in (b"eXIf", b"iTXt") else b""
        if name == b"eXIf":
            told["exif"] = data
        elif data.startswith(b"XML:com.adobe.xmp\0"):
            told["xmp"] = data
        at += 12 + length
    return told


def _further_pictures(image: Image.Image) -> bool:
    """Whether a PNG moves, or a TIFF holds more full pictures than one (thumbnails may be)."""
    frames = int(getattr(image, "n_frames", 1))
    if image.format != "TIFF" or frames == 1:
        return frames > 1
    full = 0
    for index in range(frames):
        image.seek(index)
        full += not image.tag_v2.get(254, 0) & 1  # type: ignore[attr-defined]
    image.seek(0)
    return full > 1


def _jpeg_complete(content: bytes) -> bool:
    """Whether a JPEG's scan data end with the end-of-image marker (ITU-T T.81, annex B).

    The decoder fills what is missing with grey and says nothing, so this is looked at first.
    Segments are stepped over, since an embedded preview has end markers of its own.
    """
    at = 2
    while at + 4 <= len(content):
        if content[at] != 0xFF:
            return False
        marker = content[at + 1]
        if marker == 0xFF:
            at += 1
        elif marker == 0xDA:
            return content.find(b"\xff\xd9", at) > 0
        else:
            at += 2 + int.from_bytes(content[at + 2 : at + 4], "big")
    return False


def _bits(label: str, image: Image.Image, kind: str, content: bytes) -> int:
    """Bits a channel: 8 or 16."""
    if kind == "PNG":
        bits = content[24]  # IHDR, PNG specification (ISO/IEC 15948), 11.2.2
        return 16 if bits == 16 else 8
    if kind == "TIFF":
        stated = set(image.tag_v2.get(258, (8,)))  # type: ignore[attr-defined]
        if stated not in ({8}, {16}):
            raise PhotoError(f"{label} has {max(stated)} bits a channel: save it with 8 or 16.")
        return int(stated.pop())
    return 8


def _decoder(image: Image.Image, kind: str) -> Callable[[bytes], Codes] | None:
    """What decodes a file straight to RGB; None leaves it to Pillow, at thrice the memory."""
    if kind == "TIFF":
        plain = int(image.tag_v2.get(262, 2)) == 2  # type: ignore[attr-defined]
        return partial(imagecodecs.tiff_decode, index=0) if plain else None
    if image.mode in ("P", "PA"):
        return None
    return {
        "JPEG": imagecodecs.jpeg8_decode,
        "PNG": imagecodecs.png_decode,
        "WEBP": imagecodecs.webp_decode,
    }.get(kind)


def _three_channels(label: str, codes: Codes, image: Image.Image, bits: int) -> Codes:
    if codes.ndim == 3 and codes.shape[0] in (3, 4) and codes.shape[1:] == image.size[::-1]:
        codes = np.transpose(codes, (1, 2, 0))  # planes one after the other
    wanted = np.uint16 if bits == 16 else np.uint8
    if codes.ndim != 3 or codes.shape[2] < 3 or codes.dtype != wanted:
        raise PhotoError(f"{label} is stored in an unusual way: save it as a plain RGB TIFF.")
    return codes[..., :3]


def turned(codes: Encoded, orientation: int) -> Encoded:
    """Upright picture by EXIF orientation 1 to 8 (CIPA DC-008, tag 274)."""
    across, down = orientation in (2, 3, 6, 7), orientation in (3, 4, 7, 8)
    laid = np.transpose(codes, (1, 0, 2)) if orientation in (5, 6, 7, 8) else codes
    return laid[:: -1 if down else 1, :: -1 if across else 1]


def _notes(image: Image.Image, icc: bytes | None) -> tuple[str, ...]:
    notes = []
    if not icc:
        notes.append(NO_PROFILE)
        if "gamma" in image.info and "srgb" not in image.info:
            notes.append(
                f"The file states a gamma of {1 / image.info['gamma']:.2f}, which is not used."
            )
    if image.mode in ("RGBA", "RGBa", "PA") or "transparency" in image.info:
        notes.append("The transparency of the picture is ignored.")
    if image.mode in ("P", "PA"):
        notes.append("The picture has 256 colours at most: read the camera's own file instead.")
    return tuple(notes)


def _past(image: Image.Image, exif: Image.Exif, content: bytes, profiled: bool) -> tuple[str, ...]:
    """What was done to the picture: from its XMP, its EXIF block and its first segments."""
    stated = image.info.get("xmp") or image.info.get("XML:com.adobe.xmp") or b""
    xmp = stated if isinstance(stated, bytes) else str(stated).encode()
    several = image.format == "MPO" and int(getattr(image, "n_frames", 1)) > 1
    return past_of(exif, xmp + content[:_HEADER], several, profiled)
