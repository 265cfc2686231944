"""An archive read again, and checked whole before anything is made of it.

Its rows go into a logbook of their own, at the step that they were written at, which is then
brought up to date as any older logbook is. Nothing is unpacked under a name that the file gives.
"""

import hashlib
import json
import re
import struct
import tempfile
import zipfile
import zlib
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from sqlalchemy import JSON, MetaData, Table, event, insert
from sqlalchemy.exc import OperationalError, StatementError
from sqlalchemy.orm import Session

from tonematch.errors import LogbookError
from tonematch.logbook.archive.entries import (
    CHANGES,
    PHOTOGRAPHS,
    Entries,
    all_entries,
    tables_in_order,
)
from tonematch.logbook.archive.workshop import OWN_FILES
from tonematch.logbook.archive.writing import (
    CONTENTS,
    FORM,
    README,
    SUMS,
    photograph_files,
    table_files,
)
from tonematch.logbook.database.damage import damaged_places
from tonematch.logbook.database.file_place import FilePlace
from tonematch.logbook.database.opening import known_revisions, open_engine, transaction
from tonematch.logbook.database.sums import Entry
from tonematch.wholefile import read_whole

# Choices: a table of rows that are much alike is packed to a thirtieth, and 100,000 trials take
# 60 MB.
_MOST_PACKED, _MOST_OF_TABLES = 300, 2**30
_NAMES = re.compile(
    rf"{README}|{CONTENTS}|{SUMS}|(json|csv)/\w+\.(json|csv)|"
    r"photographs/[0-9a-f]{64}(\.[a-z0-9]{1,5})?|" + "|".join(map(re.escape, OWN_FILES))
)
_SUM_LINE = re.compile(r"([0-9a-f]{64})  (.+)")
_FAULTS = (
    zipfile.BadZipFile,
    zlib.error,
    struct.error,
    EOFError,
    NotImplementedError,
    RuntimeError,
    ValueError,
    LookupError,
    TypeError,
    AttributeError,
    OverflowError,
    RecursionError,
)


@dataclass(frozen=True)
class Arrived:
    """What an archive holds: rows of the present tables, and its photographs by their hash."""

    entries: Entries
    photograph: Callable[[Entry], bytes | None]
    """The bytes of a row of the photographs; None where they were lost before."""
    own: dict[str, bytes]
    """The workshop's own files by their name in the archive."""


@contextmanager
def open_archive(path: Path) -> Iterator[Arrived]:
    """Read and check an archive; LogbookError, one sentence, where it is not sound."""
    with _faults_in_words(path):
        read_whole(path, most=1)  # a pipe or a device would never end
        archive = zipfile.ZipFile(path)
    with archive:
        with _faults_in_words(path):
            arrived = _checked(path, archive)
        yield arrived


def _checked(path: Path, archive: zipfile.ZipFile) -> Arrived:
    names = _names_of(path, archive)
    _check_sums(path, archive, names)
    contents = json.loads(archive.read(CONTENTS))
    if contents["form"] != FORM or contents["revision"] not in known_revisions():
        raise LogbookError(
            f"{path} was made by a newer tonematch: install the newest one to bring it in."
        )
    entries = _entries_of(path, archive, contents["revision"])
    pictures = photograph_files(entries)
    there = {name for name in names if name.startswith(PHOTOGRAPHS)}
    lost = set(contents["lost"])
    if there | lost != set(pictures) or there & lost:
        raise _refusal(path, "its photographs are not those that its rows tell of")
    for name in there:
        if _sum_of(archive, name) != pictures[name]["sha256"]:
            raise _refusal(path, f"{name} in it is another photograph")

    def photograph(entry: Entry) -> bytes | None:
        (name,) = photograph_files({PHOTOGRAPHS: [entry]})
        return archive.read(name) if name in there else None

    own = {name: archive.read(name) for name in OWN_FILES if name in names}
    for name, data in own.items():
        if not OWN_FILES[name].can_use(data):
            raise _refusal(path, f"{name} in it cannot be used")
    return Arrived(entries, photograph, own)


def _refusal(path: Path, words: str) -> LogbookError:
    return LogbookError(
        f"{path} cannot be brought in, since {words}: take another copy of it, or export it anew; "
        "nothing was brought in."
    )


@contextmanager
def _faults_in_words(path: Path) -> Iterator[None]:
    try:
        yield
    except OSError as error:
        raise LogbookError(
            f"{path} cannot be read ({error.strerror or error}): check the path of the archive."
        ) from error
    except _FAULTS as error:
        raise _refusal(path, "it is no archive of a logbook, or is damaged") from error


