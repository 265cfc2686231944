"""What a file of any kind decodes to, and the size that is refused before it is decoded."""

from collections.abc import Mapping
from dataclasses import dataclass

from tonematch.errors import PhotoError
from tonematch.photo.compression import Compression
from tonematch.photo.core import Encoded
from tonematch.photo.profile import ColourSpace
from tonematch.swatchbook import limits

NO_PROFILE = (
    "The file does not say how its colours are meant and is read as sRGB: give the camera's own "
    "file where you can."
)


@dataclass(frozen=True, eq=False)
class Decoded:
    """A file's picture before it has a name and a content hash.

    Upright code values (H, W, 3), and how they become linear light and XYZ.
    """

    encoded: Encoded
    space: ColourSpace
    notes: tuple[str, ...]
    metadata: Mapping[str, str]
    compression: Compression | None = None


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
