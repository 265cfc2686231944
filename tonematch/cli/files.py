"""Files that a command writes: nothing that is there already is lost."""

from pathlib import Path

from tonematch.errors import LogbookError
from tonematch.wholefile import write_whole


def refuse_taken(out: Path, what: str) -> None:
    """Refuse a path at which something lies (LogbookError)."""
    try:
        taken = out.exists()
    except OSError as error:
        raise LogbookError(
            f"{out} cannot be written ({error.strerror}): give {what} another name."
        ) from error
    if taken:
        raise LogbookError(f"{out} exists already: give {what} another name.")


def write_new(out: Path, data: bytes, what: str) -> None:
    """Write a file that is not there yet, whole or not at all; LogbookError where it cannot be."""
    refuse_taken(out, what)
    try:
        write_whole(out, data)
    except OSError as error:
        raise LogbookError(
            f"{out} cannot be written ({error.strerror}): give {what} a name in a folder that "
            "exists and can be written."
        ) from error
