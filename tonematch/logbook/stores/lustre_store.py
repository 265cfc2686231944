"""Lustre that was measured after its comparison was kept: it goes to the readings and trials."""

from sqlalchemy import or_
from sqlalchemy.orm import Session

from tonematch.logbook.database.logbook_store import LogbookStore
from tonematch.logbook.database.tables import ReadingRow, TrialRow
from tonematch.logbook.stores import finding
from tonematch.measure.core import Comparison
from tonematch.toning.planning.lustre_words import say_stops


class LustreStore(LogbookStore):
    """Lustres of kept readings, and of the trials that stand on them."""

    def keep_lustre(self, comparison_id: int, comparison: Comparison) -> None:
        """Keep the lustres of a kept comparison's readings, known now, with what stands on those.

        Trials whose colour before or after was read so take it, too; where it was measured before,
        what stood there is kept as a change. Raises LogbookError when there is no such comparison.
        """
        with self.writing() as session:
            row = finding.comparison_numbered(session, comparison_id)
            for kept, reading in (
                (row.original, comparison.original),
                (row.repair, comparison.repair),
            ):
                if reading.lustre is not None:
                    _keep(session, kept, float(reading.lustre))


def _keep(session: Session, kept: ReadingRow, lustre: float) -> None:
    # A trial and the comparisons beside it each hold a row of the same reading.
    alike = finding.all_of(
        ReadingRow,
        ReadingRow.photo_sha256 == kept.photo_sha256,
        ReadingRow.piece_id == kept.piece_id,
        ReadingRow.L == kept.L,
        ReadingRow.a == kept.a,
        ReadingRow.b == kept.b,
    )
    numbers = []
    for row in session.scalars(alike):
        if row.corners == kept.corners:
            row.lustre = lustre
            numbers.append(row.id)
    tied = or_(TrialRow.before_id.in_(numbers), TrialRow.after_id.in_(numbers))
    for trial in session.scalars(finding.all_of(TrialRow, tied)):
        for when, reading_id in (("before", trial.before_id), ("after", trial.after_id)):
            if reading_id in numbers:
                _set_lustre(session, trial, when, lustre)


def _set_lustre(session: Session, trial: TrialRow, when: str, lustre: float) -> None:
    column = f"{when}_lustre"
    earlier = getattr(trial, column)
    if earlier is None:
        setattr(trial, column, lustre)
    else:
        words = f"lustre {when} measured anew: {say_stops(earlier)} to {say_stops(lustre)}"
        finding.alter(session, trial, {column: lustre}, words)
