"""The logbook: everything that a gilder measured, planned and laid, kept for decades.

A SQLite file, and beside it a folder with the original photographs; or a database on a server and
a folder that several benches share. Nothing is ever removed:
what is excluded or altered leaves a trace.
"""

from tonematch.logbook.core import PieceHistory
from tonematch.logbook.database import rows
from tonematch.logbook.database.opening import place_of
from tonematch.logbook.database.place import Place
from tonematch.logbook.database.tables import ComparisonRow, PhotographRow, ProposalRow
from tonematch.logbook.photo_folder import Where
from tonematch.logbook.stores import finding, zones
from tonematch.logbook.stores.draft_store import DraftStore
from tonematch.logbook.stores.eye_store import EyeStore
from tonematch.logbook.stores.finding import all_of
from tonematch.logbook.stores.laid_store import LaidStore
from tonematch.logbook.stores.layer_store import LayerStore
from tonematch.logbook.stores.likeness import LikenessStore
from tonematch.logbook.stores.reading_store import ReadingStore
from tonematch.logbook.stores.recipe_store import RecipeStore
from tonematch.logbook.stores.standing_store import StandingStore
from tonematch.logbook.stores.undo_store import UndoStore


def open_logbook(named: Where | Place | None = None, wait_seconds: float = 5.0) -> "Logbook":
    """Open a logbook, made where there is none; use it in a ``with`` statement.

    By default it is the one that TONEMATCH_LOGBOOK names, or ``logbook.sqlite`` in the user's data
    folder. Another program that writes is waited for, `wait_seconds` long. Raises LogbookError when
    the place is a folder, is no logbook, cannot be written or reached, is in use, damaged, or made
    by a newer tonematch.
    """
    return Logbook(place_of(named), wait_seconds)


class Logbook(
    LaidStore,
    LikenessStore,
    UndoStore,
    LayerStore,
    ReadingStore,
    RecipeStore,
    DraftStore,
    StandingStore,
    EyeStore,
):
    """Pieces, photographs, comparisons, plans, trials and layers, in and out.

    Every method is one transaction: it is done as a whole or, when it raises, not at all.
    Methods that take a piece take its name, and its zone where it has more than one gold, and raise
    LogbookError, with the nearest known names, where there is none or it is not said which.
    """

    def histories(self, piece: str) -> list[PieceHistory]:
        """All that the logbook holds about a piece, zone by zone, for its record."""
        return [self.history(piece, one.zone) for one in self.pieces(piece)]

    def history(self, piece: str, zone: str = "") -> PieceHistory:
        """All that the logbook holds about one piece, or one zone of it."""
        with self.reading() as session:
            row = zones.piece_row(session, piece, zone)
            trials = session.scalars(finding.trial_query([row])).all()
            photographs = session.scalars(all_of(PhotographRow, PhotographRow.piece_id == row.id))
            comparisons = session.scalars(all_of(ComparisonRow, ComparisonRow.piece_id == row.id))
            proposals = session.scalars(all_of(ProposalRow, ProposalRow.piece_id == row.id))
            return PieceHistory(
                piece=rows.piece_of(row),
                made_at=row.made_at,
                photographs=tuple(rows.photo_of(p, self.photo_folders) for p in photographs),
                comparisons=tuple(map(rows.comparison_of, comparisons)),
                proposals=tuple(map(rows.proposal_of, proposals)),
                trials=tuple(map(rows.kept_trial_of, trials)),
                changes=finding.changes_of(session, row, *trials),
                layers=finding.own_layers(session, retired=True),
                in_progress=finding.layer_in_progress(session, row.id),
            )
