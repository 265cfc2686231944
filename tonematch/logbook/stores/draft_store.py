"""What lies on the bench for a piece and is not kept yet, so that a page loaded anew has it still.

Its photographs lie in a folder of their own until they are kept or nobody asked for them long.
"""

from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

from sqlalchemy import delete, func, select
from sqlalchemy.orm import Session

from tonematch.errors import LogbookError
from tonematch.logbook.core import Draft, moment_text
from tonematch.logbook.database.logbook_store import LogbookStore
from tonematch.logbook.database.tables import DraftRow, now
from tonematch.logbook.photo_folder import bare_name, find_photo, keep_bytes, read_bytes
from tonematch.logbook.stores import finding, zones

# A draft that was not touched for so long is nobody's; a choice of this project.
FORGOTTEN_AFTER = timedelta(days=14)
_SAID = "said"  # a bare number would stand in its cell as a number and not as JSON


class DraftStore(LogbookStore):
    """Drafts, one a piece or zone, each a set of named values and photographs."""

    @property
    def _draft_photographs(self) -> Path:
        return self.photographs / "drafts"

    def keep_draft(self, piece: str, changed: Draft, zone: str = "") -> None:
        """Keep what changed of a piece's draft, a None for what is gone; the rest stays.

        Two pages that change different parts of it keep both.
        """
        with self.writing() as session:
            piece_id = zones.piece_row(session, piece, zone).id
            for name, value in changed.values.items():
                _put(session, piece_id, name, value)
            for name, (data, file_name) in changed.photographs.items():
                sha256 = keep_bytes(self._draft_photographs, data, file_name)
                _put(session, piece_id, name, bare_name(file_name), sha256)
            self._sweep(session)

    def draft(self, piece: str, zone: str = "") -> Draft:
        """A piece's draft; a photograph whose file is lost is left out."""
        with self.reading() as session:
            piece_id = zones.piece_row(session, piece, zone).id
            found = session.scalars(finding.all_of(DraftRow, DraftRow.piece_id == piece_id)).all()
            values = {row.name: row.value[_SAID] for row in found if not row.sha256}
            photographs = {row.name: (row.value[_SAID], row.sha256) for row in found if row.sha256}
        read: dict[str, tuple[bytes, str]] = {}
        for name, (file_name, sha256) in photographs.items():
            path = find_photo([self._draft_photographs], sha256, file_name)
            try:
                read[name] = read_bytes(path, sha256), file_name
            except LogbookError:
                continue
        return Draft(values, read)

    def end_draft(self, piece: str, zone: str = "") -> None:
        """Take a piece's draft away: what was in it is kept, or not wanted."""
        with self.writing() as session:
            piece_id = zones.piece_row(session, piece, zone).id
            session.execute(delete(DraftRow).where(DraftRow.piece_id == piece_id))
            self._sweep(session)

    def _sweep(self, session: Session) -> None:
        """Take away forgotten drafts, and pictures that are in no draft; one page at a time."""
        long_ago = moment_text(datetime.now(UTC) - FORGOTTEN_AFTER)
        last_touched = func.max(DraftRow.made_at) < long_ago
        forgotten = select(DraftRow.piece_id).group_by(DraftRow.piece_id).having(last_touched)
        session.execute(delete(DraftRow).where(DraftRow.piece_id.in_(forgotten)))
        wanted = set(session.scalars(select(DraftRow.sha256)))
        for picture in self._draft_photographs.glob("??/*"):
            if picture.name[:64] not in wanted and not picture.name.startswith("."):
                picture.unlink(missing_ok=True)


def _put(session: Session, piece_id: int, name: str, value: Any, sha256: str = "") -> None:
    there = finding.all_of(DraftRow, DraftRow.piece_id == piece_id, DraftRow.name == name)
    row = session.scalars(there).one_or_none()
    if value is None:
        if row is not None:
            session.delete(row)
        return
    if row is None:
        row = DraftRow(piece_id=piece_id, name=name)
        session.add(row)
    row.value, row.sha256, row.made_at = {_SAID: value}, sha256, now()
