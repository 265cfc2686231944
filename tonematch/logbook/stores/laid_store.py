"""A layer in progress: laid from one comparison, ended by the photograph after it.

Two pages may be open on one logbook: what a page wants is held, in the same transaction that
keeps it, against what the logbook holds now.
"""

from collections.abc import Mapping, Sequence
from datetime import date, datetime, timedelta

from sqlalchemy import func, select
from sqlalchemy.orm import Session

from tonematch.errors import LogbookError
from tonematch.logbook.core import Air, LayerInProgress, bench_name
from tonematch.logbook.database import rows
from tonematch.logbook.database.tables import ComparisonRow, LaidRow, PieceRow, TrialRow, now
from tonematch.logbook.stores import finding, zones
from tonematch.logbook.stores.piece_store import PieceStore
from tonematch.logbook.stores.trial_store import TrialStore
from tonematch.logbook.trial_check import check_trial
from tonematch.measure.calibration.aids import Aids
from tonematch.measure.core import Comparison
from tonematch.toning.core import Application, Prediction, Trial


class LaidStore(PieceStore, TrialStore):
    """Layers from the moment when they are laid to the trial that each becomes."""

    def begin_layer(
        self,
        comparison_id: int,
        application: Application,
        prediction: Prediction,
        dries_hours: float,
        cautions: Sequence[str] = (),
        air: Air | None = None,
    ) -> int:
        """Keep that a layer was laid just now, from a comparison; gives its number in the logbook.

        Its last coat dries for `dries_hours`; `cautions` are rules of layering that it touches.
        `air` is that of the workshop today.
        Raises LogbookError when another layer is in progress there, or the comparison is not the
        last, TrialError when a value of the application cannot be kept.
        """
        with self.writing() as session:
            piece_id = finding.comparison_numbered(session, comparison_id).piece_id
            if (held := finding.layer_in_progress(session, piece_id)) is not None:
                raise LogbookError(
                    f"{held.application.layer} lies on this piece and is not photographed yet: "
                    "load this page anew, and log that layer or call it off first."
                )
            of_piece = ComparisonRow.piece_id == piece_id
            last = session.scalar(select(func.max(ComparisonRow.id)).where(of_piece))
            if last != comparison_id:
                raise LogbookError(
                    "This piece was compared anew since this page was shown: load the page anew, "
                    "and lay from there."
                )
            warm, damp = (None, None) if air is None else (air.temperature, air.humidity)
            trial = Trial(application, application.before, temperature=warm, humidity=damp)
            check_trial(trial, finding.kinds_of_layers(session))
            laid_at = now()
            dry_at = datetime.fromisoformat(laid_at) + timedelta(hours=dries_hours)
            row = rows.row_of(
                LaidRow,
                application,
                made_at=laid_at,
                piece_id=piece_id,
                comparison_id=comparison_id,
                prediction=prediction,
                cautions=tuple(cautions),
                temperature=warm,
                humidity=damp,
                dry_at=dry_at.isoformat(timespec="seconds"),
            )
            session.add(row)
            session.flush()
            return row.id

    def layer_in_progress(self, piece: str, zone: str = "") -> LayerInProgress | None:
        """What was laid on a piece, or a zone of it, and waits for its photograph."""
        with self.reading() as session:
            piece_id = zones.piece_row(session, piece, zone).id
            return finding.layer_in_progress(session, piece_id)

    def last_air(self) -> Air | None:
        """The air of the workshop as it was told last, for a piece or with a layer."""
        of_piece = select(PieceRow.temperature, PieceRow.humidity, PieceRow.air_told_at)
        of_layer = select(LaidRow.temperature, LaidRow.humidity, LaidRow.made_at)
        with self.reading() as session:
            found = (
                session.execute(of_piece.order_by(PieceRow.air_told_at.desc()).limit(1)).first(),
                session.execute(of_layer.order_by(LaidRow.id.desc()).limit(1)).first(),
            )
        told = (Air(*row) for row in found if row is not None)
        return max((air for air in told if air.told_at), key=lambda air: air.told_at, default=None)

    def call_off_layer(self, laid_id: int) -> None:
        """End a layer that was not laid after all; LogbookError when it is ended already."""
        with self.writing() as session:
            finding.alter(session, _open_row(session, laid_id), {"ended_at": now()}, "called off")

    def log_layer(
        self,
        laid_id: int,
        after: Comparison,
        photographs: Sequence[tuple[bytes, str]],
        *,
        note: str = "",
        aids: Mapping[str, Aids] | None = None,
    ) -> tuple[Trial, int]:
        """End a layer in progress: photographs, trial and comparison are kept together.

        The repair of `after` is what the layer left; `aids` are what helped to calibrate each
        photograph (its bytes, its file name) beside its card, by SHA-256. Gives the trial as it is
        kept, and the number of the comparison. Raises LogbookError when the layer was logged or
        called off already, TrialError when a value of the trial cannot be kept.
        """
        with self.writing() as session:
            row = _open_row(session, laid_id)
            laid = rows.laid_of(row)
            for data, file_name in photographs:
                self._add_photo(session, data, file_name, row.piece_id)
            of_piece = TrialRow.piece_id == row.piece_id
            step = session.scalar(select(func.count()).where(of_piece)) or 0
            today = date.today().isoformat()
            trial = Trial(
                laid.application, after.repair.lab, laid.piece, today, step + 1, note,
                zone=laid.zone, temperature=laid.temperature, humidity=laid.humidity,
                bench=bench_name(), before_covariance=laid.before.repair.own_covariance,
                after_covariance=after.repair.own_covariance,
            )  # fmt: skip
            row.trial_id = self._add_trial(
                session, trial, laid.before.repair, after.repair, laid.prediction, laid.cautions
            )
            row.ended_at = now()
            return trial, self._add_comparison(session, after, row.piece_id, aids)


def _open_row(session: Session, laid_id: int) -> LaidRow:
    row = session.get(LaidRow, laid_id)
    if row is None or row.ended_at is not None:
        raise LogbookError(
            "This layer was logged or called off since this page was shown, so nothing was kept "
            "now: load the page anew."
        )
    return row
