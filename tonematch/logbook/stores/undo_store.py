"""What was altered or taken out, undone by one action: the same for all that a logbook holds.

Every alteration leaves changes behind, those of one act with one moment. Undoing gives each row
what it held before, the last first, and leaves changes of its own, which point to those.
"""

from collections.abc import Sequence

from sqlalchemy import ColumnElement, Select, select
from sqlalchemy.exc import IntegrityError
from sqlalchemy.orm import Session

from tonematch.errors import LogbookError
from tonematch.logbook.core import Act
from tonematch.logbook.database import rows
from tonematch.logbook.database.logbook_store import LogbookStore
from tonematch.logbook.database.tables import Base, ChangeRow, LaidRow, LayerRow, PieceRow, TrialRow
from tonematch.logbook.stores import finding, zones
from tonematch.logbook.stores.corrections import earlier_values
from tonematch.logbook.trial_check import check_trial

_TABLES: dict[str, type[Base]] = {
    str(mapper.class_.__tablename__): mapper.class_ for mapper in Base.registry.mappers
}


class UndoStore(LogbookStore):
    """What was done to the logbook, and taken back."""

    def acts(self, count: int = 1) -> list[Act]:
        """The last acts that stand, each with all that was altered by it, the newest first."""
        found: list[Act] = []
        with self.reading() as session:
            last = _last(session)
            while last is not None and len(found) < count:
                found.append(_act(session, last))
                last = _last(session, ChangeRow.id < found[-1].number)
        return found

    def undo(self, number: int | None = None, reason: str = "") -> Act:
        """Take back the last act that stands, or the one of this number.

        Raises LogbookError where there is none, or what it altered was altered again since, or it
        cannot stand beside what is there now (then TrialError for a trial).
        """
        with self.writing() as session:
            last = _last(session, *([] if number is None else [ChangeRow.id == number]))
            if last is None:
                what = "No change in the logbook" if number is None else f"No change {number}"
                raise LogbookError(
                    f"{what} is left to undo: 'tonematch logbook undo --list' tells what is."
                )
            act = _act(session, last)
            undo_changes(session, _of_act(session, last), reason)
            return act


def undo_changes(session: Session, changes: Sequence[ChangeRow], reason: str = "") -> None:
    """Give rows back what they held before some changes, the oldest of them first in order."""
    try:
        with session.no_autoflush:
            touched = [_undo_change(session, change, changes, reason) for change in changes[::-1]]
        session.flush()
    except IntegrityError as error:
        raise LogbookError(
            "This cannot be undone, since something else has its name now: rename that first."
        ) from error
    for row in touched:
        session.refresh(row)
        _check(session, row)


def _undo_change(
    session: Session, change: ChangeRow, together: Sequence[ChangeRow], reason: str
) -> Base:
    row: Base | None = session.get(_TABLES[change.table_name], change.row_id)
    if row is None:
        raise LogbookError("What was altered then is no longer in the logbook.")
    earlier = {c: v for c, v in earlier_values(change.before).items() if hasattr(row, c)}
    _refuse_altered_since(session, change, together, set(earlier))
    finding.alter(session, row, earlier, f"undone: {change.words}", reason, undoes=change.id)
    return row


def _standing() -> Select[ChangeRow]:
    undone = select(ChangeRow.undoes).where(ChangeRow.undoes.is_not(None))
    return select(ChangeRow).where(ChangeRow.undoes.is_(None), ChangeRow.id.not_in(undone))


def _last(session: Session, *conditions: ColumnElement[bool]) -> ChangeRow | None:
    query = _standing().where(*conditions).order_by(ChangeRow.id.desc()).limit(1)
    return session.scalars(query).one_or_none()


def _of_act(session: Session, change: ChangeRow) -> list[ChangeRow]:
    together = (ChangeRow.made_at == change.made_at, ChangeRow.bench == change.bench)
    return list(session.scalars(_standing().where(*together).order_by(ChangeRow.id)))


def _act(session: Session, change: ChangeRow) -> Act:
    first, *others = _of_act(session, change)
    also = f", and {len(others)} more" if others else ""
    words = f"{_name(session, first)} {first.words}{also}"
    return Act(first.id, words, first.reason, first.made_at, first.bench)


def _name(session: Session, change: ChangeRow) -> str:
    """What was altered, as a gilder calls it."""
    row = session.get(_TABLES[change.table_name], change.row_id)
    if isinstance(row, PieceRow):
        return rows.piece_of(row).title
    if isinstance(row, TrialRow | LaidRow):
        return f"{rows.change_of(change).subject} ({row.layer})"
    return getattr(row, "name", rows.change_of(change).subject)


def _refuse_altered_since(
    session: Session, change: ChangeRow, together: Sequence[ChangeRow], columns: set[str]
) -> None:
    of_row = (ChangeRow.table_name == change.table_name, ChangeRow.row_id == change.row_id)
    for later in session.scalars(_standing().where(*of_row, ChangeRow.id > change.id)):
        if later not in together and columns & set(earlier_values(later.before)):
            raise LogbookError(
                f"{_name(session, later)} was altered again since ({later.words}): undo change "
                f"{later.id} first."
            )


def _check(session: Session, row: Base) -> None:
    """Refuse what cannot stand beside all else any more."""
    if isinstance(row, TrialRow) and not row.excluded:
        check_trial(rows.trial_of(row), finding.kinds_of_layers(session, beside=row.id))
    elif isinstance(row, LayerRow):
        finding.refuse_other_kind(session, rows.layer_of(row))
    elif isinstance(row, PieceRow):
        zones.check_beside_others(session, row)
    elif isinstance(row, LaidRow):
        finding.refuse_two_in_progress(session, row.piece_id)
