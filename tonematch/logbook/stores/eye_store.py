"""Pairs of golds to train an eye on, and what was said of them."""

from sqlalchemy import select

from tonematch.logbook.core import Judgement, TonePair
from tonematch.logbook.database import rows
from tonematch.logbook.database.logbook_store import LogbookStore
from tonematch.logbook.database.tables import ComparisonRow, JudgementRow, PieceRow
from tonematch.logbook.stores import finding


class EyeStore(LogbookStore):
    """What was measured, to be judged by eye first, and what was said."""

    def tone_pairs(self) -> list[TonePair]:
        """Every kept comparison, with what was laid next; where none is kept, every trial.

        What is learned from is among them alone.
        """
        with self.reading() as session:
            trials = [row for row in session.scalars(finding.trial_query()) if not row.excluded]
            # By the photograph that it was laid after.
            laid = {(row.piece_id, row.before.photo_sha256): row for row in trials if row.before}
            kept = (
                select(ComparisonRow, PieceRow.name)
                .join(PieceRow, ComparisonRow.piece_id == PieceRow.id)
                .where(PieceRow.removed_at.is_(None))
                .order_by(ComparisonRow.id)
            )
            pairs = []
            for row, piece in session.execute(kept):
                next_row = laid.get((row.piece_id, row.repair.photo_sha256))
                trial = None if next_row is None else rows.trial_of(next_row)
                compared = rows.comparison_of(row)
                golds = compared.comparison.original.lab, compared.comparison.repair.lab
                pairs.append(TonePair(piece, *golds, trial, compared))
            return pairs or [TonePair.of_trial(rows.trial_of(row)) for row in trials]

    def keep_judgement(self, judgement: Judgement) -> None:
        """Keep what was said of a pair."""
        with self.writing() as session:
            session.add(rows.row_of(JudgementRow, judgement))

    def judgements(self) -> list[Judgement]:
        """What was said of all pairs so far, oldest first."""
        with self.reading() as session:
            kept = session.scalars(select(JudgementRow).order_by(JudgementRow.id))
            return [rows.value_of(Judgement, row) for row in kept]
