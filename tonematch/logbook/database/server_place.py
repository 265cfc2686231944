"""A logbook that several benches share: a PostgreSQL database, and a folder for photographs."""

import json
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass
from functools import partial
from importlib.util import find_spec
from pathlib import Path

from sqlalchemy import URL, Connection, Engine, create_engine, inspect, make_url
from sqlalchemy.exc import ArgumentError

from tonematch.errors import LogbookError
from tonematch.logbook.database.place import Place
from tonematch.logbook.database.tables import APPLICATION_ID

_FORM = "postgresql+psycopg://NAME@SERVER/DATABASE?folder=/FOLDER"


@dataclass(frozen=True)
class ServerPlace(Place):
    """A database, and the folder that every bench reaches, for the photographs."""

    url: URL
    folder: Path

    on_server = True
    remedy = "ask where its server is kept for the newest dump of it"
    reading = "SET TRANSACTION ISOLATION LEVEL REPEATABLE READ, READ ONLY"
    # Held until the transaction ends, by one bench at a time; it ends with a bench that is lost.
    writing = f"SELECT pg_advisory_xact_lock({APPLICATION_ID})"

    def __str__(self) -> str:
        at = self.url
        shown = URL.create(at.drivername, at.username, None, at.host, at.port, at.database)
        return shown.render_as_string()

    @property
    def file(self) -> Path:
        raise LogbookError(
            f"The logbook {self} lies on a server, whose own dumps are its copies: ask for one "
            "where the server is kept, or write all of it into one file (tonematch logbook export)."
        )

    @property
    def folders(self) -> Mapping[str, tuple[Path, ...]]:
        inside = ("photographs", "small pictures", "left over")
        return {what: (self.folder / what,) for what in inside}

    def check(self) -> None:
        if not self.folder.is_dir():
            raise LogbookError(
                f"The logbook {self} cannot be opened, since there is no folder {self.folder} "
                "for its photographs: see whether that disk is there, or make the folder first."
            )

    def engine(self, wait_seconds: float) -> Engine:
        seconds = max(2, round(wait_seconds))
        options = f"-c lock_timeout={max(1, round(wait_seconds * 1000))} -c synchronous_commit=on"
        return create_engine(
            self.url,
            # https://www.postgresql.org/docs/current/libpq-connect.html: a server that is gone is
            # noticed after seconds, not after the hours of the network's own.
            connect_args={
                "options": options,
                "connect_timeout": seconds,
                "keepalives_idle": seconds,
                "keepalives_interval": seconds,
                "keepalives_count": 2,
                "tcp_user_timeout": 1000 * seconds,
            },
            pool_pre_ping=True,
            json_serializer=partial(json.dumps, allow_nan=False, ensure_ascii=False),
        )

    def look(self, connection: Connection) -> None:
        tables = inspect(connection).get_table_names()
        if tables and "alembic_version" not in tables:
            raise LogbookError(
                f"{self} is not a logbook of tonematch and was left as it is: give the name of a "
                "logbook, or of a database that holds nothing yet."
            )

    @contextmanager
    def upgrading(self, engine: Engine) -> Iterator[Connection]:
        with engine.execution_options(begin=self.writing).begin() as connection:
            yield connection

    def size(self, connection: Connection) -> int:
        query = "SELECT pg_database_size(current_database())"
        return int(connection.exec_driver_sql(query).scalar_one())


def server_place(address: str) -> ServerPlace:
    """The place that an address names; LogbookError, which does not repeat it, where it cannot."""
    try:
        url = make_url(address)
    except (ArgumentError, ValueError) as error:
        raise LogbookError(
            f"The address of the logbook cannot be read: write it as {_FORM}."
        ) from error
    folder = url.query.get("folder")
    if url.drivername not in ("postgresql", "postgresql+psycopg") or not isinstance(folder, str):
        raise LogbookError(
            "A logbook that benches share lies on a PostgreSQL server, and its photographs in a "
            f"folder that every bench reaches: write its address as {_FORM}."
        )
    if find_spec("psycopg") is None:
        raise LogbookError(
            "A logbook on a server needs one more library: install tonematch[postgresql]."
        )
    url = url.set(drivername="postgresql+psycopg").difference_update_query(["folder"])
    return ServerPlace(url, Path(folder))
