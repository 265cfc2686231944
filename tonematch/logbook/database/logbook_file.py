"""The open file under a logbook: its transactions, for reading and for writing."""

from contextlib import AbstractContextManager
from pathlib import Path
from types import TracebackType
from typing import Self

from sqlalchemy.orm import Session

from tonematch.logbook.database.copies import keep_daily_copy
from tonematch.logbook.database.damage import damaged_places
from tonematch.logbook.database.opening import open_engine, transaction
from tonematch.logbook.photo_folder import folders_beside


class LogbookFile:
    """A SQLite file with its folder of photographs.

    Parameters
    ----------
    wait_seconds : float
        How long to wait while another program writes.

    Attributes
    ----------
    is_new : bool
        Whether the file was made by this opening.
    """

    def __init__(self, path: Path, wait_seconds: float) -> None:
        self.path = path
        self.is_new = not path.exists()
        self.photo_folders = folders_beside(path)
        self.photographs = self.photo_folders[0]
        self.engine = open_engine(path, wait_seconds)

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        traceback: TracebackType | None,
    ) -> None:
        self.close()

    def close(self) -> None:
        """Let go of the file."""
        self.engine.dispose()

    def _is_sound(self) -> bool:
        with self.reading() as session:
            return next(damaged_places(session), None) is None

    def reading(self) -> AbstractContextManager[Session]:
        """A transaction that sees one state of the logbook throughout."""
        return transaction(self.engine, self.path)

    def writing(self) -> AbstractContextManager[Session]:
        """A transaction that alone may write, from its beginning.

        Before the first one of a day, what is there is copied.
        """
        keep_daily_copy(self.path, self._is_sound)
        # Taken at once: two that read first and then both want to write would block each other.
        return transaction(self.engine.execution_options(begin="BEGIN IMMEDIATE"), self.path)
