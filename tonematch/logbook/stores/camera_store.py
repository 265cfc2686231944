"""Cameras that are remembered: what kept readings taught of them."""

from sqlalchemy import func, select

from tonematch.logbook.database import rows
from tonematch.logbook.database.logbook_file import LogbookFile
from tonematch.logbook.database.tables import ReadingRow
from tonematch.logbook.stores.finding import all_of
from tonematch.measure.calibration.camera_profile import learned
from tonematch.measure.core import CameraProfile


class CameraStore(LogbookFile):
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
        kept = func.iif(func.json_valid(ReadingRow.calibration), ReadingRow.calibration, "{}")
        newest = (
            select(func.max(ReadingRow.id))
            .where(
                func.json_extract(kept, "$.camera") == camera,
                func.json_extract(kept, "$.space") == space,
                func.json_extract(kept, "$.measured").contains('"tone"'),
            )
            .group_by(func.substr(ReadingRow.made_at, 1, 10), func.json_type(kept, "$.profile"))
        )
        found: dict[str, CameraProfile] = {}
        with self.reading() as session:
            for row in session.scalars(all_of(ReadingRow, ReadingRow.id.in_(newest))):
                day, reading = row.made_at[:10], rows.reading_of(row)
                profile = reading.calibration and learned(reading.calibration, day)
                if profile and (day not in found or profile.patches >= found[day].patches):
                    found[day] = profile
        return dict(sorted(found.items(), reverse=True))
