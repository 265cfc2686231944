"""Files that a command writes: nothing that is there already is lost."""

from collections.abc import Callable
from pathlib import Path

from tonematch.errors import LogbookError, TonematchError


def refuse_taken(out: Path, what: str) -> None:
    """Refuse a path at which something lies.

    Raises
    ------
    LogbookError
    """
    if _exists(out, what):
        raise LogbookError(f"{out} exists already: give {what} another name.")


def refuse_other(out: Path, what: str, read: Callable[[Path], object]) -> None:
    """Refuse a path at which something lies that is not of the kind to be written.

    Parameters
    ----------
    out : pathlib.Path
    what : str
        The kind, in words.
    read : callable
        Raises a TonematchError for a file of another kind.

    Raises
    ------
    LogbookError
    """
    if not _exists(out, what):
        return
    try:
        read(out)
    except TonematchError as error:
        raise LogbookError(
            f"{out} exists and is not {what}, so it was left as it is: give another name."
        ) from error


def write_new(out: Path, data: bytes, what: str) -> None:
    """Write a file that is not there yet, whole or not at all.

    Raises
    ------
    LogbookError
        Where the path is taken or cannot be written.
    """
    from tonematch.logbook.photo_folder import write_whole

    refuse_taken(out, what)
    try:
        write_whole(out, data)
    except OSError as error:
        raise LogbookError(
            f"{out} cannot be written ({error.strerror}): give {what} a name in a folder that "
            "exists and can be written."
        ) from error


def _exists(out: Path, what: str) -> bool:
    try:
        return out.exists()
    except OSError as error:
        raise LogbookError(
            f"{out} cannot be written ({error.strerror}): give {what} another name."
        ) from error
