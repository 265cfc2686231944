"""A file of any kind as a Photo, and the size that is refused before it is decoded."""

import hashlib
from collections.abc import Mapping

from tonematch.errors import PhotoError
from tonematch.photo.compression import Compression
from tonematch.photo.core import Encoded, Photo
from tonematch.photo.on_disk import on_disk
from tonematch.photo.profile import ColourSpace
from tonematch.swatchbook import limits

NO_PROFILE = (
    "The file does not say how its colours are meant and is read as sRGB: give the camera's own "
    "file where you can."
)


def decoded(
    label: str,
    content: bytes,
    encoded: Encoded,
    space: ColourSpace,
    notes: tuple[str, ...],
    metadata: Mapping[str, str],
    compression: Compression | None = None,
) -> Photo:
    """A file's content as it was decoded: upright code values (H, W, 3), and what they mean."""
    return Photo(
        name=label,
        sha256=hashlib.sha256(content).hexdigest(),
        encoded=on_disk(encoded),
        decoders=space.decoders,
        to_xyz=space.to_xyz,
        space=space.name,
        lut=space.lut,
        compression=compression,
        notes=notes,
        metadata=metadata,
    )


def check_size(label: str, content: bytes, width: int, height: int, way: str) -> None:
    """Refuse a picture of more pixels than a small machine can hold (PhotoError).

    Width and height are as its header states them; `way` is how it will be decoded, a name in
    ``swatches/limits.toml``, [decoding].
    """
    limit = limits("photo")
    if width * height > limit["most_megapixels"] * 1e6:
        raise PhotoError(too_large(label))
    each = limits("decoding")[way]
    if 2 * len(content) + width * height * each > limit["most_memory"]:
        raise PhotoError(
            f"{label} has {width * height / 1e6:.0f} megapixels, which in a file of this kind need "
            "more memory than a small machine has: crop it to the card and the gilding, without "
            "scaling or editing."
        )


def too_large(label: str) -> str:
    """The sentence for a picture of too many pixels."""
    most = limits("photo")["most_megapixels"]
    return (
        f"{label} has more than {most:.0f} megapixels: "
        "crop it to the card and the gilding, without scaling or editing."
    )
