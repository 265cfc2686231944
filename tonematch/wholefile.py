"""Files that are there whole or not at all."""

import os
import tempfile
from pathlib import Path


def write_whole(path: Path, data: bytes) -> None:
    """Write a file so that it is there whole or not at all, even when the power fails.

    Parameters
    ----------
    path : pathlib.Path
        Replaced where it exists.

    Raises
    ------
    OSError
    """
    descriptor, draft = tempfile.mkstemp(dir=path.parent, prefix=".draft-")
    try:
        with os.fdopen(descriptor, "wb") as file:
            file.write(data)
            file.flush()
            os.fsync(file.fileno())
        # mkstemp makes the file for its owner alone; give it what a new file would have.
        Path(draft).chmod(0o644)
        Path(draft).replace(path)
    except BaseException:
        Path(draft).unlink(missing_ok=True)
        raise
    if os.name == "posix":
        folder = os.open(path.parent, os.O_RDONLY)
        try:
            os.fsync(folder)
        finally:
            os.close(folder)
