"""A DNG of known linear values for the tests: a TIFF/EP file with a colour filter mosaic.

Tags: DNG specification 1.4 and TIFF/EP (ISO 12234-2).
"""

import struct

import numpy as np
from numpy.typing import NDArray

BLACK, WHITE = 512, 15_000
# XYZ D65 to camera: any regular matrix does; this one is invented.
COLOUR_MATRIX = ((0.90, -0.25, -0.10), (-0.45, 1.30, 0.15), (-0.08, 0.20, 0.60))
AS_SHOT_NEUTRAL = (0.5, 1.0, 0.625)

_BYTE, _ASCII, _SHORT, _LONG, _RATIONAL, _SRATIONAL = 1, 2, 3, 4, 5, 10
_PACK = {_BYTE: "B", _SHORT: "H", _LONG: "I", _RATIONAL: "II", _SRATIONAL: "ii"}


def dng_file(
    light: NDArray[np.float64], orientation: int = 1, composite: int | None = None
) -> bytes:
    """A DNG.

    Parameters
    ----------
    light : ndarray, shape (h, w, 3)
        Linear camera RGB, 0 at the black level and 1 at the white level; even h and w.
    orientation : int
        EXIF orientation, 1 to 8.
    composite : int, optional
        EXIF's CompositeImage.
    """
    raw = np.rint(BLACK + (WHITE - BLACK) * np.clip(light, 0, 1)).astype("<u2")
    mosaic = raw[..., 1].copy()
    mosaic[0::2, 0::2] = raw[0::2, 0::2, 0]
    mosaic[1::2, 1::2] = raw[1::2, 1::2, 2]
    h, w = mosaic.shape
    matrix = [part for row in COLOUR_MATRIX for value in row for part in _fraction(value)]
    neutral = [part for value in AS_SHOT_NEUTRAL for part in _fraction(value)]
    entries: list[tuple[int, int, list[int] | bytes]] = [
        (254, _LONG, [0]),
        (256, _LONG, [w]),
        (257, _LONG, [h]),
        (258, _SHORT, [16]),
        (259, _SHORT, [1]),
        (262, _SHORT, [32803]),  # colour filter array
        (271, _ASCII, b"invented\0"),
        (272, _ASCII, b"camera\0"),
        (273, _LONG, [0]),  # where the strip begins: set below
        (274, _SHORT, [orientation]),
        (277, _SHORT, [1]),
        (278, _LONG, [h]),
        (279, _LONG, [mosaic.nbytes]),
        (284, _SHORT, [1]),
        (33421, _SHORT, [2, 2]),
        (33422, _BYTE, [0, 1, 1, 2]),
        (50706, _BYTE, [1, 4, 0, 0]),
        (50707, _BYTE, [1, 1, 0, 0]),
        (50708, _ASCII, b"invented camera\0"),
        (50714, _SHORT, [BLACK]),
        (50717, _LONG, [WHITE]),
        (50721, _SRATIONAL, matrix),
        (50728, _RATIONAL, neutral),
        (50778, _SHORT, [21]),  # the matrix is for D65
    ]
    if composite is not None:
        entries.append((34665, _LONG, [0]))  # EXIF block: set below
    return _tiff(sorted(entries), mosaic.tobytes(), composite)


def _fraction(value: float) -> tuple[int, int]:
    return round(value * 10_000), 10_000


def _tiff(
    entries: list[tuple[int, int, list[int] | bytes]], strip: bytes, composite: int | None
) -> bytes:
    beyond = 8 + 2 + 12 * len(entries) + 4
    packed, tail = [], b""
    exif_at = strip_at = 0
    sizes = [len(_packed(kind, values)) for _, kind, values in entries]
    after = beyond + sum(size + size % 2 for size in sizes if size > 4)
    if composite is not None:
        exif_at = after
        exif = struct.pack("<HHHIHHI", 1, 42080, _SHORT, 1, composite, 0, 0)
        after += len(exif)
    strip_at = after
    for tag, kind, values in entries:
        given = {273: [strip_at], 34665: [exif_at]}.get(tag, values)
        data = _packed(kind, given)
        count = len(given) // (2 if kind in (_RATIONAL, _SRATIONAL) else 1)
        if len(data) > 4:
            place = struct.pack("<I", beyond + len(tail))
            tail += data + bytes(len(data) % 2)
        else:
            place = data.ljust(4, b"\0")
        packed.append(struct.pack("<HHI", tag, kind, count) + place)
    head = b"II*\0" + struct.pack("<IH", 8, len(entries))
    middle = exif if composite is not None else b""
    return head + b"".join(packed) + bytes(4) + tail + middle + strip


def _packed(kind: int, values: list[int] | bytes) -> bytes:
    if isinstance(values, bytes):
        return values
    size = len(_PACK[kind])
    groups = [values[k : k + size] for k in range(0, len(values), size)]
    return b"".join(struct.pack("<" + _PACK[kind], *group) for group in groups)
