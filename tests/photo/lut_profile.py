"""An ICC profile whose table mixes the channels, built by hand for the tests.

Layout: ICC.1:2010 (ISO 15076-1), 7.2 header, 10.10 lut16Type; the legacy 16-bit encoding of
CIELAB, in which L* 100 is 0xFF00 and a*, b* of 0 are 0x8000.
"""

import struct

import numpy as np
from numpy.typing import NDArray

GRID = 9


def table_lab(rgb: NDArray[np.float64]) -> NDArray[np.float64]:
    """The CIELAB that the table states for RGB of 0 to 1: no sum of channels."""
    r, g, b = rgb[..., 0], rgb[..., 1], rgb[..., 2]
    lightness = 100.0 * (0.3 * r + 0.6 * g + 0.1 * b)
    return np.stack([lightness, 60.0 * (r - g) * (0.5 + 0.5 * b), 50.0 * (g - b)], axis=-1)


def lut_profile() -> bytes:
    """The profile: RGB scanner to CIELAB, a table of 9 x 9 x 9."""
    tags = {
        b"desc": _description("mixed channels"),
        b"cprt": b"text" + bytes(4) + b"invented for a test\0",
        b"wtpt": b"XYZ " + bytes(4) + _fixed(0.9642, 1.0, 0.8249),
        b"A2B0": _table(),
    }
    place = 128 + 4 + 12 * len(tags)
    index, body = struct.pack(">I", len(tags)), b""
    for name, content in tags.items():
        padded = content + bytes(-len(content) % 4)
        index += name + struct.pack(">II", place + len(body), len(content))
        body += padded
    size = place + len(body)
    header = struct.pack(">I4sI", size, bytes(4), 0x02400000) + b"scnrRGB Lab "
    header += struct.pack(">6H", 2026, 1, 1, 0, 0, 0) + b"acsp" + bytes(28)
    header += _fixed(0.9642, 1.0, 0.8249)
    return header + bytes(128 - len(header)) + index + body


def _fixed(*values: float) -> bytes:
    return b"".join(struct.pack(">i", round(value * 65536)) for value in values)


def _description(text: str) -> bytes:
    plain = text.encode() + b"\0"
    return b"desc" + bytes(4) + struct.pack(">I", len(plain)) + plain + bytes(8 + 3 + 67)


def _table() -> bytes:
    head = b"mft2" + bytes(4) + bytes([3, 3, GRID, 0]) + _fixed(1, 0, 0, 0, 1, 0, 0, 0, 1)
    ramp = struct.pack(">2H", 0, 65535)
    axis = np.linspace(0.0, 1.0, GRID)
    rgb = np.stack(np.meshgrid(axis, axis, axis, indexing="ij"), axis=-1)
    lab = table_lab(rgb)
    coded = np.stack(
        [lab[..., 0] * 652.80, (lab[..., 1] + 128) * 256, (lab[..., 2] + 128) * 256], axis=-1
    )
    return (
        head
        + struct.pack(">2H", 2, 2)
        + 3 * ramp
        + np.rint(coded).astype(">u2").tobytes()
        + (3 * ramp)
    )
