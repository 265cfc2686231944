"""The part of the logbook that is learned from: trials."""

from collections.abc import Iterable, Sequence
from typing import Any

from sqlalchemy import func, select
from sqlalchemy.orm import Session, joinedload

from tonematch.logbook.core import KeptTrial
from tonematch.logbook.database import rows
from tonematch.logbook.database.logbook_store import LogbookStore
from tonematch.logbook.database.sums import insert_rows
from tonematch.logbook.database.tables import Base, PieceRow, ReadingRow, TrialRow
from tonematch.logbook.stores import finding, zones
from tonematch.logbook.stores.trial_match import places_held
from tonematch.logbook.trial_check import check_trial
from tonematch.measure.core import Reading
from tonematch.toning.core import Prediction, Trial

_AT_ONCE = 5000  # rows written by one statement, so that many of them take little memory
_TABLE = Base.metadata.tables[TrialRow.__tablename__]


class TrialStore(LogbookStore):
    """Trials, kept one by one or as a table, excluded and included."""

    def add_trial(
        self,
        trial: Trial,
        *,
        before: Reading | None = None,
        after: Reading | None = None,
        prediction: Prediction | None = None,
        cautions: Sequence[str] = (),
    ) -> int:
        """Keep one trial as it was made at the bench; gives its number in the logbook.

        A piece that the logbook does not know yet is added under its name. The readings are those
        behind the trial's colours, and behind its lustres where it has none; the prediction is what
        the layer model had foretold; cautions are rules of layering that the trial touched. Raises
        TrialError when a value cannot be kept.
        """
        with self.writing() as session:
            return self._add_trial(session, trial, before, after, prediction, cautions)

    def _add_trial(
        self,
        session: Session,
        trial: Trial,
        before: Reading | None,
        after: Reading | None,
        prediction: Prediction | None,
        cautions: Sequence[str],
    ) -> int:
        check_trial(trial, finding.kinds_of_layers(session))
        row = rows.trial_row(trial)
        row.before_lustre = _lustre(row.before_lustre, before)
        row.after_lustre = _lustre(row.after_lustre, after)
        pieces = zones.pieces_by_name(session)
        row.piece = zones.piece_row_for_trial(session, trial, pieces)
        session.add(row)
        session.flush()
        row.before, row.after = (
            None if reading is None else finding.new_reading_row(session, reading, row.piece_id)
            for reading in (before, after)
        )
        row.prediction, row.cautions = prediction, tuple(cautions)
        session.flush()
        return row.id

    def add_trials(self, trials: Iterable[Trial]) -> int:
        """Keep many trials, all of them or none; gives how many were added.

        A trial that the logbook holds already, equal in every field to what it reads now or read
        before a correction, is not added again, so that the same file can be taken twice; its zone
        may have been named since. Where only one of the two has a lustre, that is kept. Pieces and
        zones that the logbook does not know yet are added under their names. Raises TrialError when
        a value cannot be kept, LogbookError when it cannot be told which gold of a piece is meant.
        """
        wanted = list(trials)
        with self.writing() as session:
            kinds = finding.kinds_of_layers(session)
            for trial in wanted:
                check_trial(trial, kinds)
            met = places_held(session, wanted)
            new = [trial for place, trial in enumerate(wanted) if place not in met]
            pieces = zones.pieces_by_name(session)
            of_piece = [zones.piece_row_for_trial(session, trial, pieces) for trial in new]
            session.flush()  # a piece has its number then
            last = session.scalars(select(func.max(TrialRow.id))).one() or 0
            for start in range(0, len(new), _AT_ONCE):
                some = range(start, min(start + _AT_ONCE, len(new)))
                made = [_cells(last + 1 + at, new[at], of_piece[at]) for at in some]
                insert_rows(session.connection(), _TABLE, made)
        return len(new)

    def trials(
        self, piece: str | None = None, layer: str | None = None, zone: str = ""
    ) -> list[Trial]:
        """Trials to learn from, oldest first: all not excluded.

        Of a piece, or its zone, or a layer, where given.
        """
        with self.reading() as session:
            query = finding.trial_query(zones.asked(session, piece, zone), layer)
            readings = map(joinedload, (TrialRow.before, TrialRow.after))
            own = (one.load_only(ReadingRow.own_covariance) for one in readings)
            query = query.where(TrialRow.excluded.is_(False)).options(*own)
            return [rows.trial_as_read(row) for row in session.scalars(query)]

    def kept_trials(
        self, piece: str | None = None, layer: str | None = None, zone: str = ""
    ) -> list[KeptTrial]:
        """Trials with their numbers, readings and predictions, excluded ones among them."""
        with self.reading() as session:
            query = finding.trial_query(zones.asked(session, piece, zone), layer)
            return [rows.kept_trial_of(row) for row in session.scalars(query)]

    def kept_trial(self, trial_id: int) -> KeptTrial:
        """One trial by its number; LogbookError where there is none."""
        with self.reading() as session:
            return rows.kept_trial_of(finding.trial_numbered(session, trial_id))

    def exclude_trial(self, trial_id: int, reason: str = "") -> None:
        """Learn nothing from a trial; it stays in the logbook."""
        self._mark_trial(trial_id, reason, excluded=True)

    def include_trial(self, trial_id: int, reason: str = "") -> None:
        """Learn from a trial again."""
        self._mark_trial(trial_id, reason, excluded=False)

    def _mark_trial(self, trial_id: int, reason: str, *, excluded: bool) -> None:
        with self.writing() as session:
            row = finding.trial_numbered(session, trial_id)
            words = "left out" if excluded else "learned from again"
            if finding.alter(session, row, {"excluded": excluded}, words, reason) and not excluded:
                check_trial(rows.trial_of(row), finding.kinds_of_layers(session, beside=row.id))


def _cells(number: int, trial: Trial, piece: PieceRow | None) -> dict[str, Any]:
    tied = {"id": number, "piece_id": None if piece is None else piece.id}
    return rows.trial_cells(trial) | tied


def _lustre(own: float | None, reading: Reading | None) -> float | None:
    return reading.lustre if own is None and reading is not None else own
