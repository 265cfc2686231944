"""An archive brought into a logbook: what is not there is added, what is there stays as it is."""

from dataclasses import dataclass
from pathlib import Path
from typing import Any

from sqlalchemy import Table, func, select
from sqlalchemy.orm import Session

from tonematch.errors import LogbookError
from tonematch.logbook.archive.entries import (
    CHANGES,
    PHOTOGRAPHS,
    Entries,
    all_entries,
    pointers,
    tables_in_order,
)
from tonematch.logbook.archive.matching import Numbers, renumbered, same_rows
from tonematch.logbook.archive.reading import Arrived, open_archive
from tonematch.logbook.archive.workshop import OwnTaken, take_own
from tonematch.logbook.database.logbook_store import LogbookStore
from tonematch.logbook.database.sums import SUM, Entry, insert_rows
from tonematch.logbook.database.tables import LaidRow, PieceRow, TrialRow
from tonematch.logbook.photo_folder import find_photo, keep_bytes
from tonematch.logbook.stores import finding
from tonematch.logbook.stores.corrections import CORRECTED, PUT_BACK


@dataclass(frozen=True)
class BroughtIn:
    """How many rows of each table were added, and were here already.

    `different` are those that were here and read otherwise, `lost` photographs that the archive
    had lost before, by file name; `own` says of the workshop's own files which were taken.
    """

    added: dict[str, int]
    held: dict[str, int]
    different: dict[str, int]
    lost: tuple[str, ...]
    own: OwnTaken


def bring_in(book: LogbookStore, archive: Path) -> BroughtIn:
    """Add to a logbook all that an archive holds and it does not, or nothing.

    Raises LogbookError where the archive is not sound, or does not go together with the logbook.
    """
    with open_archive(archive) as arrived, book.writing() as session:
        held = all_entries(session)
        same = same_rows(arrived.entries, held)
        new = _new_rows(arrived.entries, same)
        kinds = finding.kinds_of_layers(session)
        numbers = _numbers(session, new, same)
        rows = {t.name: [_placed(t, e, numbers) for e in new[t.name]] for t in tables_in_order()}
        for table in tables_in_order():
            insert_rows(session.connection(), table, rows[table.name])
        _refuse_two_in_progress(session, archive)
        _refuse_zone_beside_whole(session, archive)
        _refuse_other_kinds(rows, kinds, archive)
        lost = _keep_photographs(book, arrived)
        return BroughtIn(
            {name: len(added) for name, added in rows.items()},
            {name: len(known) for name, known in same.items()},
            {t.name: _count_different(t, arrived.entries, held, same) for t in tables_in_order()},
            lost,
            take_own(arrived.own),
        )


def _new_rows(entries: Entries, same: Numbers) -> Entries:
    """Rows that are not there; a change only with the row that it is of."""
    new = {name: [e for e in rows if e["id"] not in same[name]] for name, rows in entries.items()}
    new[CHANGES] = [e for e in new[CHANGES] if e["row_id"] not in same[e["table_name"]]]
    return new


def _numbers(session: Session, new: Entries, same: Numbers) -> Numbers:
    """The number of every row here: as it was where nothing is here yet, or after the last one."""
    numbers = {}
    for table in tables_in_order():
        last = session.scalar(select(func.max(table.c.id)))
        own = [entry["id"] for entry in new[table.name]]
        numbers[table.name] = same[table.name] | {
            number: number if last is None else last + place
            for place, number in enumerate(own, start=1)
        }
    return numbers


def _placed(table: Table, entry: Entry, numbers: Numbers) -> Entry:
    new = renumbered(table, entry, numbers)
    if table.name == CHANGES:
        of = entry["table_name"]
        new["row_id"] = numbers[of][entry["row_id"]]
        new["before"] = _placed_trace(entry["before"], of, numbers)
    return new


def _placed_trace(before: dict[str, Any], of: str, numbers: Numbers) -> dict[str, Any]:
    """A trace may hold what a row pointed to before."""
    (table,) = (table for table in tables_in_order() if table.name == of)
    words = [word for word in (CORRECTED, PUT_BACK) if word in before]
    if words:
        return {word: _placed_trace(before[word], of, numbers) for word in words}
    there = pointers(table)
    return {c: numbers[there[c]].get(v, v) if c in there else v for c, v in before.items()}


def _refuse_two_in_progress(session: Session, archive: Path) -> None:
    several = (
        select(PieceRow.name)
        .join(LaidRow, LaidRow.piece_id == PieceRow.id)
        .where(LaidRow.ended_at.is_(None))
        .group_by(PieceRow.id)
        .having(func.count() > 1)
    )
    for name in session.scalars(several):
        raise LogbookError(
            f"A layer is in progress on {name}, and another one in {archive}: log the one here or "
            "call it off first; nothing was brought in."
        )


def _refuse_zone_beside_whole(session: Session, archive: Path) -> None:
    whole = select(PieceRow.name).where(PieceRow.zone == "")
    zoned = select(PieceRow.name).where(PieceRow.zone != "", PieceRow.name.in_(whole))
    for name in session.scalars(zoned):
        raise LogbookError(
            f"{name} is one gold here or in {archive}, and has zones in the other: name the zone "
            "that has no name; nothing was brought in."
        )


def _refuse_other_kinds(rows: Entries, kinds: dict[str, str], archive: Path) -> None:
    for trial in rows[str(TrialRow.__tablename__)]:
        kind = kinds.get(trial["layer"].casefold(), trial["kind"])
        if kind != trial["kind"] and not trial["excluded"]:
            raise LogbookError(
                f"{trial['layer']!r} is a {trial['kind']} in {archive} and a {kind} in the trials "
                "here: rename the layer in one of the two; nothing was brought in."
            )


def _keep_photographs(book: LogbookStore, arrived: Arrived) -> tuple[str, ...]:
    """Put every photograph beside the logbook; gives those that the archive has lost."""
    lost = []
    for entry in arrived.entries[PHOTOGRAPHS]:
        data = arrived.photograph(entry)
        if data is not None:
            keep_bytes(book.photographs, data, entry["file_name"])
        elif not find_photo(book.photo_folders, entry["sha256"], entry["file_name"]).exists():
            lost.append(entry["file_name"])
    return tuple(lost)


def _count_different(table: Table, entries: Entries, held: Entries, same: Numbers) -> int:
    by_number = {entry["id"]: entry for entry in held[table.name]}
    known = same[table.name]
    return sum(
        _placed(table, entry, same) | {SUM: ""} != by_number[known[entry["id"]]] | {SUM: ""}
        for entry in entries[table.name]
        if entry["id"] in known
    )
