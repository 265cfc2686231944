"""Where a logbook lies: all that differs between a file and a database on a server."""

from abc import ABC, abstractmethod
from collections.abc import Callable, Iterator, Mapping
from contextlib import AbstractContextManager
from pathlib import Path
from typing import ClassVar

from sqlalchemy import Connection, Engine


class Place(ABC):
    """A file or a database; as text it is what people are told, and holds no password.

    A server sees to its own copies, and to what lies below the rows.
    """

    on_server: ClassVar[bool] = False  # its copies are the server's dumps, and none are made here
    remedy: ClassVar[str]  # what to do where it is damaged
    # By which a transaction begins: one that sees one state throughout, one that alone may write.
    reading: ClassVar[str]
    writing: ClassVar[str]

    @abstractmethod
    def __str__(self) -> str: ...

    @property
    @abstractmethod
    def file(self) -> Path:
        """The file; LogbookError where there is none."""

    @property
    def is_new(self) -> bool:
        """Whether opening it makes a logbook where nothing is."""
        return False

    @property
    @abstractmethod
    def folders(self) -> Mapping[str, tuple[Path, ...]]:
        """Folders by what lies in them; the first of the photographs is where new ones go."""

    @property
    def copies(self) -> list[Path]:
        """Copies that tonematch made of it, oldest first."""
        return []

    @abstractmethod
    def check(self) -> None:
        """Refuse a place where no logbook can be, or where one was; nothing there is touched."""

    @abstractmethod
    def engine(self, wait_seconds: float) -> Engine:
        """Ready to connect, and to wait so long for another that writes."""

    @abstractmethod
    def look(self, connection: Connection) -> None:
        """Refuse what is seen at once to be damaged, or to be no logbook."""

    def before_upgrade(self, revision: str | None) -> None:  # noqa: B027
        """Refuse tables that must stay as they are, and copy what is there."""

    @abstractmethod
    def upgrading(self, engine: Engine) -> AbstractContextManager[Connection]:
        """A transaction in which tables may be altered."""

    def before_writing(self, is_sound: Callable[[], bool]) -> None:  # noqa: B027
        """Called before every transaction that writes."""

    @abstractmethod
    def size(self, connection: Connection) -> int:
        """Bytes that its rows take."""

    def faults(self, connection: Connection) -> Iterator[str]:  # noqa: ARG002
        """What is damaged below the rows."""
        yield from ()
