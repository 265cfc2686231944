"""Files that are there whole or not at all, and files that are read whole."""

import errno
import os
import stat
import tempfile
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import BinaryIO

from tonematch.errors import LogbookError

_DRAFT = ".tonematch-draft-"
_LEFT_OVER = 24 * 3600.0  # seconds: no writing takes a day, so an older draft is nobody's


def write_whole(path: Path, data: bytes) -> None:
    """Write a file, or write one over, so that it is whole even when the power fails (OSError)."""
    with whole_file(path) as file:
        file.write(data)


@contextmanager
def whole_file(path: Path) -> Iterator[BinaryIO]:
    """The same for a file that is written piece by piece: it is there once all of it is."""
    sweep_drafts(path.parent)
    descriptor, draft = tempfile.mkstemp(dir=path.parent, prefix=_DRAFT)
    try:
        with os.fdopen(descriptor, "w+b") as file:
            yield file
            file.flush()
            os.fsync(file.fileno())
        # mkstemp makes the file for its owner alone; give it what a new file would have.
        Path(draft).chmod(0o644)
        Path(draft).replace(path)
    except BaseException:
        Path(draft).unlink(missing_ok=True)
        raise
    sync_folder(path.parent)


def refuse_ending(out: Path, what: str, *endings: str) -> None:
    """Refuse a name that says another kind of file (LogbookError)."""
    if out.suffix.casefold() not in endings:
        raise LogbookError(f"{out}: let the name of {what} end in {' or '.join(endings)}.")


def refuse_taken(out: Path, what: str) -> None:
    """Refuse a path at which something lies, or in no folder (LogbookError)."""
    with unwritable_told(out, what):
        out.parent.stat()
        taken = out.exists()
    if taken:
        raise LogbookError(f"{out} exists already: give {what} another name.")


def write_new(out: Path, data: bytes, what: str) -> None:
    """Write a file that is not there yet, whole or not at all; LogbookError where it cannot be."""
    refuse_taken(out, what)
    with unwritable_told(out, what):
        write_whole(out, data)


@contextmanager
def unwritable_told(out: Path, what: str) -> Iterator[None]:
    """Tell a person (LogbookError) where a file that they named cannot be written."""
    try:
        yield
    except OSError as error:
        raise LogbookError(
            f"{out} cannot be written ({error.strerror}): give {what} another name, in a folder "
            "that can be written, on a disk with room."
        ) from error


def read_whole(path: Path, most: int = -1) -> bytes:
    """The bytes of an ordinary file, or its first `most`; a pipe would never end (OSError)."""
    if not stat.S_ISREG(path.stat().st_mode) and not path.is_dir():
        raise OSError(errno.EINVAL, "it is a pipe or a device and no file")
    with path.open("rb") as file:
        return file.read(most)


def make_folder(path: Path) -> None:
    """Make a folder, with those it lies in, so that it stays when the power fails (OSError)."""
    if not path.is_dir():
        make_folder(path.parent)
        path.mkdir(exist_ok=True)
        sync_folder(path.parent)


def sync_folder(folder: Path) -> None:
    """Have the disk hold what was made or removed in a folder, where the system can (OSError)."""
    if os.name != "posix":
        return
    descriptor = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(descriptor)
    except OSError as error:
        if error.errno not in (errno.EINVAL, errno.ENOTSUP):  # some shared folders cannot
            raise
    finally:
        os.close(descriptor)


def sweep_drafts(folder: Path) -> None:
    """Remove drafts that a killed program left in a folder more than a day ago."""
    for draft in find_drafts(folder):
        draft.unlink(missing_ok=True)


def find_drafts(folder: Path) -> list[Path]:
    """Drafts that a killed program left in a folder more than a day ago."""
    return [draft for draft in folder.glob(f"{_DRAFT}*") if is_left_over(draft)]


def is_left_over(path: Path) -> bool:
    """Whether nobody has written a file for a day, so that no program can be about to need it."""
    try:
        return time.time() - path.stat().st_mtime > _LEFT_OVER
    except FileNotFoundError:  # another program swept it
        return False
