"""The open logbook under all stores: its transactions, for reading and for writing."""

from contextlib import AbstractContextManager
from pathlib import Path
from typing import Self

from sqlalchemy.orm import Session

from tonematch.logbook.database.damage import damaged_places
from tonematch.logbook.database.opening import open_engine, transaction
from tonematch.logbook.database.place import Place


class LogbookStore:
    """The store under all others: a file, or a database on a server, with its photographs.

    It waits so many seconds while another program writes.
    """

    def __init__(self, place: Place, wait_seconds: float) -> None:
        self.place = place
        self.is_new = place.is_new  # made by this opening
        self.photo_folders = place.folders["photographs"]
        self.photographs = self.photo_folders[0]
        self.engine = open_engine(place, wait_seconds)

    @property
    def path(self) -> Path:
        """The file; LogbookError where the logbook lies on a server."""
        return self.place.file

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()

    def close(self) -> None:
        """Let go of it."""
        self.engine.dispose()

    def _is_sound(self) -> bool:
        with self.reading() as session:
            return next(damaged_places(session), None) is None

    def reading(self) -> AbstractContextManager[Session]:
        """A transaction that sees one state of the logbook throughout."""
        return transaction(self.engine, self.place, writing=False)

    def writing(self) -> AbstractContextManager[Session]:
        """A transaction that alone may write, from its beginning.

        Before the first one of a day, what is there is copied.
        """
        self.place.before_writing(self._is_sound)
        return transaction(self.engine, self.place)
