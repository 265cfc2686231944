"""What was altered or taken out, undone by one action: the same for all that a logbook holds.

Trials are put right where they stand, and put back as they were.
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
from tonematch.logbook.stores.corrections import (
    CORRECTED,
    earlier_values,
    say_correction,
    standing_corrections,
    values_after,
    with_values,
)
from tonematch.logbook.trial_check import check_trial
from tonematch.toning.core import Trial

_TABLES: dict[str, type[Base]] = {
    str(mapper.class_.__tablename__): mapper.class_ for mapper in Base.registry.mappers
}


class UndoStore(LogbookStore):
    """What was done to the logbook, and taken back; trials put right in their place."""

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
                if number is None:
                    raise LogbookError("No change in the logbook is left to undo.")
                raise LogbookError(
                    f"No change {number} is left to undo: 'tonematch logbook undo --list' tells "
                    "what is."
                )
            act = _act(session, last)
            _undo_changes(session, _of_act(session, last), reason)
            return act

    def correct_trial(
        self,
        trial_id: int,
        trial: Trial,
        *,
        cautions: Sequence[str] | None = None,
        reason: str = "",
    ) -> None:
        """Put right what was mistyped: layer, strength, coats, colours and lustres.

        Piece, date, step, note, technique and finish stay what they were, and so do the cautions
        unless they are given. A colour that is no longer that of its reading lets go of the
        reading, and a prediction that was made for other values is dropped; both stay in the trace.
        A lustre stays where the trial gives none, and goes with its colour where before and after
        were swapped.

        Raises LogbookError when there is no such trial, or nothing of it would change, TrialError
        when a value cannot be kept.
        """
        with self.writing() as session:
            row = finding.trial_numbered(session, trial_id)
            new, held = values_after(row, trial, cautions), rows.trial_of(row)
            right = with_values(held, new)
            # Its own former kind must not speak against the new one.
            check_trial(right, finding.kinds_of_layers(session, beside=row.id))
            words = f"put right: {say_correction(held, right)}"
            if not finding.alter(session, row, new, words, reason, under=CORRECTED):
                raise LogbookError(
                    f"Trial {trial_id} reads so already: change the value that is wrong first."
                )

    def put_back_trial(self, trial_id: int, reason: str = "") -> None:
        """Take back the last correction of a trial that still stands.

        Raises LogbookError when there is no such trial or correction, TrialError when its earlier
        values cannot stand beside the other trials any more.
        """
        with self.writing() as session:
            finding.trial_numbered(session, trial_id)
            standing = standing_corrections(finding.trial_changes(session, trial_id))
            if trial_id not in standing:
                raise LogbookError(
                    f"Trial {trial_id} reads as it was first written: there is nothing to put back."
                )
            _undo_changes(session, standing[trial_id][-1:], reason)

    def corrected_trials(self) -> dict[int, Trial]:
        """Trials whose correction stands, by number, each as it read before the last one."""
        with self.reading() as session:
            standing = standing_corrections(finding.trial_changes(session))
            held = {n: rows.trial_of(finding.trial_numbered(session, n)) for n in standing}
            return {
                n: with_values(held[n], earlier_values(changes[-1].before))
                for n, changes in standing.items()
            }


def _undo_changes(session: Session, changes: Sequence[ChangeRow], reason: str = "") -> None:
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
