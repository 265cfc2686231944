"""Cameras that are remembered: what kept readings taught of them."""

from sqlalchemy import func, select

from tonematch.logbook.database import rows
from tonematch.logbook.database.damage import sound_json
from tonematch.logbook.database.logbook_store import LogbookStore
from tonematch.logbook.database.tables import ReadingRow
from tonematch.logbook.stores.finding import all_of
from tonematch.measure.calibration.camera_profile import learned
from tonematch.measure.core import CameraProfile


class CameraStore(LogbookStore):
    """What pictures with neutrals or a chart taught of the cameras that took them."""

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
            for row in session.scalars(all_of(ReadingRow, ReadingRow.id.in_(newest))):
                day, reading = row.made_at[:10], rows.reading_of(row)
                profile = reading.calibration and learned(reading.calibration, day)
                if profile and (day not in found or profile.patches >= found[day].patches):
                    found[day] = profile
        return dict(sorted(found.items(), reverse=True))
