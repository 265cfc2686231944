"""Where every piece stands, looked up at once and without opening a photograph."""

from typing import Any

from sqlalchemy import ColumnElement, and_, exists, func, select
from sqlalchemy.orm import Session, aliased

from tonematch.logbook.core import TO_COMPARE
from tonematch.logbook.database import rows
from tonematch.logbook.database.logbook_store import LogbookStore
from tonematch.logbook.database.tables import (
    ComparisonRow,
    DraftRow,
    LaidRow,
    PhotographRow,
    PieceRow,
    ProposalRow,
    ReadingRow,
    TrialRow,
)
from tonematch.logbook.standing import Standing
from tonematch.measure.core import Area, Verdict


class StandingStore(LogbookStore):
    """Pieces as they stand on the bench."""

    def standings(self) -> list[Standing]:
        """All pieces and zones, in the order in which they were added."""
        with self.reading() as session:
            return _standings(session, PieceRow.removed_at.is_(None))

    def standing(self, piece: str, zone: str = "") -> Standing | None:
        """One piece, or one zone of it; None where there is none of this name."""
        named = and_(PieceRow.name == piece, PieceRow.zone == zone, PieceRow.removed_at.is_(None))
        with self.reading() as session:
            return next(iter(_standings(session, named)), None)


def _standings(session: Session, which: ColumnElement[bool]) -> list[Standing]:
    """All of them by one query, which takes columns alone: whole readings are long."""
    original, repair = aliased(ReadingRow), aliased(ReadingRow)
    last = select(func.max(ComparisonRow.id)).where(ComparisonRow.piece_id == PieceRow.id)
    laid = and_(LaidRow.piece_id == PieceRow.id, LaidRow.ended_at.is_(None))
    query = (
        select(
            PieceRow,
            exists().where(DraftRow.piece_id == PieceRow.id, DraftRow.name.startswith(TO_COMPARE)),
            exists().where(TrialRow.piece_id == PieceRow.id),
            exists().where(ProposalRow.comparison_id == ComparisonRow.id),
            ComparisonRow.verdict,
            *(LaidRow.layer, LaidRow.dry_at, PhotographRow.sha256, PhotographRow.file_name),
            *(original.photo_sha256, original.name, original.corners, original.role),
            *(repair.name, repair.corners, repair.role),
        )
        .outerjoin(LaidRow, laid)
        .outerjoin(ComparisonRow, ComparisonRow.id == last.correlate(PieceRow).scalar_subquery())
        .outerjoin(original, original.id == ComparisonRow.original_id)
        .outerjoin(repair, repair.id == ComparisonRow.repair_id)
        .outerjoin(PhotographRow, PhotographRow.id == repair.photograph_id)
        .where(which)
        .order_by(PieceRow.id)
    )
    return [_standing(*found) for found in session.execute(query)]


def _standing(
    row: PieceRow,
    begun: bool,
    tried: bool,
    planned: bool,
    verdict: Verdict | None,
    layer: str | None,
    dry_at: str | None,
    sha256: str | None,
    file_name: str | None,
    of_original: str,
    *marked: Any,
) -> Standing:
    """A piece with its last comparison, and what of that lies on the repair's kept photograph."""
    old, new = Area(*marked[:3]), Area(*marked[3:])
    together = (old, new) if of_original == sha256 else (new,)
    return Standing(
        rows.piece_of(row),
        begun=begun,
        on_bench=begun or verdict is not None or not tried,
        verdict=verdict,
        planned=planned,
        laid=layer or "",
        dry_at=dry_at or "",
        photo_sha256=sha256 or "",
        file_name=file_name or "",
        areas=() if sha256 is None else together,
    )
