"""The logbook: everything that a gilder measured, planned and laid, kept for decades.

A SQLite file, and beside it a folder with the original photographs. Nothing is ever removed:
what is excluded or altered leaves a trace.
"""

from collections.abc import Mapping, Sequence
from pathlib import Path

from tonematch.logbook import finding, rows
from tonematch.logbook.core import PieceHistory
from tonematch.logbook.correction_store import CorrectionStore
from tonematch.logbook.layer_store import LayerStore
from tonematch.logbook.lustre_store import LustreStore
from tonematch.logbook.opening import usual_path
from tonematch.logbook.piece_store import PieceStore
from tonematch.logbook.tables import PhotographRow
from tonematch.logbook.trial_store import TrialStore
from tonematch.measure.core import Comparison
from tonematch.measure.marked import Aids
from tonematch.toning.core import Prediction, Trial


def open_logbook(path: Path | None = None, wait_seconds: float = 5.0) -> "Logbook":
    """Open a logbook, made where there is none; use it in a ``with`` statement.

    Parameters
    ----------
    path : pathlib.Path, optional
        The file; by default ``logbook.sqlite`` in the user's data folder.
    wait_seconds : float
        How long to wait while another program writes.

    Returns
    -------
    Logbook

    Raises
    ------
    LogbookError
        When the path is a folder, is no logbook, cannot be written, is in use, damaged, or made
        by a newer tonematch.
    """
    if path is None:
        path = usual_path()
    return Logbook(path, wait_seconds)


class Logbook(PieceStore, TrialStore, CorrectionStore, LayerStore, LustreStore):
    """Pieces, photographs, comparisons, plans, trials and layers, in and out.

    Every method is one transaction: it is done as a whole or, when it raises, not at all.
    Methods that take a piece take its name and raise LogbookError, with the nearest known name,
    where there is no such piece.

    Parameters
    ----------
    path : pathlib.Path
    wait_seconds : float
    """

    def log_layer(
        self,
        trial: Trial,
        before: Comparison,
        after: Comparison,
        photographs: Sequence[tuple[bytes, str]],
        *,
        prediction: Prediction | None = None,
        cautions: Sequence[str] = (),
        aids: Mapping[str, Aids] | None = None,
    ) -> int:
        """Keep a layer that was laid at the bench: photographs, trial and comparison together.

        Parameters
        ----------
        trial : Trial
            Of a piece that is in the logbook.
        before, after : Comparison
            Their repairs are the readings behind the trial's colours.
        photographs : sequence of (bytes, str)
            The photographs after the layer, each with its file name.
        prediction : Prediction, optional
            What the layer model had foretold.
        cautions : sequence of str
            Rules of layering that the trial touched.
        aids : mapping of str to Aids, optional
            What helped to calibrate each photograph beside its card, by SHA-256.

        Returns
        -------
        int
            Number of the comparison after the layer.

        Raises
        ------
        TrialError
            When a value of the trial cannot be kept.
        """
        with self.writing() as session:
            piece_id = finding.piece_row(session, trial.piece).id
            for data, file_name in photographs:
                self._add_photo(session, data, file_name, piece_id)
            self._add_trial(session, trial, before.repair, after.repair, prediction, cautions)
            return self._add_comparison(session, after, piece_id, aids)

    def history(self, piece: str) -> PieceHistory:
        """All that the logbook holds about one piece, for its record."""
        with self.reading() as session:
            row = finding.piece_row(session, piece)
            photographs = session.scalars(
                finding.all_of(PhotographRow, PhotographRow.piece_id == row.id)
            )
            trials = session.scalars(finding.trial_query(row.id)).all()
            return PieceHistory(
                piece=rows.piece_of(row),
                made_at=row.made_at,
                photographs=tuple(rows.photo_of(p, self.photographs) for p in photographs),
                comparisons=finding.comparisons(session, row.id),
                proposals=finding.proposals(session, row.id),
                trials=tuple(map(rows.kept_trial_of, trials)),
                changes=finding.changes(session, row, trials),
                layers=finding.own_layers(session, retired=True),
            )
