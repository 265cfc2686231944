"""Copies of a logbook's file: before its tables are altered, on every day of use, and on request.

A copy is never written over. When there are more than `KEPT` in a folder the oldest go, but none
that holds more rows, of any table, than the newest: nothing is ever taken out of a logbook, so one
that has shrunk is no better than its older copies.
"""

import glob
import sqlite3
from collections.abc import Callable, Mapping
from contextlib import closing
from datetime import UTC, datetime
from pathlib import Path

from tonematch.errors import LogbookError
from tonematch.logbook.database.faults import faults_in_words
from tonematch.wholefile import make_folder, sync_folder, write_whole

KEPT = 14  # a choice: on as many days of use a fault should be noticed

MOMENT = "%Y%m%dT%H%M%S%f"  # in a file's name, UTC: names in order are moments in order

Counts = dict[str, int]


def stamp() -> str:
    """The present moment as it stands in a file's name."""
    return datetime.now(UTC).strftime(MOMENT)


def usual_copies(path: Path) -> Path:
    """The folder for the daily copies, beside a logbook."""
    return path.with_name(f"{path.stem} copies")


def copies_in(folder: Path, stem: str = "*") -> list[Path]:
    """The copies in a folder, of one logbook or of all, oldest first."""
    named = stem if stem == "*" else glob.escape(stem)
    return sorted(folder.glob(f"{named} [0-9]*T[0-9]*.sqlite"), key=moment_in_name)


def moment_in_name(copy: Path) -> str:
    """When a copy was made, as its name says it."""
    return copy.stem.rpartition(" ")[2]


def keep_copy(path: Path, folder: Path) -> Path:
    """Put a copy of a logbook's file into a folder; LogbookError where it cannot be written."""
    copy = folder / f"{path.stem} {stamp()}.sqlite"
    copy_database(path, copy)
    return copy


def copy_database(path: Path, copy: Path) -> None:
    """Copy a logbook as it is between two transactions, whole or not at all."""
    with faults_in_words(path):
        data = database_bytes(path)
    try:
        make_folder(copy.parent)
        write_whole(copy, data)
    except OSError as error:
        raise LogbookError(
            f"No copy of the logbook {path} can be written to {copy.parent} ({error.strerror}): "
            "free some space there, or make the folder writable."
        ) from error


def database_bytes(path: Path) -> bytes:
    """A logbook's file as it is between two transactions."""
    with closing(_opened(path)) as source, closing(sqlite3.connect(":memory:")) as memory:
        # A read that begins first waits for another program, and no longer than it may.
        source.execute("BEGIN")
        source.execute("SELECT count(*) FROM sqlite_master").fetchone()
        source.backup(memory)
        return memory.serialize()


def count_rows(path: Path) -> Counts:
    """How many rows each table of a logbook's file has; nothing in it is altered."""
    with faults_in_words(path), closing(_opened(path)) as opened:
        query = "SELECT name FROM sqlite_master WHERE type = 'table' ORDER BY name"
        tables = [name for (name,) in opened.execute(query) if name != "alembic_version"]
        return {
            table: opened.execute(f'SELECT count(*) FROM "{table}"').fetchone()[0]
            for table in tables
        }


def _opened(path: Path) -> sqlite3.Connection:
    # Where nothing can be written SQLite reads all the same; else it ends what a kill left open.
    return sqlite3.connect(f"{path.absolute().as_uri()}?mode=rw", uri=True, isolation_level=None)


def shrunk(new: Counts, old: Counts) -> Counts:
    """Tables of which the newer logbook has fewer rows than the older one, and how many fewer."""
    fewer = {table: count - new.get(table, 0) for table, count in old.items()}
    return {table: count for table, count in fewer.items() if count > 0}


def is_copied_today(path: Path) -> bool:
    """Whether a copy of today lies beside a logbook."""
    known = copies_in(usual_copies(path), path.stem)
    return bool(known) and moment_in_name(known[-1])[:8] == stamp()[:8]


def keep_daily_copy(path: Path, is_sound: Callable[[], bool]) -> None:
    """Keep a copy unless there is one of today; then let go of old ones where that loses nothing.

    A logbook without rows has nothing to keep. What hinders the copy does not hinder the work: the
    check of the logbook says how old the newest one is.
    """
    if is_copied_today(path):
        return
    folder = usual_copies(path)
    try:
        if any(count_rows(path).values()):
            keep_copy(path, folder)
            if len(copies_in(folder, path.stem)) > KEPT and is_sound():
                let_go(folder, path.stem)
    except (LogbookError, OSError):
        return


def let_go(folder: Path, stem: str) -> None:
    """Remove the oldest copies beyond those that are kept, where the newest holds all of it."""
    *older, newest = copies_in(folder, stem)
    counts = count_rows(newest)
    for copy in older[: 1 - KEPT]:
        if not shrunk(counts, count_rows(copy)):
            copy.unlink()
    sync_folder(folder)


def say_counts(counts: Mapping[str, int]) -> str:
    """How many rows of each table that has any: ``pieces 2, trials 60``."""
    return ", ".join(f"{table.replace('_', ' ')} {n}" for table, n in counts.items() if n)
