"""Opening a logbook: whose file it is, bringing its tables up to date, faults in one sentence."""

import json
import os
import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager
from functools import cache, partial
from pathlib import Path
from typing import Any

from alembic import command
from alembic.config import Config
from alembic.runtime.migration import MigrationContext
from alembic.script import ScriptDirectory
from sqlalchemy import URL, Connection, Engine, NullPool, create_engine, event
from sqlalchemy.orm import Session

from tonematch.errors import LogbookError
from tonematch.logbook.database.cells import json_of, text_or_surrogates
from tonematch.logbook.database.copies import copy_database, is_copied_today, stamp
from tonematch.logbook.database.faults import DAMAGED, faults_in_words
from tonematch.logbook.database.sums import (
    rows_with_wrong_sums,
    sum_anew,
    sum_what_was_written,
)
from tonematch.logbook.database.tables import APPLICATION_ID, Base
from tonematch.logbook.photo_folder import folders_beside, usual_folder
from tonematch.wholefile import make_folder, read_whole

MIGRATIONS = Path(__file__).with_name("migrations")

_HEADER = b"SQLite format 3\0"  # https://www.sqlite.org/fileformat2.html, section 1.3
_ID_AT = slice(68, 72)


def open_engine(
    path: Path, wait_seconds: float, migrations: Path = MIGRATIONS, until: str = "head"
) -> Engine:
    """Connect to a logbook, made where there is none, with its tables up to date.

    An earlier step than the last, `until`, is for rows that were written at that step.

    A file that is not a logbook is never altered; one that cannot be written is opened for reading.
    Raises LogbookError when the path is no logbook, is in use longer than `wait_seconds`, damaged,
    or made by a newer tonematch.
    """
    check_whose_file(path)
    writable = not path.exists() or all(os.access(p, os.W_OK) for p in (path, path.parent))
    engine = _engine(path, wait_seconds, "rwc" if writable else "ro")
    with faults_in_words(path):
        _bring_up_to_date(engine, path, migrations, writable, until)
    return engine


def revision_of(session: Session) -> str:
    """The step that the tables of an open logbook are at."""
    context = MigrationContext.configure(session.connection())
    return str(context.get_current_revision())


@cache
def _steps(migrations: Path) -> ScriptDirectory:
    return ScriptDirectory(str(migrations))


def known_revisions(migrations: Path = MIGRATIONS) -> list[str]:
    """The steps that this version knows, the newest first."""
    return [step.revision for step in _steps(migrations).walk_revisions()]


def usual_path() -> Path:
    """Where a logbook lies unless another is named; the folder is made where there is none."""
    folder = usual_folder()
    try:
        make_folder(folder)
    except OSError as error:
        raise LogbookError(
            f"The folder {folder} for the logbook cannot be made ({error.strerror}): name another "
            "place for the logbook."
        ) from error
    return folder / "logbook.sqlite"


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


def _engine(path: Path, wait_seconds: float, mode: str) -> Engine:
    engine = create_engine(
        # https://www.sqlite.org/uri.html, section 3.3: mode
        URL.create(
            "sqlite", database=path.absolute().as_uri(), query={"mode": mode, "uri": "true"}
        ),
        connect_args={"timeout": wait_seconds},
        # Connections are cheap here, and a closed one leaves no lock behind.
        poolclass=NullPool,
        json_serializer=partial(json.dumps, allow_nan=False, ensure_ascii=False),
        json_deserializer=json_of,
    )

    @event.listens_for(engine, "connect")
    def prepare(connection: sqlite3.Connection, _record: Any) -> None:
        # The driver's own way of beginning leaves tables being made outside of transactions.
        connection.isolation_level = None
        connection.text_factory = text_or_surrogates
        # SQLite's own knows only the letters of ASCII, and words are looked for by it.
        connection.create_function("lower", 1, str.casefold, deterministic=True)
        connection.execute("PRAGMA foreign_keys = ON")
        # Rollback journal, and the folder synced as well: one file, safe when the power fails.
        connection.execute("PRAGMA synchronous = EXTRA")

    @event.listens_for(engine, "begin")
    def begin(connection: Connection) -> None:
        connection.exec_driver_sql(connection.get_execution_options().get("begin", "BEGIN"))

    return engine


@contextmanager
def transaction(engine: Engine, path: Path) -> Iterator[Session]:
    """A session that is committed as a whole or leaves nothing behind; faults as LogbookError."""
    with faults_in_words(path), Session(engine) as session, session.begin():
        event.listen(session, "after_flush", sum_what_was_written)
        yield session


def _bring_up_to_date(
    engine: Engine, path: Path, migrations: Path, writable: bool, until: str
) -> None:
    known = known_revisions(migrations)
    with engine.begin() as connection:
        revision = MigrationContext.configure(connection).get_current_revision()
        # The whole file is read until it is copied today: damage that comes later is told where it
        # is met, and that copy is there.
        check = "PRAGMA quick_check(1)"
        if not is_copied_today(path) and connection.exec_driver_sql(check).scalar_one() != "ok":
            raise LogbookError(f"The logbook {path} {DAMAGED}.")
    if revision == known[0]:
        return
    if revision not in {None, *known}:
        raise LogbookError(
            f"The logbook {path} was made by a newer tonematch: install the newest one to open it."
        )
    if not writable:
        raise LogbookError(
            f"The logbook {path} must be brought up to date but cannot be written: copy it and "
            "its photographs to a disk that can."
        )
    if revision is not None:
        copy = path.with_name(f"{path.stem} {revision} until {stamp()}{path.suffix}")
        copy_database(path, copy)
    _upgrade(engine, path, migrations, until, is_new=revision is None)


def _upgrade(engine: Engine, path: Path, migrations: Path, until: str, *, is_new: bool) -> None:
    """Apply the steps that are missing, all in one transaction; a new logbook needs no steps.

    Every row has the sum of what it says then, but for those whose sum was wrong before.
    """
    with engine.connect().execution_options(begin="BEGIN IMMEDIATE") as connection:
        driver = connection.connection.dbapi_connection
        assert isinstance(driver, sqlite3.Connection)
        # Altering a table copies and drops it, which its children must not notice; the keys are
        # checked at the end instead (https://www.sqlite.org/lang_altertable.html, section 7).
        driver.execute("PRAGMA foreign_keys = OFF")
        with connection.begin():
            connection.exec_driver_sql(f"PRAGMA application_id = {APPLICATION_ID}")
            if is_new and (migrations, until) == (MIGRATIONS, "head"):
                _make_tables(connection)
                return
            wrong = {} if is_new else rows_with_wrong_sums(connection)
            config = Config(attributes={"connection": connection})
            config.set_main_option("script_location", str(migrations).replace("%", "%%"))
            command.upgrade(config, until)
            if not is_new:
                sum_anew(connection, wrong)
            if connection.exec_driver_sql("PRAGMA foreign_key_check").first() is not None:
                raise LogbookError(
                    f"The logbook {path} could not be brought up to date and was left as it was: "
                    "keep a copy of it and use the tonematch that wrote it."
                )


def _make_tables(connection: Connection) -> None:
    """All tables as they are now, told to be at the last step."""
    Base.metadata.create_all(connection, checkfirst=False)
    MigrationContext.configure(connection).stamp(_steps(MIGRATIONS), "head")
