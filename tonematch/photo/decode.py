"""A file, or its bytes, becomes a Photo. The original is only read, never written."""

import struct
import warnings
import zlib
from pathlib import Path

from tonematch.errors import PhotoError
from tonematch.photo.core import Photo
from tonematch.photo.on_disk import let_go
from tonematch.photo.raster import read_raster
from tonematch.swatchbook import limits
from tonematch.wholefile import read_whole

SUFFIXES = (
    *("jpg", "jpeg", "jfif", "png", "tif", "tiff", "heic", "heif", "webp", "avif"),
    *("dng", "nef", "cr2", "cr3", "arw", "raf", "orf", "rw2"),
)
"""How names of photographs end, for a page to offer; what a file is, its content tells."""

# What imagecodecs, Pillow, libheif and zlib raise on damaged files; there is no nearer common
# base.
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


def load_photo(source: Path | bytes, name: str | None = None) -> Photo:
    """Decode a photograph, given as a file or its content; messages call it by its name.

    A camera's raw file, a DNG, HEIC, JPEG, PNG, TIFF, WebP or AVIF file in RGB becomes a Photo that
    is upright (turned once, by EXIF orientation or the file's own turning), as encoded, with the
    way to linear light. Its notes tell what the camera is known to have done to it. Raises
    PhotoError where there is no such file, it is no picture, is damaged, has more than the stated
    number of megapixels, moves, or is not RGB.
    """
    if isinstance(source, bytes):
        label, content = name or "The photograph", source
    else:
        label, content = name or source.name, _read(source)
    if not content:
        raise PhotoError(f"{label} is empty: copy the photograph from the camera again.")
    let_go()
    with warnings.catch_warnings():
        # Pillow warns of large pictures and odd metadata; the limits here are our own.
        warnings.simplefilter("ignore")
        try:
            return _decode(label, content)
        except MemoryError as error:
            raise PhotoError(
                f"{label} needs more memory than this machine gives: close other programs, or "
                "crop it to the card and the gilding."
            ) from error
        except _DAMAGE as error:
            raise PhotoError(
                f"{label} is damaged or cut short: copy it from the camera again."
            ) from error


def _decode(label: str, content: bytes) -> Photo:
    """By the kind of file, which its first bytes tell; a JPEG needs neither of two libraries."""
    if not content.startswith((b"\xff\xd8", b"\x89PNG")):
        from tonematch.photo.raw import develop_raw, is_raw

        if is_raw(content):
            return develop_raw(label, content)
        from tonematch.photo.heif import is_heif, read_heif

        if is_heif(content):
            return read_heif(label, content)
    return read_raster(label, content)


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
        return read_whole(path)
    except FileNotFoundError as error:
        raise PhotoError(f"There is no file {path}: check its name and folder.") from error
    except PermissionError as error:
        raise PhotoError(
            f"{path.name} may not be read: ask its owner for permission, or copy it."
        ) from error
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or error
        raise PhotoError(
            f"{path.name or path} cannot be read ({reason}): copy it to this machine."
        ) from error
