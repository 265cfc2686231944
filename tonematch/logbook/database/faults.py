"""What the database refuses, each in one sentence: what is wrong with the logbook, what to do."""

import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from sqlalchemy.exc import StatementError

from tonematch.errors import LogbookError

_IN_USE = "is in use by another program: close that one, or wait and try again"
_NOT_WRITABLE = "make the file and its folder writable or choose another path"
DAMAGED = "is damaged: put back the newest copy that you have of it (tonematch logbook restore)"
_REMEDIES = {
    "SQLITE_BUSY": _IN_USE,
    "SQLITE_LOCKED": _IN_USE,
    "SQLITE_FULL": "cannot grow because the disk is full: free some space; nothing was written",
    "SQLITE_READONLY": f"cannot be written: {_NOT_WRITABLE}",
    "SQLITE_PERM": f"cannot be written: {_NOT_WRITABLE}",
    "SQLITE_CANTOPEN": f"cannot be opened or written: {_NOT_WRITABLE}",
    "SQLITE_CORRUPT": DAMAGED,
    "SQLITE_NOTADB": DAMAGED,
    # No word of ours is at fault: a table or a column that was there is not, or is there too soon.
    "SQLITE_ERROR": DAMAGED,
    "SQLITE_IOERR": "cannot be read or written by the disk: check the disk, and copy the logbook "
    "to a sound one",
}


@contextmanager
def faults_in_words(path: Path) -> Iterator[None]:
    """Turn what the database refuses into one sentence."""
    try:
        yield
    except (StatementError, sqlite3.Error) as error:
        fault = getattr(error, "orig", error)
        name = str(getattr(fault, "sqlite_errorname", ""))
        remedy = next(
            (words for code, words in _REMEDIES.items() if name.startswith(code)),
            f"refused what was asked of it ({fault}): nothing was written; check the values",
        )
        raise LogbookError(f"The logbook {path} {remedy}.") from error
