"""Rows found by the names that people use, or the sentence that says there is none."""

from collections.abc import Iterable, Mapping
from datetime import UTC, datetime
from typing import TypeVar

from sqlalchemy import ColumnElement, Select, and_, func, or_, select
from sqlalchemy.orm import Session, joinedload

from tonematch.errors import LogbookError
from tonematch.logbook.core import (
    Change,
    KeptComparison,
    LayerInProgress,
    bench_name,
)
from tonematch.logbook.database import rows
from tonematch.logbook.database.tables import (
    Base,
    ChangeRow,
    ComparisonRow,
    LaidRow,
    LayerRow,
    PhotographRow,
    PieceRow,
    ReadingRow,
    TrialRow,
)
from tonematch.measure.calibration.aids import Aids
from tonematch.measure.core import Reading
from tonematch.toning.core import Layer
from tonematch.toning.layers.layer_entry import MOST_TEXT, fault_of_length

_Row = TypeVar("_Row", bound=Base)


def trial_numbered(session: Session, trial_id: int) -> TrialRow:
    """Row of a trial; LogbookError where there is none."""
    row = session.get(TrialRow, trial_id)
    if row is None:
        raise LogbookError(
            f"No trial {trial_id} is in the logbook: 'tonematch trials list' tells their numbers."
        )
    return row


def comparison_numbered(session: Session, comparison_id: int) -> ComparisonRow:
    """Row of a comparison; LogbookError where there is none."""
    row = session.get(ComparisonRow, comparison_id)
    if row is None:
        raise LogbookError(
            f"No comparison {comparison_id} is in the logbook: keep the comparison first."
        )
    return row


def kinds_of_layers(session: Session, *, beside: int | None = None) -> dict[str, str]:
    """Kind of each layer that trials are learned from, by its name without regard to capitals.

    Of all trials, or of all but the one with the number `beside`.
    """
    query = select(TrialRow.layer, TrialRow.kind).where(TrialRow.excluded.is_(False)).distinct()
    if beside is not None:
        query = query.where(TrialRow.id != beside)
    return {layer.casefold(): kind for layer, kind in session.execute(query)}


def photograph_id(session: Session, piece_id: int | None, sha256: str) -> int | None:
    """Number of a piece's photograph, or None where it is not kept."""
    return session.scalars(
        select(PhotographRow.id).where(
            PhotographRow.piece_id == piece_id, PhotographRow.sha256 == sha256
        )
    ).one_or_none()


def new_reading_row(
    session: Session,
    reading: Reading,
    piece_id: int | None,
    aids: Mapping[str, Aids] | None = None,
) -> ReadingRow:
    """Row for a reading, tied to its photograph where the piece has that.

    `aids` are those of each photograph, by its SHA-256.
    """
    photograph = photograph_id(session, piece_id, reading.photo_sha256)
    helped = (aids or {}).get(reading.photo_sha256)
    return rows.reading_row(reading, piece_id, photograph, helped)


def layer_named(session: Session, name: str) -> LayerRow:
    """Row of a layer of the gilder's own shelf; LogbookError where there is none."""
    row = session.scalars(select(LayerRow).where(LayerRow.name == name)).one_or_none()
    if row is None:
        raise LogbookError(
            f"No layer {name!r} is on your own shelf: see its list for what is there."
        )
    return row


def refuse_taken_layer(session: Session, name: str) -> None:
    """Raise LogbookError when a layer of this name is or was on the gilder's own shelf."""
    row = session.scalars(select(LayerRow).where(LayerRow.name == name)).one_or_none()
    if row is not None:
        state = "is" if row.retired_at is None else "was once"
        remedy = "change" if row.retired_at is None else "bring back"
        raise LogbookError(
            f"A layer named {name!r} {state} on your own shelf: {remedy} that one, or give the new "
            "one another name."
        )


def refuse_other_kind(session: Session, layer: Layer) -> None:
    """Raise LogbookError when trials know a layer of this name as another kind."""
    kind = kinds_of_layers(session).get(layer.name.casefold(), layer.kind)
    if kind != layer.kind:
        raise LogbookError(
            f"{layer.name!r} is a {kind} in its trials and cannot be a {layer.kind}: give the "
            f"{layer.kind} a name of its own."
        )


