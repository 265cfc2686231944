"""The rows of a logbook as they stand in its tables, whatever columns these have.

An entry is a row as plain values (text, numbers, lists) by the names of its columns.
"""

from sqlalchemy import MetaData, Table
from sqlalchemy.orm import Session

from tonematch.logbook.database.cells import Number
from tonematch.logbook.database.sums import Entry, plain_rows
from tonematch.logbook.database.tables import (
    Base,
    ChangeRow,
    DraftRow,
    JudgementRow,
    PhotographRow,
    PieceRow,
)
from tonematch.logbook.stores.corrections import earlier_values

Entries = dict[str, list[Entry]]

CHANGES, PHOTOGRAPHS, PIECES, DRAFTS, JUDGEMENTS = (
    str(row.__tablename__) for row in (ChangeRow, PhotographRow, PieceRow, DraftRow, JudgementRow)
)


def tables_in_order(metadata: MetaData = Base.metadata) -> list[Table]:
    """Every table of what lasts, after those that its rows point to; a change points to any."""
    lasting = (table for table in metadata.sorted_tables if table.name != DRAFTS)
    return sorted(lasting, key=lambda table: table.name == CHANGES)


def pointers(table: Table) -> dict[str, str]:
    """Columns of a table that hold the number of a row, and the table of that row."""
    return {key.parent.name: key.column.table.name for key in table.foreign_keys}


def all_entries(session: Session) -> Entries:
    """Every row of a logbook by its table."""
    connection = session.connection()
    return {table.name: list(plain_rows(connection, table)) for table in tables_in_order()}


def of_piece(entries: Entries, name: str) -> Entries:
    """What belongs to one piece, and the gilder's own shelf, which belongs to all.

    What the gilder's own eye said goes with none.
    """
    chosen: Entries = {}
    for table in tables_in_order():
        held, owners = entries[table.name], _owners(table)
        if table.name == PIECES:
            held = [entry for entry in held if entry["name"] == name]
        elif table.name == JUDGEMENTS:
            held = []
        elif table.name == CHANGES:
            numbers = {of: numbers_of(rows) for of, rows in chosen.items()}
            held = [e for e in held if e["row_id"] in numbers.get(e["table_name"], ())]
        elif owners:
            (column, owner), *_ = owners.items()
            numbers_there = numbers_of(chosen[owner])
            held = [entry for entry in held if entry[column] in numbers_there]
        chosen[table.name] = held
    return chosen


def _owners(table: Table) -> dict[str, str]:
    """What a row belongs to: its piece, where it names one, or else what it points to."""
    there = pointers(table)
    return {c: of for c, of in there.items() if of == PIECES} or there


def numbers_of(entries: list[Entry]) -> set[int]:
    """The numbers of some rows."""
    return {entry["id"] for entry in entries}


def birth(table: Table, entry: Entry, changes: list[Entry]) -> Entry:
    """A row as it was first written: its changes, the oldest first, are taken back.

    Numbers in columns of measured values are floats, since JSON has 2 for 2.0.
    """
    born = dict(entry)
    for change in reversed(changes):
        born |= {c: v for c, v in earlier_values(change["before"]).items() if c in born}
    decimal = {column.name for column in table.c if isinstance(column.type, Number)}
    return {c: float(v) if c in decimal and v is not None else v for c, v in born.items()}
