"""How coarsely a file keeps its colours.

A JPEG's tables tell (ITU-T T.81, B.2.2 and B.2.4.1), and a lossy WebP's header (`photo.vp8`). HEIC
and AVIF state how chroma is sampled alone (ISO/IEC 14496-15, 8.3.3; AV1-ISOBMFF, 2.3.3): their
steps are assumed, wide.
"""

from collections.abc import Iterator
from dataclasses import dataclass

from PIL import Image

from tonematch.photo.vp8 import vp8_steps
from tonematch.swatchbook import limits, swatch_table

# A coefficient of T.81 is eight times a mean over the block (A.3.3).
_PER_MEAN = 8.0


@dataclass(frozen=True)
class Compression:
    """Steps to which the colours of blocks of 8 by 8 samples are rounded.

    Attributes
    ----------
    mean : tuple of float
        Of a block's mean of Y, Cb and Cr (ITU-T T.871), in code values of 255.
    slope : tuple of float
        The same of its lowest wave across or down: the greater of the two, the wave's amplitude
        being root of 2 times as large.
    shared : int
        Pixels for one sample of Cb and Cr: 1 at 4:4:4, 4 at 4:2:0.
    assumed : bool
        Whether the file does not tell its steps.
    """

    mean: tuple[float, ...]
    slope: tuple[float, ...]
    shared: int
    assumed: bool = False

    @property
    def notes(self) -> tuple[str, ...]:
        """A sentence where it is coarse enough to matter: ``coarse_warned`` in limits.toml."""
        if self.assumed or max(self.mean) < limits("photo")["coarse_warned"]:
            return ()
        return (
            "The file is coarsely compressed, so readings are less sure: give the camera's own "
            "file, or a copy saved at quality 90 or more.",
        )


def compression_of(image: Image.Image, content: bytes) -> Compression | None:
    """The compression of an opened file; None where nothing is lost."""
    if image.format == "WEBP":
        return _of_webp(content)
    return _of_jpeg(image) if image.format in ("JPEG", "MPO") else assumed_compression(content)


def assumed_compression(content: bytes) -> Compression | None:
    """That of a HEIC or AVIF file, whose steps nobody knows; None of other files."""
    shared = max(map(_shared_by, _boxes(content)), default=0)
    assumed = swatch_table("codecs.toml")["assumed"]
    return (
        Compression(tuple(assumed["mean"]), tuple(assumed["wave"]), shared, assumed=True)
        if shared
        else None
    )


def _boxes(content: bytes) -> Iterator[bytes]:
    """What configures the decoder, of the picture and of those beside it, from its name on."""
    for name in (b"hvcC", b"av1C"):
        at = content.find(name)
        while at >= 0:
            yield content[at : at + 24]
            at = content.find(name, at + 4)


def _shared_by(box: bytes) -> int:
    """Pixels for one sample of chroma; 0 of a picture without colour, such as a map of depth."""
    if len(box) < 24:
        return 0
    if box.startswith(b"hvcC"):
        return (0, 4, 2, 1)[box[20] & 3]  # chroma_format_idc, ITU-T H.265, table 6-1
    monochrome, across, down = (box[6] >> bit & 1 for bit in (4, 3, 2))
    return 0 if monochrome else 2 ** (across + down)


def _of_webp(content: bytes) -> Compression | None:
    steps = vp8_steps(content)
    if steps is None:  # VP8L, which loses nothing
        return None
    # Its blocks have 4 by 4 samples, of which four make one of 8 by 8, and what one is off by the
    # next makes good in part, as the table of the tests shows; their light spans 219 of 255.
    mean, wave, chroma_mean, chroma_wave = (255 / 219 * step / _PER_MEAN for step in steps)
    means, waves = (mean, chroma_mean, chroma_mean), (wave, chroma_wave, chroma_wave)
    return Compression(tuple(step / 4.0 for step in means), waves, 4)


def _of_jpeg(image: Image.Image) -> Compression | None:
    """None where Y, Cb, Cr are not coded."""
    layers = getattr(image, "layer", ())
    tables = getattr(image, "quantization", {})
    if image.mode != "RGB" or len(layers) != 3 or image.info.get("adobe_transform") == 0:
        return None
    steps = [tables[table] for _, _, _, table in layers]
    samples = [across * down for _, across, down, _ in layers]
    if not all(samples) or not all(table[0] for table in steps):  # a broken header
        return None
    means, slopes = (
        [max(table[k] for k in which) / _PER_MEAN for table in steps] for which in ((0,), (1, 8))
    )
    return Compression(tuple(means), tuple(slopes), max(samples) // samples[1])
