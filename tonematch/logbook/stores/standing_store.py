"""Where every piece stands, looked up at once and without opening a photograph."""

from dataclasses import replace

from sqlalchemy import exists, select
from sqlalchemy.orm import Session

from tonematch.logbook.database import rows
from tonematch.logbook.database.logbook_file import LogbookFile
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
from tonematch.logbook.stores import finding, zones
from tonematch.measure.core import Area


class StandingStore(LogbookFile):
    """Pieces as they stand on the bench."""

    def standings(self) -> list[Standing]:
        """All pieces and zones, in the order in which they were added."""
        with self.reading() as session:
            there = finding.all_of(PieceRow, PieceRow.removed_at.is_(None))
            return [_standing(session, row) for row in session.scalars(there)]

    def standing(self, piece: str, zone: str = "") -> Standing:
        """One piece, or one zone of it."""
        with self.reading() as session:
            return _standing(session, zones.piece_row(session, piece, zone))


def _standing(session: Session, row: PieceRow) -> Standing:
    # Columns alone: whole rows would bring their calibrations along.
    laid = session.execute(
        select(LaidRow.layer, LaidRow.dry_at).where(
            LaidRow.piece_id == row.id, LaidRow.ended_at.is_(None)
        )
    ).one_or_none()
    layer, dry_at = ("", "") if laid is None else laid
    begun = exists().where(DraftRow.piece_id == row.id, DraftRow.sha256 != "")
    last = session.execute(
        select(
            ComparisonRow.id,
            ComparisonRow.verdict,
            ComparisonRow.original_id,
            ComparisonRow.repair_id,
        )
        .where(ComparisonRow.piece_id == row.id)
        .order_by(ComparisonRow.id.desc())
        .limit(1)
    ).one_or_none()
    known = Standing(
        rows.piece_of(row), bool(session.scalar(select(begun))), laid=layer, dry_at=dry_at
    )
    if last is None:
        tried = exists().where(TrialRow.piece_id == row.id)
        return replace(known, on_bench=known.begun or not session.scalar(select(tried)))
    number, verdict, *readings = last
    planned = exists().where(ProposalRow.comparison_id == number)
    sha256, file_name, areas = _pictured(session, *readings)
    return replace(
        known,
        verdict=verdict,
        planned=bool(session.scalar(select(planned))),
        photo_sha256=sha256,
        file_name=file_name,
        areas=areas,
    )


def _pictured(
    session: Session, original_id: int, repair_id: int
) -> tuple[str, str, tuple[Area, ...]]:
    """The kept photograph of a repair, and what of both golds lies on it."""
    photograph = session.execute(
        select(PhotographRow.sha256, PhotographRow.file_name)
        .join(ReadingRow, ReadingRow.photograph_id == PhotographRow.id)
        .where(ReadingRow.id == repair_id)
    ).one_or_none()
    if photograph is None:
        return "", "", ()
    sha256, file_name = photograph
    marked = session.execute(
        select(ReadingRow.name, ReadingRow.corners, ReadingRow.role).where(
            ReadingRow.id.in_((original_id, repair_id)), ReadingRow.photo_sha256 == sha256
        )
    )
    return sha256, file_name, tuple(Area(*row) for row in marked)
