"""Large pictures lie in a file without a name, so that there is memory for the next one.

What is looked at of such a picture comes into memory, and is let go before another is decoded.
"""

import mmap
from pathlib import Path
from tempfile import TemporaryFile
from threading import Lock
from weakref import WeakSet

import numpy as np

from tonematch.photo.core import Encoded

LARGE = 100_000_000  # bytes: 33 megapixels of 8 bits, above what most telephones take (a choice)
_AT_ONCE = 100  # rows written by one call
# On a disk even where the usual folder is in memory (Filesystem Hierarchy Standard 3.0, 5.15).
_FOLDER = Path("/var/tmp")
_lying: WeakSet[mmap.mmap] = WeakSet()
_lock = Lock()


def on_disk(codes: Encoded) -> Encoded:
    """The same codes, in a file if they are many; in memory where there is no room for one."""
    if codes.nbytes < LARGE:
        return codes
    try:
        with TemporaryFile(dir=_FOLDER if _FOLDER.is_dir() else None) as file:
            for start in range(0, len(codes), _AT_ONCE):
                file.write(codes[start : start + _AT_ONCE].tobytes())
            file.flush()
            # Nobody writes into it; but not every library takes what cannot be written.
            mapped = mmap.mmap(file.fileno(), 0, access=mmap.ACCESS_COPY)
    except OSError:
        return codes
    with _lock:
        _lying.add(mapped)
    return np.frombuffer(mapped, codes.dtype).reshape(codes.shape)


def let_go() -> None:
    """Take what lies in files out of memory, where the system can."""
    if hasattr(mmap, "MADV_DONTNEED"):
        with _lock:
            for mapped in _lying:
                mapped.madvise(mmap.MADV_DONTNEED)
