"""Kept readings: what they taught of cameras, and lustre that was measured after them."""

from sqlalchemy import func, or_, select
from sqlalchemy.orm import Session

from tonematch.logbook.database import rows
from tonematch.logbook.database.damage import sound_json
from tonematch.logbook.database.logbook_store import LogbookStore
from tonematch.logbook.database.tables import ReadingRow, TrialRow
from tonematch.logbook.stores import finding
from tonematch.measure.calibration.camera_profile import learned
from tonematch.measure.core import CameraProfile, Comparison
from tonematch.toning.planning.lustre_words import say_stops


class ReadingStore(LogbookStore):
    """What kept readings tell beyond their comparison, and what is told of them later."""

    def camera_profiles(self, camera: str, space: str) -> dict[str, CameraProfile]:
        """What is remembered of a camera, by the day of keeping, newest first.

        Parameters
        ----------
        camera : str
            As `camera_of` gives it; of a camera without a name nothing is remembered.
        space : str
            Name of the RGB space of its pictures.

        Returns
        -------
        dict of str to CameraProfile
            Of a day with and without a chart the one with the chart; else the last of the day.
        """
        if not camera:
            return {}
        kept = sound_json(ReadingRow.calibration)
        newest = (
            select(func.max(ReadingRow.id))
            .where(
                kept["camera"].as_string() == camera,
                kept["space"].as_string() == space,
                kept["measured"].as_string().contains('"tone"'),
            )
            .group_by(func.substr(ReadingRow.made_at, 1, 10), kept["profile"].as_string().is_(None))
        )
        found: dict[str, CameraProfile] = {}
        with self.reading() as session:
            for row in session.scalars(finding.all_of(ReadingRow, ReadingRow.id.in_(newest))):
                day, reading = row.made_at[:10], rows.reading_of(row)
                profile = reading.calibration and learned(reading.calibration, day)
                if profile and (day not in found or profile.patches >= found[day].patches):
                    found[day] = profile
        return dict(sorted(found.items(), reverse=True))

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
