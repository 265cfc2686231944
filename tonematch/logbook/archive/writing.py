"""A logbook, or one piece of it, written into one zip file that needs no tonematch to be read."""

import hashlib
import json
import zipfile
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any, BinaryIO

from tonematch.errors import LogbookError
from tonematch.logbook.archive.entries import (
    PHOTOGRAPHS,
    PIECES,
    Entries,
    all_entries,
    of_piece,
)
from tonematch.logbook.archive.workshop import FOLDER, own_data
from tonematch.logbook.csv_rows import table_of
from tonematch.logbook.database.damage import refuse_damage
from tonematch.logbook.database.logbook_store import LogbookStore
from tonematch.logbook.database.opening import revision_of
from tonematch.logbook.database.sums import Entry
from tonematch.logbook.database.tables import Base
from tonematch.logbook.photo_folder import find_photo, photo_path, read_bytes
from tonematch.logbook.stores.zones import zone_rows
from tonematch.wholefile import unwritable_told, whole_file

FORM = 1
README, CONTENTS, SUMS = "README.txt", "contents.json", "sha256sums.txt"
# The smallest date that a zip file can say: equal logbooks make equal files.
_NO_DATE = (1980, 1, 1, 0, 0, 0)


@dataclass(frozen=True)
class Written:
    """What an archive holds; `lost` are photographs that are gone or changed, by file name."""

    rows: dict[str, int]
    lost: tuple[str, ...]


def write_archive(book: LogbookStore, out: Path, piece: str | None = None) -> Written:
    """Write all rows and photographs, or those of one piece; whole or not at all.

    The workshop's heading and cards go with all, not with a piece, which another may get. Raises
    LogbookError where there is no such piece, a row is damaged or `out` cannot be written,
    ValueRefused where the heading or the cards cannot be read.
    """
    own = own_data() if piece is None else {}
    with book.reading() as session:
        refuse_damage(session)
        entries = all_entries(session)
        if piece is not None:
            zone_rows(session, piece)
            entries = of_piece(entries, piece)
        revision = revision_of(session)
    with unwritable_told(out, "the archive"), whole_file(out) as file:
        lost = _write(file, entries, revision, book, own)
    return Written({name: len(rows) for name, rows in entries.items()}, lost)


def _write(
    file: BinaryIO,
    entries: Entries,
    revision: str,
    book: LogbookStore,
    own: Mapping[str, bytes],
) -> tuple[str, ...]:
    sums: dict[str, str] = {}
    with zipfile.ZipFile(file, "w") as archive:

        def add(name: str, data: bytes, packing: int = zipfile.ZIP_DEFLATED) -> None:
            info = zipfile.ZipInfo(name, _NO_DATE)
            info.compress_type, info.external_attr = packing, 0o644 << 16
            archive.writestr(info, data)
            sums[name] = hashlib.sha256(data).hexdigest()

        for name, data in table_files(entries):
            add(name, data)
        lost: dict[str, str] = {}
        for name, entry in photograph_files(entries).items():
            sha256, file_name = entry["sha256"], entry["file_name"]
            try:
                data = read_bytes(find_photo(book.photo_folders, sha256, file_name), sha256)
            except LogbookError:
                lost[name] = file_name
            else:
                add(name, data, zipfile.ZIP_STORED)  # a photograph is packed already
        for name, said in own.items():
            add(name, said)
        contents = {"form": FORM, "revision": revision, "lost": sorted(lost)}
        add(CONTENTS, _json(contents, indent=1))
        add(README, _readme(entries, lost).encode())
        add(SUMS, "".join(f"{digest}  {name}\n" for name, digest in sums.items()).encode())
    return tuple(lost.values())


def table_files(entries: Entries) -> Iterator[tuple[str, bytes]]:
    """The rows of each table as JSON and as CSV: a name and a file."""
    for table, rows in entries.items():
        yield f"json/{table}.json", b"[\n" + b",\n".join(map(_json, rows)) + b"\n]\n"
        if rows:
            yield f"csv/{table}.csv", table_of((rows[0], *map(_cells, rows))).encode()


def _cells(entry: Entry) -> Iterator[str]:
    for value in entry.values():
        yield "" if value is None else value if isinstance(value, str) else _json(value).decode()


def _json(value: Any, indent: int | None = None) -> bytes:
    return json.dumps(value, allow_nan=False, ensure_ascii=False, indent=indent).encode()


def photograph_files(entries: Entries) -> dict[str, Entry]:
    """The name in the archive of each original, and a row that tells of it."""
    return {
        f"photographs/{photo_path(Path(), entry['sha256'], entry['file_name']).name}": entry
        for entry in entries[PHOTOGRAPHS]
    }


def _readme(entries: Entries, lost: dict[str, str]) -> str:
    pieces = ", ".join(dict.fromkeys(entry["name"] for entry in entries[PIECES])) or "none"
    tables = "\n".join(
        f"  {row.local_table.name}: {row.class_.__doc__}"  # type: ignore[attr-defined]
        for row in sorted(Base.registry.mappers, key=str)
    )
    gone = "".join(f"  {name} ({lost[name]})\n" for name in lost)
    return f"""A logbook of tonematch: toned gilding, measured and laid.
Pieces: {pieces}.

{README}: this text.
{CONTENTS}: which form this file has, and which step the tables of the logbook were at.
{SUMS}: the SHA-256 of every other file, as 'sha256sum -c {SUMS}' checks them.
json/: every row of every table; a number in a column ending in _id is the id of another row.
  By its sum tonematch notices that a row says something else than was written.
csv/: the same rows for a spreadsheet (UTF-8, commas). What a spreadsheet would run as a formula
  has an apostrophe before it; an empty cell is nothing, or an empty text; tables without rows
  have no file.
photographs/: the originals byte for byte, each under the SHA-256 of its bytes; the table of
  photographs says what each was called.
{FOLDER}/: the heading on every record, and what the workshop's own cards reflect, where said.
{"Lost or changed since they were kept, and so not here:" + chr(10) + gone if lost else ""}
Tables:
{tables}

Colours are CIELAB (D50, 2 degree observer), times are ISO 8601 in UTC, lengths in metres.
'tonematch logbook import' puts all of it into a logbook again.
"""