def refuse_two_in_progress(session: Session, piece_id: int) -> None:
    """Raise LogbookError when more than one layer is in progress on a piece."""
    waiting = select(func.count(LaidRow.id)).where(
        LaidRow.piece_id == piece_id, LaidRow.ended_at.is_(None)
    )
    if session.scalars(waiting).one() > 1:
        raise LogbookError(
            "Another layer is in progress on this piece: log that one or call it off first."
        )


def all_of(table: type[_Row], *conditions: ColumnElement[bool]) -> Select[_Row]:
    """Rows of a table for which all conditions hold, oldest first."""
    return select(table).where(*conditions).order_by(table.id)


def last_comparison(session: Session, piece_id: int) -> KeptComparison | None:
    """A piece's latest comparison."""
    query = select(ComparisonRow).where(ComparisonRow.piece_id == piece_id)
    row = session.scalars(query.order_by(ComparisonRow.id.desc()).limit(1)).one_or_none()
    return None if row is None else rows.comparison_of(row)


def layer_in_progress(session: Session, piece_id: int) -> LayerInProgress | None:
    """What was laid on a piece and waits for its photograph."""
    waiting = all_of(LaidRow, LaidRow.piece_id == piece_id, LaidRow.ended_at.is_(None))
    row = session.scalars(waiting).one_or_none()
    return None if row is None else rows.laid_of(row)


def trial_query(
    pieces: Iterable[PieceRow] | None = None, layer: str | None = None
) -> Select[TrialRow]:
    """Trials with their pieces, oldest first; only those of some or of a layer where given."""
    query = all_of(TrialRow).options(joinedload(TrialRow.piece))
    if pieces is not None:
        query = query.where(TrialRow.piece_id.in_([row.id for row in pieces]))
    if layer is not None:
        query = query.where(TrialRow.layer == layer)
    return query


def trial_changes(session: Session, trial_id: int | None = None) -> list[ChangeRow]:
    """What was altered of one trial, or of all of them, oldest first."""
    query = all_of(ChangeRow, ChangeRow.table_name == TrialRow.__tablename__)
    if trial_id is not None:
        query = query.where(ChangeRow.row_id == trial_id)
    return list(session.scalars(query))


def changes_of(session: Session, *altered: Base) -> tuple[Change, ...]:
    """What was altered of some rows, oldest first."""
    numbers: dict[str, list[int]] = {}
    for row in altered:
        numbers.setdefault(row.__tablename__, []).append(row.id)
    each = [
        and_(ChangeRow.table_name == table, ChangeRow.row_id.in_(of_table))
        for table, of_table in numbers.items()
    ]
    return tuple(map(rows.change_of, session.scalars(all_of(ChangeRow, or_(*each)))))


def own_layers(session: Session, *, retired: bool) -> tuple[Layer, ...]:
    """Layers of the gilder's own shelf, with those that were retired or without."""
    query = all_of(LayerRow)
    if not retired:
        query = query.where(LayerRow.retired_at.is_(None))
    return tuple(map(rows.layer_of, session.scalars(query)))


def alter(
    session: Session,
    row: Base,
    new: Mapping[str, object],
    words: str,
    reason: str = "",
    *,
    under: str = "",
    undoes: int | None = None,
) -> bool:
    """Give a row new values by column, and leave a trace of those that differ; False where none.

    `under` is the word that they stand under in the trace, `undoes` the number of the change that
    is undone. Raises LogbookError for too long a reason.
    """
    if long := fault_of_length(reason, MOST_TEXT):
        raise LogbookError(f"The reason cannot be kept: {long}.")
    before = {name: getattr(row, name) for name in new if getattr(row, name) != new[name]}
    if not before and undoes is None:
        return False
    change = ChangeRow(
        table_name=row.__tablename__,
        row_id=row.id,
        words=words,
        before={under: before} if under else before,
        reason=reason,
        made_at=session.info.setdefault("act", datetime.now(UTC).isoformat()),
        bench=bench_name(),
        undoes=undoes,
    )
    session.add(change)
    for name in before:
        setattr(row, name, new[name])
    return True
