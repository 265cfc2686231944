"""Trials put right where they stand, and put back as they were; what they said before is kept."""

from collections.abc import Sequence

from tonematch.errors import LogbookError
from tonematch.logbook.database import rows
from tonematch.logbook.stores import finding
from tonematch.logbook.stores.corrections import (
    CORRECTED,
    earlier_values,
    say_correction,
    standing_corrections,
    values_after,
    with_values,
)
from tonematch.logbook.stores.undo_store import UndoStore, undo_changes
from tonematch.logbook.trial_check import check_trial
from tonematch.toning.core import Trial


class CorrectionStore(UndoStore):
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
            undo_changes(session, standing[trial_id][-1:], reason)

    def corrected_trials(self) -> dict[int, Trial]:
        """Trials whose correction stands, by number, each as it read before the last one."""
        with self.reading() as session:
            standing = standing_corrections(finding.trial_changes(session))
            held = {n: rows.trial_of(finding.trial_numbered(session, n)) for n in standing}
            return {
                n: with_values(held[n], earlier_values(changes[-1].before))
                for n, changes in standing.items()
            }
