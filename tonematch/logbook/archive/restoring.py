"""Backup and restore: the logbook's file with its photographs, to another disk and back.

What is put back replaces the logbook as it was, which is copied first: nothing is lost by it, and
it is undone in the same way.
"""

import hashlib
import sqlite3
import tempfile
from collections.abc import Iterator
from contextlib import closing, contextmanager
from dataclasses import dataclass
from pathlib import Path

from sqlalchemy.orm import Session

from tonematch.errors import MAY_SHRINK, LogbookError
from tonematch.logbook.archive.workshop import OwnTaken, copied_own, copy_own, take_own
from tonematch.logbook.database.copies import (
    Counts,
    copies_in,
    count_rows,
    database_bytes,
    keep_copy,
    let_go,
    say_counts,
    shrunk,
    stamp,
    usual_copies,
)
from tonematch.logbook.database.damage import damaged_places, refuse_damage
from tonematch.logbook.database.faults import DAMAGED, faults_in_words
from tonematch.logbook.database.file_place import FilePlace, check_whose_file
from tonematch.logbook.database.logbook_store import LogbookStore
from tonematch.logbook.photo_folder import folders_beside, keep_bytes
from tonematch.wholefile import make_folder, read_whole, write_whole

_BUSY = (sqlite3.SQLITE_BUSY, sqlite3.SQLITE_LOCKED)


@dataclass(frozen=True)
class BackedUp:
    """A backup: the copy of the logbook's file, its rows, and how many photographs were new.

    `own` is what else went along: the heading, the cards.
    """

    copy: Path
    rows: Counts
    photographs: int
    own: tuple[str, ...] = ()


@dataclass(frozen=True)
class PutBack:
    """What was put back, and where the logbook as it was lies; None where there was none."""

    copy: Path
    rows: Counts
    photographs: int
    set_aside: Path | None
    own: OwnTaken


def back_up(book: LogbookStore, folder: Path | None = None, *, shrunken: bool = False) -> BackedUp:
    """Copy a logbook into a folder, with its workshop's own files and photographs not there yet.

    Beside itself unless a folder is given: all but its rows is there already. Raises
    LogbookError where the logbook is damaged, or holds fewer rows than the newest copy in the
    folder and that was not expected (`shrunken`), or the folder cannot be written.
    """
    with book.reading() as session:
        refuse_damage(session)
    into = usual_copies(book.path) if folder is None else folder
    if into.is_file():
        raise LogbookError(f"{into} is a file: name a folder to copy into.")
    own: tuple[str, ...] = ()
    new = count_rows(book.path)
    for newest in copies_in(into, book.path.stem)[-1:]:
        if (fewer := shrunk(new, count_rows(newest))) and not shrunken:
            raise LogbookError(
                f"The logbook {book.path} holds less than its newest backup {newest}, by "
                f"{say_counts(fewer)}: see whether it is the right one, or {MAY_SHRINK}."
            )
    if folder is None:
        pictures = 0
    else:
        beside = folders_beside(into / book.path.name)[0]
        pictures = sum(_copy_pictures(one, beside) for one in book.photo_folders)
        with _disk_faults(into):
            own = copy_own(into)
    copy = keep_copy(book.path, into)
    let_go(into, book.path.stem)
    return BackedUp(copy, new, pictures, own)


def put_back(path: Path, source: Path | None = None, *, shrunken: bool = False) -> PutBack:
    """Make a logbook what a copy of it holds; the newest one where `source` is a folder.

    The copies beside the logbook unless a source is given. The logbook itself may be damaged or
    gone. Raises LogbookError where there is no sound copy, it holds fewer rows than the logbook
    and that was not expected (`shrunken`), or something cannot be written.
    """
    copy = _chosen(usual_copies(path) if source is None else source, path.stem)
    rows = _rows_if_sound(copy)
    present = _present_rows(path)
    if present and (fewer := shrunk(rows, present)) and not shrunken:
        raise LogbookError(
            f"The copy {copy} holds less than the logbook {path}, by {say_counts(fewer)}: choose "
            f"another one, or {MAY_SHRINK}; nothing was put back."
        )
    aside = None
    if present is not None:
        aside = keep_copy(path, usual_copies(path))
    elif path.exists():
        aside = _set_damaged_aside(path)
    with _disk_faults(path):
        own = copied_own(copy.parent)
    named = copy.with_name(f"{copy.stem.rpartition(' ')[0]}.sqlite")
    pictures = _copy_pictures(folders_beside(named)[0], folders_beside(path)[0])
    _replace(path, copy)
    keep_copy(path, usual_copies(path))  # the newest is what the logbook holds, not what it held
    return PutBack(copy, rows, pictures, aside, take_own(own))


