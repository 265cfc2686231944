"""The part of the logbook that belongs to a piece: photographs, comparisons, plans."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import asdict
from hashlib import sha256 as hash_of

from sqlalchemy import select
from sqlalchemy.orm import Session

from tonematch.errors import LogbookError
from tonematch.logbook.core import KeptComparison, KeptStrips, Piece
from tonematch.logbook.database import rows
from tonematch.logbook.database.logbook_store import LogbookStore
from tonematch.logbook.database.tables import (
    PhotographRow,
    PieceRow,
    StripSheetRow,
    TrialRow,
    now,
)
from tonematch.logbook.photo_folder import bare_name, keep_bytes, read_bytes
from tonematch.logbook.piece_check import check_piece
from tonematch.logbook.stores import finding, zones
from tonematch.measure.calibration.aids import Aids
from tonematch.measure.core import Comparison
from tonematch.toning.core import Proposal, Strip
from tonematch.toning.planning.ground import Ground
from tonematch.wholefile import make_folder, write_whole


class PieceStore(LogbookStore):
    """Pieces with what was photographed, compared, planned and tried for them.

    Where a piece has more than one gold, a method takes the name of its zone, too.
    """

    def add_piece(self, piece: Piece) -> None:
        """Open a job, or add a zone to one; LogbookError when the name is taken."""
        check_piece(piece)
        with self.writing() as session:
            if not piece.zone:
                zones.refuse_taken_name(session, piece.name)
            zones.add_zone(session, piece, zones.pieces_by_name(session).get(piece.name, {}))

    def change_piece(self, name: str, piece: Piece, reason: str = "", zone: str = "") -> None:
        """Describe a piece or its zone anew, or rename it; what stood there is kept as a change."""
        check_piece(piece)
        with self.writing() as session:
            row = zones.piece_row(session, name, zone)
            others = {z: r for z, r in zones.zone_rows(session, name).items() if r is not row}
            if piece.name != name:
                zones.refuse_taken_name(session, piece.name)
            zones.refuse_zone(piece, others)
            finding.alter(session, row, asdict(piece), "described anew", reason)
            zones.share_whole(session, row, others.values())

    def remove_piece(self, name: str, reason: str = "", zone: str = "") -> None:
        """Take a piece, or one zone of it, out of sight; nothing is learned from its trials.

        All of it stays in the logbook and comes back by `undo`, until the logbook is emptied.
        """
        with self.writing() as session:
            for row in zones.asked(session, name, zone) or ():
                finding.alter(session, row, {"removed_at": now()}, "removed", reason)
                learned = finding.trial_query([row]).where(TrialRow.excluded.is_(False))
                for trial in session.scalars(learned):
                    finding.alter(session, trial, {"excluded": True}, "left out", reason)

    def pieces(self, name: str | None = None) -> list[Piece]:
        """All pieces, or the zones of one, in the order in which they were added."""
        with self.reading() as session:
            if name is not None:
                return [rows.piece_of(row) for row in zones.zone_rows(session, name).values()]
            there = finding.all_of(PieceRow, PieceRow.removed_at.is_(None))
            return [rows.piece_of(row) for row in session.scalars(there)]

    def piece(self, name: str, zone: str = "") -> Piece:
        """One piece by its name, where it has more than one gold by its zone, too."""
        with self.reading() as session:
            return rows.piece_of(zones.piece_row(session, name, zone))

    def keep_photo(self, data: bytes, file_name: str, piece: str, zone: str = "") -> str:
        """Keep a photograph's original bytes; gives the SHA-256 by which `photo_bytes` finds it.

        Folders in the file name are left out.
        """
        with self.writing() as session:
            piece_id = zones.piece_row(session, piece, zone).id
            return self._add_photo(session, data, file_name, piece_id)

    def _add_photo(self, session: Session, data: bytes, file_name: str, piece_id: int) -> str:
        name = bare_name(file_name)
        if not data:
            raise LogbookError(f"The photograph {name} is empty: choose the file again.")
        sha256 = keep_bytes(self.photographs, data, name)
        if finding.photograph_id(session, piece_id, sha256) is None:
            session.add(
                PhotographRow(piece_id=piece_id, sha256=sha256, file_name=name, size=len(data))
            )
            session.flush()
        return sha256

    def photo_bytes(self, sha256: str) -> bytes:
        """The bytes of a photograph as they were kept."""
        with self.reading() as session:
            row = session.scalars(
                select(PhotographRow).where(PhotographRow.sha256 == sha256).limit(1)
            ).first()
            if row is None:
                raise LogbookError(
                    f"No photograph {sha256[:12]} is in the logbook: keep it there first."
                )
            photo = rows.photo_of(row, self.photo_folders)
        return read_bytes(photo.path, sha256)

    def small_picture(self, sha256: str, shown: str, make: Callable[[], bytes]) -> bytes:
        """The picture of a photograph that `shown` tells apart from others; made where it is not.

        It lies beside the logbook and is no part of that: the folder can be removed at any time.
        Where it cannot be kept, on a full disk or one that is read only, it is made every time.
        """
        name = f"{sha256[2:16]}-{hash_of(shown.encode()).hexdigest()[:16]}"
        path = self.place.folders["small pictures"][0] / sha256[:2] / name
        try:
            return path.read_bytes()
        except OSError:
            made = make()
        try:
            make_folder(path.parent)
            write_whole(path, made)
        except OSError:
            pass  # the work goes on without
        return made

    def keep_comparison(
        self,
        piece: str,
        comparison: Comparison,
        aids: Mapping[str, Aids] | None = None,
        zone: str = "",
    ) -> int:
        """Keep a comparison with its readings and calibrations; gives its number in the logbook.

        `aids` are what helped to calibrate each photograph beside its card, by SHA-256.
        Photographs, and the picture of a plain sheet, should be kept before, so that they are tied
        to it.
        """
        with self.writing() as session:
            piece_id = zones.piece_row(session, piece, zone).id
            return self._add_comparison(session, comparison, piece_id, aids)

    def _add_comparison(
        self,
        session: Session,
        comparison: Comparison,
        piece_id: int,
        aids: Mapping[str, Aids] | None,
    ) -> int:
        original, repair = (
            finding.new_reading_row(session, reading, piece_id, aids)
            for reading in (comparison.original, comparison.repair)
        )
        row = rows.comparison_row(comparison, piece_id, original, repair)
        session.add(row)
        session.flush()
        return row.id

    def add_findings(self, comparison_id: int, findings: Sequence[str]) -> None:
        """Keep with a comparison what was found beside the colour; each sentence once."""
        with self.writing() as session:
            row = finding.comparison_numbered(session, comparison_id)
            row.findings = tuple(dict.fromkeys((*row.findings, *findings)))

    def last_comparison(self, piece: str, zone: str = "") -> KeptComparison | None:
        """A piece's latest comparison, where there is one."""
        with self.reading() as session:
            return finding.last_comparison(session, zones.piece_row(session, piece, zone).id)

    def keep_proposal(
        self, piece: str, proposal: Proposal, comparison_id: int | None = None, zone: str = ""
    ) -> int:
        """Keep the plans proposed for a piece; gives their number in the logbook."""
        with self.writing() as session:
            piece_id = zones.piece_row(session, piece, zone).id
            row = rows.proposal_row(proposal, piece_id, comparison_id)
            session.add(row)
            session.flush()
            return row.id

    def keep_strips(
        self, piece: str, strips: Sequence[Strip], ground: Ground, zone: str = ""
    ) -> int:
        """Keep a sheet of test strips as it is printed; gives its number in the logbook."""
        with self.writing() as session:
            piece_id = zones.piece_row(session, piece, zone).id
            row = StripSheetRow(piece_id=piece_id, strips=tuple(strips), ground=ground)
            session.add(row)
            session.flush()
            return row.id

    def strip_sheets(self, piece: str, zone: str = "") -> list[KeptStrips]:
        """A piece's sheets of test strips, oldest first."""
        with self.reading() as session:
            piece_id = zones.piece_row(session, piece, zone).id
            query = finding.all_of(StripSheetRow, StripSheetRow.piece_id == piece_id)
            return [rows.strips_of(row) for row in session.scalars(query)]
