"""What a workshop says once of itself: a file of its own in the person's data folder."""

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Generic, TypeVar

from tonematch.errors import ValueRefused
from tonematch.logbook.photo_folder import usual_folder
from tonematch.wholefile import make_folder, write_whole

Value = TypeVar("Value")


@dataclass(frozen=True)
class OwnFile(Generic[Value]):
    """A file that is written for every logbook at once, and goes along with each.

    `parse` gives what its text says, and what is so where there is none; ValueError, TypeError or
    ValueRefused for a text that cannot be used.
    """

    name: str
    called: str  # what it holds: "heading"
    parse: Callable[[str], Value]

    @property
    def path(self) -> Path:
        """Where it lies."""
        return usual_folder() / self.name

    def data(self) -> bytes | None:
        """Its bytes; None where nothing was said yet. ValueRefused where it cannot be read."""
        try:
            return self.path.read_bytes()
        except (FileNotFoundError, NotADirectoryError):
            return None
        except OSError as error:
            raise self._refusal(error) from error

    def value(self) -> Value:
        """What it says now; ValueRefused where that cannot be used."""
        data = self.data() or b""
        try:
            return self.parse(data.decode())
        except (ValueError, TypeError, ValueRefused) as error:
            raise self._refusal(error) from error

    def can_use(self, data: bytes) -> bool:
        """Whether that, from another place, says what this file can say."""
        try:
            self.parse(data.decode())
        except (ValueError, TypeError, RecursionError, ValueRefused):
            return False
        return True

    def keep(self, data: bytes) -> None:
        """Write it in the place of what was said; ValueRefused where that cannot be."""
        try:
            make_folder(self.path.parent)
            write_whole(self.path, data)
        except OSError as error:
            raise ValueRefused(
                f"Your {self.called} cannot be kept in {self.path} ({error.strerror}): free some "
                "space there."
            ) from error

    def _refusal(self, error: Exception) -> ValueRefused:
        return ValueRefused(
            f"Your {self.called} in {self.path} cannot be used ({str(error).rstrip('.')}): set "
            "that right there, or move the file away and say it anew."
        )
