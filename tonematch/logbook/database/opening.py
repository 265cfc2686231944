"""Opening a logbook: bringing its tables up to date, transactions, faults in one sentence."""

from collections.abc import Iterator
from contextlib import contextmanager
from functools import cache
from pathlib import Path

from alembic import command
from alembic.config import Config
from alembic.runtime.migration import MigrationContext
from alembic.script import ScriptDirectory
from sqlalchemy import Connection, Engine, event
from sqlalchemy.orm import Session

from tonematch.errors import LogbookError
from tonematch.logbook.database.faults import faults_in_words
from tonematch.logbook.database.file_place import FilePlace
from tonematch.logbook.database.place import Place
from tonematch.logbook.database.server_place import server_place
from tonematch.logbook.database.sums import (
    rows_with_wrong_sums,
    sum_anew,
    sum_what_was_written,
)
from tonematch.logbook.database.tables import Base
from tonematch.logbook.photo_folder import Where, is_address, usual_logbook
from tonematch.wholefile import make_folder

MIGRATIONS = Path(__file__).with_name("migrations")


def place_of(named: Where | Place | None) -> Place:
    """The place that is named, or else the usual one: that of TONEMATCH_LOGBOOK, or a file.

    Raises LogbookError where the address of a server cannot be read, or the folder of the usual
    file not be made.
    """
    if isinstance(named, Place):
        return named
    where = named or _usual()
    return server_place(str(where)) if is_address(where) else FilePlace(Path(where))


def open_engine(
    place: Place, wait_seconds: float, migrations: Path = MIGRATIONS, until: str = "head"
) -> Engine:
    """Connect to a logbook, made where there is none, with its tables up to date.

    An earlier step than the last, `until`, is for rows that were written at that step.

    What is not a logbook is never altered; a file that cannot be written is opened for reading.
    Raises LogbookError when the place is no logbook, is in use longer than `wait_seconds`, damaged,
    cannot be reached, or was made by a newer tonematch.
    """
    place.check()
    engine = place.engine(wait_seconds)
    event.listen(engine, "begin", _begin)
    try:
        with faults_in_words(place):
            _bring_up_to_date(engine, place, migrations, until)
    except BaseException:
        engine.dispose()
        raise
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


def _usual() -> Where:
    """What names the usual logbook; the folder of the usual file is made where there is none."""
    where = usual_logbook()
    if isinstance(where, Path):
        try:
            make_folder(where.parent)
        except OSError as error:
            raise LogbookError(
                f"The folder {where.parent} for the logbook cannot be made ({error.strerror}): "
                "name another place for the logbook."
            ) from error
    return where


def _begin(connection: Connection) -> None:
    statement = connection.get_execution_options().get("begin")
    if statement is not None:
        connection.exec_driver_sql(statement)


@contextmanager
def transaction(engine: Engine, place: Place, *, writing: bool = True) -> Iterator[Session]:
    """A session that is committed as a whole or leaves nothing behind; faults as LogbookError."""
    begun = engine.execution_options(begin=place.writing if writing else place.reading)
    with faults_in_words(place), Session(begun) as session, session.begin():
        event.listen(session, "after_flush", sum_what_was_written)
        yield session


def _bring_up_to_date(engine: Engine, place: Place, migrations: Path, until: str) -> None:
    known = known_revisions(migrations)
    with engine.execution_options(begin=place.reading).begin() as connection:
        revision = MigrationContext.configure(connection).get_current_revision()
        place.look(connection)
    if revision == known[0]:
        return
    if revision not in {None, *known}:
        raise LogbookError(
            f"The logbook {place} was made by a newer tonematch: install the newest one to open it."
        )
    place.before_upgrade(revision)
    _upgrade(engine, place, migrations, until)


def _upgrade(engine: Engine, place: Place, migrations: Path, until: str) -> None:
    """Apply the steps that are missing, all in one transaction; a new logbook needs no steps.

    Every row has the sum of what it says then, but for those whose sum was wrong before.
    """
    with place.upgrading(engine) as connection:
        # Asked again, now that nobody else can make it meanwhile.
        is_new = MigrationContext.configure(connection).get_current_revision() is None
        if is_new and (migrations, until) == (MIGRATIONS, "head"):
            _make_tables(connection)
            return
        wrong = {} if is_new else rows_with_wrong_sums(connection)
        config = Config(attributes={"connection": connection})
        config.set_main_option("script_location", str(migrations).replace("%", "%%"))
        command.upgrade(config, until)
        if not is_new:
            sum_anew(connection, wrong)


def _make_tables(connection: Connection) -> None:
    """All tables as they are now, told to be at the last step."""
    Base.metadata.create_all(connection, checkfirst=False)
    MigrationContext.configure(connection).stamp(_steps(MIGRATIONS), "head")