def _chosen(source: Path, stem: str) -> Path:
    if source.is_file():
        return source
    known = copies_in(source, stem) or copies_in(source)
    if not known:
        raise LogbookError(f"No copy of a logbook lies in {source}: name a copy, or its folder.")
    return known[-1]


def _rows_if_sound(copy: Path) -> Counts:
    with opened_elsewhere(copy) as session:
        for place in damaged_places(session):
            raise LogbookError(f"The copy {copy} is damaged in table {place}: name another one.")
    return count_rows(copy)


@contextmanager
def opened_elsewhere(copy: Path) -> Iterator[Session]:
    """A copy read in another place, brought up to date there, so that nothing of it is altered."""
    check_whose_file(copy)
    with tempfile.TemporaryDirectory(prefix="tonematch-") as folder:
        tried = Path(folder) / "logbook.sqlite"
        try:
            write_whole(tried, read_whole(copy))
            with LogbookStore(FilePlace(tried), 5.0) as book, book.reading() as session:
                yield session
        except LogbookError as error:
            words = str(error).replace(str(tried), str(copy))
            words = words.replace(DAMAGED, "is damaged: name another one")
            raise LogbookError(words.replace("The logbook", "The copy", 1)) from error
        except OSError as error:
            raise LogbookError(
                f"The copy {copy} cannot be read ({error.strerror}): name another one."
            ) from error


def _present_rows(path: Path) -> Counts | None:
    """The rows of the logbook that is there; None where there is none that can be read.

    LogbookError where another file is there.
    """
    if not path.exists() or path.stat().st_size == 0:
        return None
    check_whose_file(path)
    try:
        return count_rows(path)
    except LogbookError as error:
        if DAMAGED not in str(error):
            raise
        return None


def _set_damaged_aside(path: Path) -> Path:
    """Keep a file that cannot be read byte for byte, with its journal, under another name."""
    aside = path.with_name(f"{path.name}.damaged-{stamp()}")
    journal = path.with_name(f"{path.name}-journal")
    with _disk_faults(path):
        write_whole(aside, read_whole(path))
        if journal.exists():
            write_whole(aside.with_name(f"{aside.name}-journal"), read_whole(journal))
            journal.unlink()
        path.unlink()
    return aside


def _copy_pictures(source: Path, target: Path) -> int:
    """Copy the photographs that are not there yet, each whole or not at all; gives how many."""
    copied = 0
    with _disk_faults(target):
        for picture in source.glob("??/*"):
            there = target / picture.parent.name / picture.name
            if there.exists() and there.stat().st_size == picture.stat().st_size:
                continue
            data = read_whole(picture)
            if hashlib.sha256(data).hexdigest() == picture.stem:  # no draft, and not damaged
                keep_bytes(target, data, picture.name)
                copied += 1
    return copied


def _replace(path: Path, copy: Path) -> None:
    """Write a copy over the logbook in one transaction, so that who has it open stays safe."""
    if not path.exists():
        with _disk_faults(path):
            make_folder(path.parent)
            write_whole(path, database_bytes(copy))
        return

    def stop_if_busy(status: int, _remaining: int, _pages: int) -> None:
        if status in _BUSY:
            raise LogbookError(
                f"The logbook {path} is in use by another program: close that one, and put the "
                "copy back then; nothing was put back."
            )

    with (
        faults_in_words(path),
        closing(sqlite3.connect(copy)) as source,
        closing(sqlite3.connect(path)) as target,
    ):
        target.execute("PRAGMA synchronous = EXTRA")
        source.backup(target, progress=stop_if_busy)


@contextmanager
def _disk_faults(path: Path) -> Iterator[None]:
    try:
        yield
    except OSError as error:
        raise LogbookError(
            f"{path} cannot be written ({error.strerror}): free some space, or make its folder "
            "writable."
        ) from error
