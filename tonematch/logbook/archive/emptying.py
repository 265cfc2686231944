"""What was removed, emptied for good on request: the only way in which rows leave a logbook."""

from dataclasses import dataclass
from pathlib import Path

from sqlalchemy import Select, Table, bindparam, delete, false, func, select
from sqlalchemy.orm import Session

from tonematch.logbook.archive.checking import put_aside
from tonematch.logbook.archive.entries import (
    CHANGES,
    PHOTOGRAPHS,
    PIECES,
    Entries,
    all_entries,
    numbers_of,
    pointers,
    tables_in_order,
)
from tonematch.logbook.archive.writing import write_archive
from tonematch.logbook.database.copies import Counts, keep_copy, stamp, usual_copies
from tonematch.logbook.database.logbook_store import LogbookStore
from tonematch.logbook.database.tables import DraftRow
from tonematch.logbook.photo_folder import find_photo


@dataclass(frozen=True)
class Emptied:
    """How many rows of each table went, and where photographs that no row names lie now."""

    rows: Counts
    aside: Path | None


def removed_rows(session: Session) -> Counts:
    """What would go: how many rows of each table were removed, or belong to such a one."""
    if all(session.scalar(_count_removed(table)) == 0 for table in tables_in_order()):
        return {}
    return {table: len(numbers) for table, numbers in _removed(all_entries(session)).items()}


def _count_removed(table: Table) -> Select[int]:
    marked = table.c.removed_at.is_not(None) if "removed_at" in table.c else false()
    return select(func.count()).select_from(table).where(marked)


def empty(book: LogbookStore) -> Emptied:
    """Let go of what was removed and all that belongs to it; a copy of before stays.

    Of a logbook on a server it is one file, as `write_archive` writes it, in its folder.
    """
    with book.writing() as session:
        entries = all_entries(session)
        _keep_copy(book)  # now that no other bench can write
        gone = _removed(entries)
        session.execute(delete(DraftRow).where(DraftRow.piece_id.in_(gone[PIECES])))
        for table in reversed(tables_in_order()):
            numbers = [{"number": n} for n in sorted(gone[table.name], reverse=True)]
            if numbers:
                one = delete(table).where(table.c.id == bindparam("number"))
                session.connection().execute(one, numbers)
    kept = [e for e in entries[PHOTOGRAPHS] if e["id"] not in gone[PHOTOGRAPHS]]
    still = {entry["sha256"] for entry in kept}
    files = {
        find_photo(book.photo_folders, entry["sha256"], entry["file_name"])
        for entry in entries[PHOTOGRAPHS]
        if entry["sha256"] not in still
    }
    aside = put_aside(book, sorted(file for file in files if file.exists()))
    if not book.place.on_server:
        _keep_copy(book)  # against which the next check holds it
    return Emptied({table: len(numbers) for table, numbers in gone.items()}, aside)


def _keep_copy(book: LogbookStore) -> None:
    if book.place.on_server:
        beside = book.place.folders["photographs"][0]
        write_archive(book, beside.with_name(f"before emptying {stamp()}.zip"))
    else:
        keep_copy(book.path, usual_copies(book.path))


def _removed(entries: Entries) -> dict[str, set[int]]:
    """Numbers of the rows that were removed, and of all that point to those, by table."""
    gone: dict[str, set[int]] = {}
    for table in tables_in_order():
        there = pointers(table)
        found = [
            entry
            for entry in entries[table.name]
            if entry.get("removed_at") or any(entry[c] in gone.get(there[c], ()) for c in there)
        ]
        if table.name == CHANGES:
            found += [e for e in entries[CHANGES] if e["row_id"] in gone.get(e["table_name"], ())]
        gone[table.name] = numbers_of(found)
    return gone
