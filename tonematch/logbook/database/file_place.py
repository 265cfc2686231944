"""A logbook in a SQLite file: whose file it is, how it is written safely, its daily copies."""

import json
import os
import sqlite3
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from typing import Any

from sqlalchemy import URL, Connection, Engine, NullPool, create_engine, event

from tonematch.errors import LogbookError
from tonematch.logbook.database.cells import json_of, text_or_surrogates
from tonematch.logbook.database.copies import (
    copies_in,
    copy_database,
    is_copied_today,
    keep_daily_copy,
    stamp,
    usual_copies,
)
from tonematch.logbook.database.faults import DAMAGED
from tonematch.logbook.database.place import Place
from tonematch.logbook.database.tables import APPLICATION_ID
from tonematch.logbook.photo_folder import folders_beside
from tonematch.wholefile import read_whole

_HEADER = b"SQLite format 3\0"  # https://www.sqlite.org/fileformat2.html, section 1.3
_ID_AT = slice(68, 72)


@dataclass(frozen=True)
class FilePlace(Place):
    """A file, with its photographs in a folder beside it."""

    path: Path

    remedy = "put back the newest copy (tonematch logbook restore)"
    reading = "BEGIN"
    writing = "BEGIN IMMEDIATE"  # at once: two that read first would then block each other

    def __str__(self) -> str:
        return str(self.path)

    @property
    def file(self) -> Path:
        return self.path

    @property
    def is_new(self) -> bool:
        return not self.path.exists()

    @property
    def folders(self) -> Mapping[str, tuple[Path, ...]]:
        beside = ("small pictures", "copies", "left over")
        named = {what: (self.path.with_name(f"{self.path.stem} {what}"),) for what in beside}
        return {"photographs": folders_beside(self.path), **named}

    @property
    def copies(self) -> list[Path]:
        return copies_in(usual_copies(self.path), self.path.stem)

    def check(self) -> None:
        check_whose_file(self.path)

    @property
    def _writable(self) -> bool:
        both = (self.path, self.path.parent)
        return self.is_new or all(os.access(path, os.W_OK) for path in both)

    def engine(self, wait_seconds: float) -> Engine:
        # https://www.sqlite.org/uri.html, section 3.3: mode
        query = {"mode": "rwc" if self._writable else "ro", "uri": "true"}
        engine = create_engine(
            URL.create("sqlite", database=self.path.absolute().as_uri(), query=query),
            connect_args={"timeout": wait_seconds},
            # Connections are cheap here, and a closed one leaves no lock behind.
            poolclass=NullPool,
            execution_options={"begin": self.reading},
            json_serializer=partial(json.dumps, allow_nan=False, ensure_ascii=False),
            json_deserializer=json_of,
        )
        event.listen(engine, "connect", _prepare)
        return engine

    def look(self, connection: Connection) -> None:
        # The whole file is read until it is copied today: damage that comes later is told where it
        # is met, and that copy is there.
        check = "PRAGMA quick_check(1)"
        copied = is_copied_today(self.path)
        if not copied and connection.exec_driver_sql(check).scalar_one() != "ok":
            raise LogbookError(f"The logbook {self} {DAMAGED}.")

    def before_upgrade(self, revision: str | None) -> None:
        if not self._writable:
            raise LogbookError(
                f"The logbook {self} must be brought up to date but cannot be written: copy it and "
                "its photographs to a disk that can."
            )
        if revision is not None:
            name = f"{self.path.stem} {revision} until {stamp()}{self.path.suffix}"
            copy_database(self.path, self.path.with_name(name))

    @contextmanager
    def upgrading(self, engine: Engine) -> Iterator[Connection]:
        with engine.connect().execution_options(begin=self.writing) as connection:
            driver = connection.connection.dbapi_connection
            assert isinstance(driver, sqlite3.Connection)
            # Altering a table copies and drops it, which its children must not notice; the keys are
            # checked at the end instead (https://www.sqlite.org/lang_altertable.html, section 7).
            driver.execute("PRAGMA foreign_keys = OFF")
            with connection.begin():
                connection.exec_driver_sql(f"PRAGMA application_id = {APPLICATION_ID}")
                yield connection
                if connection.exec_driver_sql("PRAGMA foreign_key_check").first() is not None:
                    raise LogbookError(
                        f"The logbook {self} could not be brought up to date and was left as it "
                        "was: keep a copy of it and use the tonematch that wrote it."
                    )

    def before_writing(self, is_sound: Callable[[], bool]) -> None:
        keep_daily_copy(self.path, is_sound)

    def size(self, connection: Connection) -> int:  # noqa: ARG002
        return self.path.stat().st_size

    def faults(self, connection: Connection) -> Iterator[str]:
        for (words,) in connection.exec_driver_sql("PRAGMA integrity_check"):
            if words != "ok":
                yield f"The file is damaged ({words}): {self.remedy}."
        for table, row, of, _ in connection.exec_driver_sql("PRAGMA foreign_key_check"):
            gone = f"points to a row of {of} that is not there"
            yield f"Table {table}, row {row}, {gone}: {self.remedy}."


def _prepare(connection: sqlite3.Connection, _record: Any) -> None:
    # The driver's own way of beginning leaves tables being made outside of transactions.
    connection.isolation_level = None
    connection.text_factory = text_or_surrogates
    # SQLite's own knows only the letters of ASCII, and words are looked for by it.
    connection.create_function("lower", 1, str.casefold, deterministic=True)
    connection.execute("PRAGMA foreign_keys = ON")
    # Rollback journal, and the folder synced as well: one file, safe when the power fails.
    connection.execute("PRAGMA synchronous = EXTRA")


def check_whose_file(path: Path) -> None:
    """Refuse a path that holds anything but a logbook, or holds none where one was.

    Nothing at it is touched, and no folder made.
    """
    try:
        if path.is_dir():
            raise LogbookError(
                f"{path} is a folder: give the path of a file for the logbook, such as "
                f"{path / 'logbook.sqlite'}."
            )
        if not path.parent.is_dir():
            raise LogbookError(
                f"The logbook {path} cannot be opened, since there is no folder {path.parent}: "
                "check the path, or make the folder first."
            )
        head = read_whole(path, most=100) if path.exists() else b""
        folders = [f for f in folders_beside(path) if f.is_dir() and any(f.iterdir())]
    except OSError as error:
        raise LogbookError(
            f"The logbook {path} cannot be opened ({error.strerror}): choose another path or make "
            "this one readable."
        ) from error
    if not head and folders:
        raise LogbookError(
            f"The logbook {path} is {'empty' if path.exists() else 'not there'}, although its "
            f"photographs lie in {folders[0]}: put back the newest copy of it, or move that "
            "folder away to begin anew."
        )
    if head and not (
        head.startswith(_HEADER) and int.from_bytes(head[_ID_AT], "big") == APPLICATION_ID
    ):
        raise LogbookError(
            f"{path} is not a logbook of tonematch and was left as it is: give the path of a "
            "logbook, or of a file that does not exist yet."
        )
