"""Where a logbook lies, and its original photographs beside it, under the hash of their bytes."""

import hashlib
import os
import re
from collections.abc import Sequence
from datetime import UTC, datetime
from pathlib import Path, PureWindowsPath

import platformdirs

from tonematch.errors import LogbookError
from tonematch.wholefile import make_folder, write_whole

Where = Path | str
"""What names a logbook: the path of its file, or as text the address of a server's database."""

_SUFFIX = re.compile(r"\.[a-z0-9]{1,5}")


def usual_folder() -> Path:
    """The person's data folder for tonematch; nothing is made there."""
    return platformdirs.user_data_path("tonematch", appauthor=False)


def usual_logbook() -> Where:
    """What names the logbook unless another is named; nothing is made or opened."""
    return os.environ.get("TONEMATCH_LOGBOOK") or usual_folder() / "logbook.sqlite"


def is_address(where: Where) -> bool:
    """Whether it names a server's database, and no file."""
    return isinstance(where, str) and "://" in where


def folders_beside(database: Path) -> tuple[Path, ...]:
    """Folders for the photographs of a logbook: where they are kept, then where they may lie.

    A link to a logbook may have one beside itself, too. What is kept goes beside the file itself,
    unless there is a folder beside the link only.
    """
    folders = [
        path.with_name(f"{path.stem} photographs") for path in (database.resolve(), database)
    ]
    return tuple(dict.fromkeys(sorted(folders, key=lambda folder: not folder.is_dir())))


def bare_name(file_name: str) -> str:
    """File name without folders, whichever system it comes from."""
    return PureWindowsPath(file_name).name or "photograph"


def photo_path(folder: Path, sha256: str, file_name: str) -> Path:
    """Where the photograph lies in a folder: its hash, with the suffix that it came with."""
    suffix = PureWindowsPath(file_name).suffix.lower()
    return folder / sha256[:2] / (sha256 + (suffix if _SUFFIX.fullmatch(suffix) else ""))


def find_photo(folders: Sequence[Path], sha256: str, file_name: str) -> Path:
    """Where the photograph lies; in the first of the folders where it is in none."""
    paths = [photo_path(folder, sha256, file_name) for folder in folders]
    return next((path for path in paths if path.exists()), paths[0])


def keep_bytes(folder: Path, data: bytes, file_name: str) -> str:
    """Put a photograph into the folder, whole or not at all; gives its SHA-256, 64 hex digits.

    A file that is there already is never overwritten; one whose bytes no longer fit its name is set
    aside, not removed. Raises LogbookError when the folder cannot be written.
    """
    sha256 = hashlib.sha256(data).hexdigest()
    path = photo_path(folder, sha256, file_name)
    try:
        if path.exists():
            if hashlib.sha256(path.read_bytes()).hexdigest() == sha256:
                return sha256
            stamp = datetime.now(UTC).strftime("%Y%m%dT%H%M%S%f")
            path.rename(path.with_name(f"{path.name}.damaged-{stamp}"))
        make_folder(path.parent)
        write_whole(path, data)
    except OSError as error:
        raise LogbookError(
            f"The photograph {file_name} cannot be kept in {folder} ({error.strerror}): free some "
            "space or make the folder writable."
        ) from error
    return sha256


def read_bytes(path: Path, sha256: str) -> bytes:
    """The photograph's bytes, held against the hash; LogbookError when gone or changed."""
    try:
        data = path.read_bytes()
    except OSError as error:
        raise LogbookError(
            f"The photograph {path} is kept in the logbook but cannot be read ({error.strerror}): "
            "put it back from a copy of the folder."
        ) from error
    if hashlib.sha256(data).hexdigest() != sha256:
        raise LogbookError(
            f"The photograph {path} has changed since it was kept: put it back from a copy of the "
            "folder."
        )
    return data
