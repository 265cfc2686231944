"""Trials put right where they stand, and put back as they were; what they said before is kept."""

from collections.abc import Sequence

from sqlalchemy.orm import Session

from tonematch.errors import LogbookError
from tonematch.logbook.database import rows
from tonematch.logbook.database.logbook_file import LogbookFile
from tonematch.logbook.database.tables import TrialRow
from tonematch.logbook.stores import finding
from tonematch.logbook.stores.corrections import (
    CORRECTED,
    PUT_BACK,
    Values,
    say_correction,
    standing_corrections,
    values_after,
    with_values,
)
from tonematch.logbook.trial_check import check_trial
from tonematch.toning.core import Trial


class CorrectionStore(LogbookFile):
    """Trials corrected in place; every earlier state stays in the logbook."""

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
            new = values_after(row, trial, cautions)
            old = {column: getattr(row, column) for column in new}
            changed = {column: old[column] for column in new if old[column] != new[column]}
            if not changed:
                raise LogbookError(
                    f"Trial {trial_id} reads so already: change the value that is wrong first."
                )
            held = rows.trial_of(row)
            words = f"put right: {say_correction(held, with_values(held, new))}"
            finding.note_change(session, row, words, {CORRECTED: changed}, reason)
            _set_values(session, row, {column: new[column] for column in changed})

    def put_back_trial(self, trial_id: int, reason: str = "") -> None:
        """Take back the last correction of a trial that still stands.

        Raises LogbookError when there is no such trial or correction, TrialError when its earlier
        values cannot stand beside the other trials any more.
        """
        with self.writing() as session:
            row = finding.trial_numbered(session, trial_id)
            standing = standing_corrections(finding.trial_changes(session, trial_id))
            if trial_id not in standing:
                raise LogbookError(
                    f"Trial {trial_id} reads as it was first written: there is nothing to put back."
                )
            earlier = standing[trial_id][-1]
            now = {column: getattr(row, column) for column in earlier}
            finding.note_change(session, row, "put back as it was", {PUT_BACK: now}, reason)
            _set_values(session, row, earlier)

    def corrected_trials(self) -> dict[int, Trial]:
        """Trials whose correction stands, by number, each as it read before the last one."""
        with self.reading() as session:
            standing = standing_corrections(finding.trial_changes(session))
            held = {n: rows.trial_of(finding.trial_numbered(session, n)) for n in standing}
            return {n: with_values(held[n], traces[-1]) for n, traces in standing.items()}


def _set_values(session: Session, row: TrialRow, values: Values) -> None:
    # Its own former kind must not speak against the new one.
    others = finding.kinds_of_layers(session, beside=row.id)
    check_trial(with_values(rows.trial_of(row), values), others)
    for column, value in values.items():
        setattr(row, column, value)
