"""Which rows of one logbook another holds already, by what they say and not by their numbers.

A row is known by what it said when it was first written, so that one that was changed, put right
or left out since is still the same row. Where a table allows a value only once, such as a name,
rows with the same value are the same, too.
"""

import json
from collections import Counter
from hashlib import sha256
from typing import Any

from sqlalchemy import Table, UniqueConstraint

from tonematch.logbook.archive.entries import (
    CHANGES,
    Entries,
    birth,
    pointers,
    tables_in_order,
)
from tonematch.logbook.database.sums import SUM, Entry

Numbers = dict[str, dict[int, int]]
"""By table: the number of a row in one logbook, and that of the same row in another."""

# Filled in later without a trace, since nothing is lost by it: no part of what a row is known by.
LATER = {
    SUM,
    *("findings", "ended_at", "trial_id", "retired_at"),
    *("lustre", "before_lustre", "after_lustre"),
}

_Key = tuple[str, int]


def same_rows(entries: Entries, held: Entries, *, by_value: bool = True) -> Numbers:
    """The rows among `entries` that `held` has already, each once.

    Without `by_value` only those that were written alike, whatever names they share.
    """
    ours, theirs = _keys(held), _keys(entries)
    same: Numbers = {}
    for table in tables_in_order():
        name = table.name
        by_key = {key: number for number, key in ours[name].items()}
        found = {n: by_key[key] for n, key in theirs[name].items() if key in by_key}
        for columns in _unique_columns(table) if by_value else ():
            by_values = {_values(table, e, columns): e["id"] for e in held[name]}
            for entry in entries[name]:
                value = _values(table, entry, columns, same)
                if entry["id"] not in found and value in by_values:
                    found[entry["id"]] = by_values[value]
        same[name] = found
    return same


def _keys(entries: Entries) -> dict[str, dict[int, _Key]]:
    """What each row is known by; of rows that say the same, which of them it is."""
    changes: dict[tuple[str, int], list[Entry]] = {}
    for change in entries[CHANGES]:
        changes.setdefault((change["table_name"], change["row_id"]), []).append(change)
    keys: dict[str, dict[int, _Key]] = {}
    for table in tables_in_order():
        count: Counter[str] = Counter()
        keys[table.name] = {}
        for entry in entries[table.name]:
            born = birth(table, entry, changes.get((table.name, entry["id"]), []))
            digest = _digest(table, born, keys)
            keys[table.name][entry["id"]] = (digest, count[digest])
            count[digest] += 1
    return keys


def _digest(table: Table, born: Entry, keys: dict[str, dict[int, _Key]]) -> str:
    for column, of in pointers(table).items():
        if born[column] is not None and column not in LATER:
            born[column] = keys[of].get(born[column])
    if table.name == CHANGES:
        born["row_id"] = keys[born["table_name"]].get(born["row_id"])
        born["before"] = None  # may hold numbers of rows
    said = {column: born[column] for column in born if column not in LATER | {"id"}}
    return sha256(json.dumps(said, sort_keys=True).encode()).hexdigest()


def _unique_columns(table: Table) -> list[list[str]]:
    return [
        [column.name for column in constraint.columns]
        for constraint in table.constraints
        if isinstance(constraint, UniqueConstraint)
    ]


def _values(
    table: Table, entry: Entry, columns: list[str], same: Numbers | None = None
) -> tuple[Any, ...]:
    """Values by which a row is the only one, pointing to the rows of the other logbook."""
    there = pointers(table)
    return tuple(
        same[there[c]].get(entry[c]) if same is not None and c in there else entry[c]
        for c in columns
    )


def renumbered(table: Table, entry: Entry, numbers: Numbers) -> Entry:
    """A row with all that it points to, and its own number, as `numbers` has them; no sum yet."""
    there = pointers(table)

    def moved(of: str, number: int | None) -> int | None:
        return None if number is None else numbers[of].get(number, number)

    new = {c: moved(there[c], v) if c in there else v for c, v in entry.items()}
    new["id"] = numbers[table.name].get(entry["id"], entry["id"])
    del new[SUM]  # that of other numbers
    return new
