"""The Photo that every room below works on."""

from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from tonematch.arrays import Matrix3
from tonematch.photo.compression import Compression

# Name of the space of raw files: the sensor's own channels.
SENSOR = "linear camera RGB"

FloatPicture = NDArray[np.float32]
Encoded = NDArray[np.uint8 | np.uint16 | np.float32]


@dataclass(frozen=True, eq=False)
class Photo:
    """An upright picture that can be read as linear light in a known RGB space.

    Decoding to linear light is done for the part that is asked for, since a reading needs a
    few thousand pixels of the millions that a phone takes.

    Attributes
    ----------
    name : str
        File name, for messages.
    sha256 : str
        Content hash of the original bytes, 64 hex digits.
    encoded : ndarray, shape (H, W, 3), uint8, uint16 or float32
        The upright picture as the file encodes it.
    decoders : tuple of three ndarray, shape (levels,), or None
        Linear light for each code value, one table per channel; None where `encoded` is
        linear already (float32), and where `lut` is to be used.
    to_xyz : ndarray, shape (3, 3)
        Linear RGB to CIE XYZ (D50, 2 degree, Y of white 1).
    space : str
        Name of the RGB space, for the record.
    lut : bytes or None
        An ICC profile that no matrix can stand for: `encoded` goes through it to linear ROMM
        RGB, for which `to_xyz` is.
    compression : Compression or None
        How coarsely the file keeps its colours; None where nothing is lost, or it is not known.
    notes : tuple of str
        What the person should know (no profile: sRGB assumed; ...), one sentence each.
    metadata : mapping of str to str
        Camera, lens, date, exposure as the file states them.
    """

    name: str
    sha256: str
    encoded: Encoded
    decoders: tuple[NDArray[np.float32], ...] | None
    to_xyz: Matrix3
    space: str
    lut: bytes | None = None
    compression: Compression | None = None
    notes: tuple[str, ...] = ()
    metadata: Mapping[str, str] = field(default_factory=dict)

    @property
    def width(self) -> int:
        """Pixels across."""
        return int(self.encoded.shape[1])

    @property
    def height(self) -> int:
        """Pixels down."""
        return int(self.encoded.shape[0])
