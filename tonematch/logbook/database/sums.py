"""A sum of each row, by which a value that changed without being written is noticed.

It is the beginning of the SHA-256 of all that the row says, by column. It is computed here alone,
from what the database gives back: when rows are written, and when tables are brought up to date.
"""

import json
from collections.abc import Iterable, Iterator, Mapping
from hashlib import sha256
from typing import Any

from sqlalchemy import (
    Column,
    Connection,
    MetaData,
    Table,
    bindparam,
    func,
    insert,
    select,
    type_coerce,
    update,
)
from sqlalchemy.orm import Session

from tonematch.logbook.database.cells import Cell

SUM = "sum"
_DIGITS = 16  # 64 bits: against bits that a disk loses, not against a forger
_AT_ONCE = 1000  # rows asked for by their numbers: SQLite takes only so many in one query

Entry = dict[str, Any]


def plain_rows(
    connection: Connection, table: Table, numbers: list[int] | None = None
) -> Iterator[Entry]:
    """Rows as plain values (text, numbers, lists) by the names of their columns, oldest first."""
    columns = [type_coerce(column, _plain(column)).label(column.name) for column in table.c]
    query = select(*columns).order_by(table.c.id)
    if numbers is None:
        query = query.execution_options(yield_per=_AT_ONCE)
    else:
        query = query.where(table.c.id.in_(numbers))
    return map(dict, connection.execute(query).mappings())


def _plain(column: Column[Any]) -> Any:
    return column.type.impl if isinstance(column.type, Cell) else column.type


def has_its_sum(row: Mapping[str, Any]) -> bool:
    """Whether a plain row says what it said when it was written."""
    return bool(row[SUM] == sum_of(row))


def sum_of(row: Mapping[str, Any]) -> str:
    """The sum of a plain row."""
    said = {name: value for name, value in row.items() if name != SUM}
    # What cannot be read is no plain value, and has another sum than what could.
    return sha256(json.dumps(said, sort_keys=True, default=repr).encode()).hexdigest()[:_DIGITS]


def set_sums(connection: Connection, table: Table, numbers: Iterable[int]) -> None:
    """Give the rows of these numbers the sums of what they say now."""
    wanted = sorted(numbers)
    statement = update(table).where(table.c.id == bindparam("row")).values(sum=bindparam("now"))
    for start in range(0, len(wanted), _AT_ONCE):
        rows = list(plain_rows(connection, table, wanted[start : start + _AT_ONCE]))
        if rows:
            connection.execute(statement, [{"row": r["id"], "now": sum_of(r)} for r in rows])


def insert_rows(connection: Connection, table: Table, rows: list[Entry]) -> None:
    """Write rows that have their numbers already past the session, with their sums."""
    if rows:
        connection.execute(insert(table), rows)
        set_sums(connection, table, (row["id"] for row in rows))
        if connection.dialect.name == "postgresql":  # which counts by itself, and not these
            counter = func.pg_get_serial_sequence(table.name, table.c.id.name)
            connection.execute(select(func.setval(counter, func.max(table.c.id))))


def sum_what_was_written(session: Session, _flushing: object) -> None:
    """Called by a session when it has written its rows."""
    numbers: dict[Table, set[int]] = {}
    for row in (*session.new, *session.dirty):
        numbers.setdefault(row.__table__, set()).add(row.id)
    for table, written in numbers.items():
        set_sums(session.connection(), table, written)


def rows_with_wrong_sums(connection: Connection) -> dict[str, set[int]]:
    """Numbers of the rows that say something else than was written, by table."""
    return {
        table.name: {row["id"] for row in plain_rows(connection, table) if not has_its_sum(row)}
        for table in _tables_with_sums(connection)
    }


def sum_anew(connection: Connection, wrong: Mapping[str, set[int]]) -> None:
    """Give every row its sum, after the tables were altered, but for those that were wrong."""
    for table in _tables_with_sums(connection):
        numbers = set(connection.scalars(select(table.c.id))) - wrong.get(table.name, set())
        set_sums(connection, table, numbers)


def _tables_with_sums(connection: Connection) -> list[Table]:
    """The tables as they are at this step."""
    metadata = MetaData()
    metadata.reflect(connection)
    return [table for table in metadata.sorted_tables if SUM in table.c]
