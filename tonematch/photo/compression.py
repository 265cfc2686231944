"""How coarsely a JPEG keeps its colours, as its tables tell (ITU-T T.81, B.2.2 and B.2.4.1).

HEIC, WebP and AVIF hide their steps in the coded data, where no reader of ours finds them.
"""

from dataclasses import dataclass

from PIL import Image

from tonematch.swatchbook import limits

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
    """

    mean: tuple[float, ...]
    slope: tuple[float, ...]
    shared: int

    @property
    def notes(self) -> tuple[str, ...]:
        """A sentence where it is coarse enough to matter: ``coarse_warned`` in limits.toml."""
        if max(self.mean) < limits("photo")["coarse_warned"]:
            return ()
        return (
            "The file is coarsely compressed, so readings are less sure: give the camera's own "
            "file, or a copy saved at quality 90 or more.",
        )


def compression_of(image: Image.Image) -> Compression | None:
    """The compression of an opened JPEG; None of other files, and where Y, Cb, Cr are not coded."""
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
