"""Values in a logbook that cannot be what was written."""

from collections.abc import Iterator
from typing import Any

from sqlalchemy import JSON, select
from sqlalchemy.ext.compiler import compiles
from sqlalchemy.orm import Session
from sqlalchemy.sql.functions import FunctionElement

from tonematch.errors import LogbookError
from tonematch.logbook.database.cells import fits
from tonematch.logbook.database.rows import layer_of
from tonematch.logbook.database.sums import has_its_sum, plain_rows
from tonematch.logbook.database.tables import Base, LayerRow


def refuse_damage(session: Session) -> None:
    """Raise LogbookError for the first value that cannot be what was written."""
    for place in damaged_places(session):
        raise LogbookError(
            f"The logbook is damaged in table {place}: put back the newest copy that you have of "
            "it (tonematch logbook restore)."
        )


def damaged_places(session: Session) -> Iterator[str]:
    """Where a value stands that cannot be what was written, in words."""
    for table in Base.metadata.sorted_tables:
        query = select(table).order_by(table.c.id).execution_options(yield_per=1000)
        for row in session.execute(query).mappings():
            for column in table.c:
                if not fits(row[column], column):
                    yield f"{table.name}, row {row[table.c.id]}, column {column.name}"
        for plain in plain_rows(session.connection(), table):
            if not has_its_sum(plain):
                yield f"{table.name}, row {plain['id']}"
    for number in session.scalars(select(LayerRow.id)).all():  # an entry is more than its cell
        try:
            layer_of(session.get_one(LayerRow, number))
        except LogbookError:
            yield f"layers, row {number}, column entry"


class sound_json(FunctionElement[Any]):  # noqa: N801 - stands in a query as a function does
    """JSON of a cell, by whose parts rows are looked for; an empty object where it is damaged."""

    type = JSON()
    inherit_cache = True


@compiles(sound_json)
def _as_kept(element: sound_json, compiler: Any, **options: Any) -> str:
    return str(compiler.process(element.clauses, **options))  # a server keeps no JSON that is none


@compiles(sound_json, "sqlite")
def _checked(element: sound_json, compiler: Any, **options: Any) -> str:
    kept = compiler.process(element.clauses, **options)
    return f"iif(json_valid({kept}), {kept}, '{{}}')"
