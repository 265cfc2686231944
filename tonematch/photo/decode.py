"""A file, or its bytes, becomes a Photo. The original is only read, never written."""

import hashlib
import struct
import warnings
import zlib
from dataclasses import dataclass
from io import BytesIO
from pathlib import Path

import imagecodecs
import numpy as np
from numpy.typing import NDArray
from PIL import ExifTags, Image, UnidentifiedImageError

from tonematch.errors import PhotoError
from tonematch.photo.core import Photo
from tonematch.photo.limits import limits
from tonematch.photo.profile import colour_space, srgb_profile

Codes = NDArray[np.uint8 | np.uint16]

_KINDS = {"JPEG": "JPEG", "MPO": "JPEG", "PNG": "PNG", "TIFF": "TIFF"}
_GREY = {"1", "L", "LA", "La", "I", "F", "I;16", "I;16B", "I;16L", "I;16N"}
_RGB = {"RGB", "RGBA", "RGBX", "RGBa", "P", "PA"}

# What imagecodecs, Pillow and zlib raise on damaged files; there is no nearer common base.
_DAMAGE = (
    OSError,
    EOFError,
    ValueError,
    RuntimeError,
    LookupError,
    SyntaxError,
    TypeError,
    struct.error,
    zlib.error,
)


@dataclass(frozen=True)
class _Header:
    """What a file states about its picture."""

    kind: str
    bits: int
    orientation: int
    icc: bytes | None
    notes: tuple[str, ...]
    metadata: dict[str, str]


def load_photo(source: Path | bytes, name: str | None = None) -> Photo:
    """Decode a photograph.

    Parameters
    ----------
    source : pathlib.Path or bytes
        A JPEG, PNG or TIFF file (8 or 16 bits a channel, RGB), or its content.
    name : str, optional
        What to call it in messages; the file's name unless given.

    Returns
    -------
    Photo
        Upright (EXIF orientation applied), as encoded, with the way to linear light.

    Raises
    ------
    PhotoError
        Where there is no such file, it is no picture, is damaged, has more than the stated
        number of megapixels, moves, or is not RGB.
    """
    if isinstance(source, bytes):
        label, content = name or "The photograph", source
    else:
        label, content = name or source.name, _read(source)
    if not content:
        raise PhotoError(f"{label} is empty: copy the photograph from the camera again.")
    with warnings.catch_warnings():
        # Pillow warns of large pictures and odd metadata; the limits here are our own.
        warnings.simplefilter("ignore")
        try:
            with _open(label, content) as image:
                stated = _read_header(label, image, content)
                codes = _decode(label, image, stated, content)
        except _DAMAGE as error:
            raise PhotoError(
                f"{label} is damaged or cut short: copy it from the camera again."
            ) from error
    space = colour_space(stated.icc or srgb_profile(), 2**stated.bits)
    return Photo(
        name=label,
        sha256=hashlib.sha256(content).hexdigest(),
        encoded=_turn(codes, stated.orientation),
        decoders=space.decoders,
        to_xyz=space.to_xyz,
        space=space.name if stated.icc else "sRGB (assumed)",
        lut=space.lut,
        notes=stated.notes,
        metadata=stated.metadata,
    )


def _read(path: Path) -> bytes:
    try:
        if path.is_dir():
            raise PhotoError(f"{path.name or path} is a folder: name a photograph in it.")
        size = path.stat().st_size
        if size > limits("photo")["most_bytes"]:
            raise PhotoError(
                f"{path.name} is a file of {size / 1e9:.1f} GB, which is more than a photograph "
                "can be: check that it is the right file."
            )
        return path.read_bytes()
    except FileNotFoundError as error:
        raise PhotoError(f"There is no file {path}: check its name and folder.") from error
    except PermissionError as error:
        raise PhotoError(
            f"{path.name} may not be read: ask its owner for permission, or copy it."
        ) from error
    except (OSError, ValueError) as error:
        raise PhotoError(f"{path.name or path} cannot be read: copy it to this machine.") from error


def _open(label: str, content: bytes) -> Image.Image:
    try:
        return Image.open(BytesIO(content))
    except Image.DecompressionBombError as error:
        raise PhotoError(_too_large(label)) from error
    except UnidentifiedImageError as error:
        raise PhotoError(
            f"{label} is not a picture that can be read: give a JPEG, PNG or TIFF file "
            "with 8 or 16 bits a channel."
        ) from error


