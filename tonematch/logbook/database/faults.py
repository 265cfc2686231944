"""What the database refuses, each in one sentence: what is wrong with the logbook, what to do."""

import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager

from sqlalchemy.exc import OperationalError, StatementError

from tonematch.errors import LogbookError

_IN_USE = "is in use by another program: close that one, or wait and try again"
_NOT_WRITABLE = "make the file and its folder writable or choose another path"
_ASK = "ask for the right to write where its server is kept"
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
    # Of a server: https://www.postgresql.org/docs/current/errcodes-appendix.html
    "55P03": _IN_USE,
    "53100": "cannot grow because the server's disk is full: free some space; nothing was written",
    "53": "is in use by too many for its server: wait and try again",
    "25006": f"cannot be written: {_ASK}",
    "42501": f"cannot be used so: {_ASK}",
    "42": "is damaged: ask where its server is kept for the newest dump of it",
    "XX": "is damaged: ask where its server is kept for the newest dump of it",
}
_UNREACHED = "see whether its server runs, the network is there and the address is right"
_LOST = "all that was kept before is kept, so look whether the last is there before you do it again"


@contextmanager
def faults_in_words(place: object) -> Iterator[None]:
    """Turn what the database refuses into one sentence; `place` as people are told it."""
    try:
        yield
    except (StatementError, sqlite3.Error) as error:
        raise LogbookError(f"The logbook {place} {_remedy(error)}.") from error


def _remedy(error: StatementError | sqlite3.Error) -> str:
    fault = getattr(error, "orig", error)
    code = getattr(fault, "sqlite_errorname", None) or getattr(fault, "sqlstate", None) or ""
    said = " ".join(str(fault).partition("\n")[0].rpartition(" failed: ")[2].split())
    if getattr(error, "connection_invalidated", False):
        return f"was lost on the way ({said}): {_LOST}"
    if isinstance(error, OperationalError) and (not code or code.startswith(("08", "57P"))):
        return f"cannot be reached ({said}): {_UNREACHED}"
    return next(
        (words for known, words in _REMEDIES.items() if code.startswith(known)),
        f"refused what was asked of it ({said}): nothing was written; check the values",
    )
