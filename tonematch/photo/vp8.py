"""The steps of a lossy WebP file, out of the header of its VP8 frame.

References
----------
RFC 6386: VP8 data format and decoding guide, sections 7.3 (the boolean decoder), 9 and 19.2 (the
header), 14.1 (the steps by their index: ``swatches/codecs.toml``).
"""

from dataclasses import dataclass

from tonematch.swatchbook import swatch_table

_START = b"\x9d\x01\x2a"
_HIGHEST = 127


@dataclass
class _Flags:
    """Bits that were coded as equally likely (RFC 6386, 7.3); 0 past the end."""

    data: bytes
    at: int = 2
    span: int = 255
    bits: int = 0

    def __post_init__(self) -> None:
        self.value = int.from_bytes(self.data[:2].ljust(2, b"\0"), "big")

    def flag(self) -> bool:
        split = (self.span + 1) // 2
        found = self.value >= split << 8
        if found:
            self.value -= split << 8
            self.span -= split
        else:
            self.span = split
        while self.span < 128:
            self.value, self.span, self.bits = self.value << 1, self.span << 1, self.bits + 1
            if self.bits == 8:
                self.bits = 0
                self.value |= self.data[self.at] if self.at < len(self.data) else 0
                self.at += 1
        return found

    def number(self, bits: int) -> int:
        return sum(self.flag() << bit for bit in reversed(range(bits)))

    def signed(self, bits: int) -> int:
        """Where a flag says that there is one, else 0."""
        if not self.flag():
            return 0
        size = self.number(bits)
        return -size if self.flag() else size


def vp8_steps(content: bytes) -> tuple[float, float, float, float] | None:
    """Steps of a lossy WebP's coarsest segment; None where it has no VP8 frame.

    Those of luma's mean (as it is coded in blocks of 4 by 4) and lowest wave, and of chroma's.
    """
    at = content.find(b"VP8 ")
    frame = content[at + 8 :]
    if at < 0 or frame[3:6] != _START:
        return None
    flags = _Flags(frame[10:])
    flags.number(2)  # colour space, clamping
    segments = _segments(flags) if flags.flag() else [(True, 0)]
    flags.number(10)  # the loop filter
    if flags.flag() and flags.flag():
        for _ in range(8):
            flags.signed(6)
    flags.number(2)  # partitions
    base = flags.number(7)
    luma_mean, _, _, mean, wave = (flags.signed(4) for _ in range(5))
    index = max(step + (base if added else 0) for added, step in segments)
    table = swatch_table("codecs.toml")["vp8"]
    ways = (("mean", luma_mean), ("wave", 0), ("mean", mean), ("wave", wave))
    a, b, c, d = (float(table[way][min(max(index + by, 0), _HIGHEST)]) for way, by in ways)
    return a, b, c, d


def _segments(flags: _Flags) -> list[tuple[bool, int]]:
    """Of each segment, its index, or what is added to the frame's (RFC 6386, 9.3)."""
    has_map, segments = flags.flag(), [(True, 0)]
    if flags.flag():
        added = not flags.flag()
        segments = [(added, flags.signed(7)) for _ in range(4)]
        for _ in range(4):
            flags.signed(6)
    if has_map:
        for _ in range(3):
            flags.flag() and flags.number(8)
    return segments