def _too_large(label: str) -> str:
    most = limits("photo")["most_megapixels"]
    return (
        f"{label} has more than {most:.0f} megapixels: "
        "crop it to the card and the gilding, without scaling or editing."
    )


def _read_header(label: str, image: Image.Image, content: bytes) -> _Header:
    kind = _check_header(label, image, content)
    exif = image.getexif()
    icc = image.info.get("icc_profile")
    return _Header(
        kind=kind,
        bits=_bits(label, image, kind, content),
        orientation=int(exif.get(ExifTags.Base.Orientation, 1) or 1),
        icc=icc,
        notes=_notes(image, icc),
        metadata=_metadata(exif),
    )


def _check_header(label: str, image: Image.Image, content: bytes) -> str:
    """Refuse by what the header says, before anything is decoded; name the kind of file."""
    if image.format not in _KINDS:
        raise PhotoError(
            f"{label} is a {image.format} file: give the camera's own JPEG, or a PNG or TIFF."
        )
    kind = _KINDS[image.format]
    if image.width * image.height > limits("photo")["most_megapixels"] * 1e6:
        raise PhotoError(_too_large(label))
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


def _decode(label: str, image: Image.Image, stated: _Header, content: bytes) -> Codes:
    """Code values, shape (H, W, 3), before any turning."""
    if stated.kind == "JPEG":
        codes = imagecodecs.jpeg8_decode(content)
    elif stated.kind == "PNG" and stated.bits == 16:
        codes = imagecodecs.png_decode(content)
    elif stated.kind == "TIFF" and _plain_rgb(image):
        codes = imagecodecs.tiff_decode(content, index=0)
    else:
        codes = np.asarray(image.convert("RGB"))
    return _three_channels(label, codes, image, stated.bits)


def _plain_rgb(image: Image.Image) -> bool:
    """Whether a TIFF's pixels are RGB inside; YCbCr and palettes are left to Pillow."""
    return int(image.tag_v2.get(262, 2)) == 2  # type: ignore[attr-defined]


def _three_channels(label: str, codes: Codes, image: Image.Image, bits: int) -> Codes:
    if codes.ndim == 3 and codes.shape[0] in (3, 4) and codes.shape[1:] == image.size[::-1]:
        codes = np.transpose(codes, (1, 2, 0))  # planes one after the other
    wanted = np.uint16 if bits == 16 else np.uint8
    if codes.ndim != 3 or codes.shape[2] < 3 or codes.dtype != wanted:
        raise PhotoError(f"{label} is stored in an unusual way: save it as a plain RGB TIFF.")
    return codes[..., :3]


def _turn(codes: Codes, orientation: int) -> Codes:
    """Upright picture by EXIF orientation 1 to 8 (CIPA DC-008, tag 274)."""
    across, down = orientation in (2, 3, 6, 7), orientation in (3, 4, 7, 8)
    turned = np.transpose(codes, (1, 0, 2)) if orientation in (5, 6, 7, 8) else codes
    return turned[:: -1 if down else 1, :: -1 if across else 1]


def _notes(image: Image.Image, icc: bytes | None) -> tuple[str, ...]:
    notes = []
    if not icc:
        notes.append("The file carries no colour profile: it is read as sRGB.")
        if "gamma" in image.info and "srgb" not in image.info:
            notes.append(
                f"The file states a gamma of {1 / image.info['gamma']:.2f}, which is not used."
            )
    if image.mode in ("RGBA", "RGBa", "PA") or "transparency" in image.info:
        notes.append("The transparency of the picture is ignored.")
    if image.mode in ("P", "PA"):
        notes.append("The picture has 256 colours at most: read the camera's own file instead.")
    return tuple(notes)


def _metadata(exif: Image.Exif) -> dict[str, str]:
    """Camera, lens, date and exposure as the file states them."""
    inner = exif.get_ifd(ExifTags.IFD.Exif)
    stated = {
        "make": exif.get(ExifTags.Base.Make),
        "model": exif.get(ExifTags.Base.Model),
        "software": exif.get(ExifTags.Base.Software),
        "lens": inner.get(ExifTags.Base.LensModel),
        "date": inner.get(ExifTags.Base.DateTimeOriginal) or exif.get(ExifTags.Base.DateTime),
        "exposure time": inner.get(ExifTags.Base.ExposureTime),
        "f-number": inner.get(ExifTags.Base.FNumber),
        "iso": inner.get(ExifTags.Base.ISOSpeedRatings),
    }
    return {
        key: str(value).strip("\x00 ") for key, value in stated.items() if value not in (None, "")
    }