def _names_of(path: Path, archive: zipfile.ZipFile) -> set[str]:
    """The names in the archive, none of them foreign, doubled, locked or far too large."""
    files = archive.infolist()
    names = {file.filename for file in files}
    for file in files:
        if not _NAMES.fullmatch(file.filename):
            raise _refusal(path, f"it holds {file.filename!r}, which no archive of a logbook has")
        packed = (zipfile.ZIP_STORED, zipfile.ZIP_DEFLATED)
        if file.flag_bits & 1 or file.compress_type not in packed:
            raise _refusal(path, f"{file.filename} in it is locked or packed in another way")
    if len(names) < len(files):
        raise _refusal(path, "it holds two files of one name")
    for file in files:
        is_picture = file.filename.startswith(PHOTOGRAPHS)
        most = file.compress_size * (1 if is_picture else _MOST_PACKED) + 2**16
        if file.file_size > most:
            raise _refusal(path, f"{file.filename} in it would unpack to far more than it can hold")
    tables = sum(file.file_size for file in files if not file.filename.startswith(PHOTOGRAPHS))
    if tables > _MOST_OF_TABLES or sum(f.compress_size for f in files) > path.stat().st_size:
        raise _refusal(path, "it would unpack to far more than it can hold")
    return names


def _check_sums(path: Path, archive: zipfile.ZipFile, names: set[str]) -> None:
    lines = archive.read(SUMS).decode().splitlines() if SUMS in names else []
    found = [_SUM_LINE.fullmatch(line) for line in lines]
    sums = {match[2]: match[1] for match in found if match}
    if len(sums) < len(lines) or set(sums) != names - {SUMS}:
        raise _refusal(path, f"its {SUMS} does not name the files that it holds")
    for name, wanted in sums.items():
        if _sum_of(archive, name) != wanted:
            raise _refusal(path, f"{name} in it is not what was written (wrong checksum)")


def _sum_of(archive: zipfile.ZipFile, name: str) -> str:
    digest = hashlib.sha256()
    with archive.open(name) as file:
        while data := file.read(2**20):
            digest.update(data)
    return digest.hexdigest()


def _entries_of(path: Path, archive: zipfile.ZipFile, revision: str) -> Entries:
    """The rows of an archive as the tables have them now."""
    with tempfile.TemporaryDirectory(prefix="tonematch-") as folder:
        database = FilePlace(Path(folder) / "logbook.sqlite")
        written = open_engine(database, 5.0, until=revision)
        metadata = MetaData()
        event.listen(metadata, "column_reflect", _no_json_null)
        metadata.reflect(written)
        tables = [t for t in tables_in_order(metadata) if t.name != "alembic_version"]
        entries = {table.name: _rows_of(path, archive, table) for table in tables}
        files = dict(table_files(entries))
        held = {name for name in archive.namelist() if name.startswith(("json/", "csv/"))}
        if files.keys() != held or any(archive.read(n) != data for n, data in files.items()):
            raise _refusal(path, "its tables do not say the same as JSON and as CSV")
        with transaction(written, database) as session:
            for table in tables:
                _insert(path, session, table, entries[table.name])
        with transaction(open_engine(database, 5.0), database) as session:
            for place in damaged_places(session):
                raise _refusal(path, f"no logbook can hold what it says in table {place}")
            entries = all_entries(session)
        _check_changes(path, entries)
        return entries


def _insert(path: Path, session: Session, table: Table, rows: list[Entry]) -> None:
    try:
        if rows:
            session.execute(insert(table), rows)
    except (StatementError, UnicodeError, OverflowError) as error:
        if isinstance(error, OperationalError):  # of the disk, not of the row
            raise
        raise _refusal(path, f"no logbook can hold a row of its table {table.name}") from error


def _no_json_null(_inspector: object, _table: object, column: Any) -> None:
    if isinstance(column["type"], JSON):
        column["type"] = JSON(none_as_null=True)


def _rows_of(path: Path, archive: zipfile.ZipFile, table: Table) -> list[Entry]:
    rows = json.loads(archive.read(f"json/{table.name}.json"))
    columns = list(rows[0]) if rows else []
    if (rows and set(columns) != set(table.c.keys())) or any(list(row) != columns for row in rows):
        raise _refusal(path, f"its table {table.name} has not the columns of one")
    return list(rows)


def _check_changes(path: Path, entries: Entries) -> None:
    numbers = {table: {entry["id"] for entry in rows} for table, rows in entries.items()}
    for change in entries[CHANGES]:
        if change["row_id"] not in numbers.get(change["table_name"], ()):
            raise _refusal(path, "a change in it is of a row that is not there")
