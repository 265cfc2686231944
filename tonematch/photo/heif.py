"""HEIC and HEIF files, as telephones write them, through libheif.

libheif applies the file's own turning and mirroring; the EXIF orientation repeats it and is
passed over (ISO/IEC 23008-12, 6.5.10). An ICC profile goes before the 'nclx' numbers.
"""

from typing import Any

import numpy as np
import pillow_heif
from PIL import Image

from tonematch.errors import PhotoError
from tonematch.photo.compression import assumed_compression
from tonematch.photo.core import Photo
from tonematch.photo.decoded import NO_PROFILE, check_size, decoded
from tonematch.photo.metadata import camera_metadata, past_of
from tonematch.photo.nclx import nclx_profile
from tonematch.photo.profile import colour_space, srgb_profile


def is_heif(content: bytes) -> bool:
    """Whether a file is HEIC or HEIF (by its brand, ISO/IEC 14496-12, 4.3), AVIF apart."""
    brand = content[8:12]
    return content[4:8] == b"ftyp" and brand in (
        b"heic", b"heix", b"heim", b"heis", b"hevc", b"hevx", b"mif1", b"msf1",
    )  # fmt: skip


def read_heif(label: str, content: bytes) -> Photo:
    """Decode the main picture of a HEIC or HEIF file, called `label` in messages.

    8 or 16 bits a channel; 10 and 12 bits are spread over 16. Raises PhotoError where it is too
    large, greyscale, or coded for high dynamic range; damage raises what libheif raises.
    """
    opened = pillow_heif.open_heif(content, convert_hdr_to_8bit=False)
    picture = opened[opened.primary_index]
    check_size(label, content, *picture.size, "heif")
    stated: dict[str, Any] = picture.info
    if picture.mode.startswith("L"):
        raise PhotoError(f"{label} is greyscale: take the photograph in colour.")
    icc, numbers = stated.get("icc_profile"), stated.get("nclx_profile")
    notes: list[str] = []
    if not icc and numbers:
        icc = nclx_profile(numbers["color_primaries"], numbers["transfer_characteristics"])
    if not icc:
        notes.append(NO_PROFILE)
    codes = np.array(picture)[:, : picture.size[0], :3]  # rows may be padded
    exif = Image.Exif()
    exif.load(stated.get("exif") or b"")
    marks = (stated.get("xmp") or b"") + " ".join(map(str, stated.get("aux") or {})).encode()
    several = bool(stated.get("depth_images")) or len(opened) > 1
    notes += past_of(exif, marks, several, bool(icc))
    space = colour_space(icc or srgb_profile(), 2 ** (8 * codes.dtype.itemsize))
    known = camera_metadata(exif)
    lost = assumed_compression(content)
    return decoded(label, content, codes, space, tuple(notes), known, lost)
