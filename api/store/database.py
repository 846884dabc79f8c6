"""The engine, its transactions, and its clock."""

from __future__ import annotations

import sqlite3
import time
from collections.abc import Iterator
from contextlib import contextmanager
from functools import partial
from typing import Any

from sqlalchemy import Connection, Dialect, create_engine, event, make_url, text
from sqlalchemy.engine import Engine
from sqlalchemy.exc import ArgumentError, DisconnectionError, OperationalError
from sqlalchemy.orm import Session
from sqlalchemy.pool import ConnectionPoolEntry

from api.store import migrations
from cutopt.records import CutoptError

__all__ = ["Database"]

_BUSY_MS = 15_000
#: A large database may take minutes to change; whoever starts meanwhile waits.
_CHANGE_MS = 600_000
#: How long tables that are to be changed may be in use by others.
_IN_USE_MS = 30_000
#: A connection that was not used for so many seconds is tried before it is used again.
_IDLE = 1.0
_USED = "cutopt_used"
#: PostgreSQL's word for a lock that was not had in time.
_NOT_HAD = "55P03"
#: Processes that start at once on a PostgreSQL bring its tables up one after the other.
_TABLES_LOCK = 0x63757470


class Database:
    """An SQLite file or a PostgreSQL.

    SQLite runs with a write-ahead log, full sync, foreign keys and a wait for other writers; a
    transaction that will write takes the write lock at its start, so that two can't each wait for
    the other.
    """

    def __init__(self, address: str) -> None:
        self.engine = _engine(address)
        self.is_sqlite = self.engine.dialect.name == "sqlite"
        self._writing = self.engine.execution_options(cutopt_write=True)
        # Each statement of a PostgreSQL sees what is committed when it begins, in a transaction or
        # not: to begin and end one would only cost two more ways there and back.
        self._reading = (
            self.engine
            if self.is_sqlite
            else self.engine.execution_options(isolation_level="AUTOCOMMIT")
        )

    def make_tables(self) -> None:
        """Bring the tables to the step that this program works with; their rows stay.

        All of it happens or none; processes that start at once do it one after the other.

        Raises
        ------
        CutoptError
            Where the database is newer than the program, has tables of another program, or they
            stay in use.
        """
        with self.engine.connect() as connection:
            if migrations.step_of(connection) == migrations.head():
                return
        with self.changing() as connection:
            migrations.upgrade(connection)

    @contextmanager
    def changing(self) -> Iterator[Connection]:
        """A transaction that changes tables, one at a time over all processes.

        On SQLite tables are made anew to change them, so foreign keys are checked at its end
        instead of at every row.
        """
        with self._writing.connect() as connection:
            if not self.is_sqlite:
                with connection.begin():
                    connection.execute(
                        text("SELECT pg_advisory_xact_lock(:key)"), {"key": _TABLES_LOCK}
                    )
                    # A reader that stays would else keep everyone waiting behind the change.
                    connection.execute(text(f"SET LOCAL lock_timeout = {_IN_USE_MS}"))
                    with _told_where_in_use():
                        yield connection
                return
            _pragmas(connection, foreign_keys="OFF", busy_timeout=_CHANGE_MS)
            try:
                with connection.begin():
                    yield connection
                    lost = connection.exec_driver_sql("PRAGMA foreign_key_check").fetchmany(3)
                    if lost:
                        raise CutoptError(
                            "the database holds rows that belong to nothing: "
                            + ", ".join(f"row {row[1]} of {row[0]} (of {row[2]})" for row in lost)
                            + "; nothing was changed"
                        )
            finally:
                _pragmas(connection, foreign_keys="ON", busy_timeout=_BUSY_MS)

    @contextmanager
    def unchanged(self) -> Iterator[None]:
        """While this lasts nobody changes the tables of a PostgreSQL; rows come and go."""
        with self.engine.connect() as connection, connection.begin():
            if not self.is_sqlite:
                connection.execute(
                    text("SELECT pg_advisory_xact_lock_shared(:key)"), {"key": _TABLES_LOCK}
                )
            yield

    @contextmanager
    def read(self) -> Iterator[Session]:
        """For reading only."""
        with Session(self._reading, expire_on_commit=False) as session, session.begin():
            yield session

    @contextmanager
    def write(self) -> Iterator[Session]:
        """A transaction that is kept as a whole or not at all."""
        with Session(self._writing, expire_on_commit=False) as session, session.begin():
            yield session

    def clock(self, session: Session) -> float:
        """Seconds by the clock that all processes on this database share."""
        if self.is_sqlite:
            return time.time()
        return float(
            session.execute(text("SELECT EXTRACT(EPOCH FROM clock_timestamp())")).scalar_one()
        )

    def answers(self) -> bool:
        """Whether a query comes back."""
        with self.engine.connect() as connection:
            return bool(connection.execute(text("SELECT count(*) >= 0 FROM plans")).scalar_one())

    def steps(self) -> tuple[str | None, str]:
        """The step that the tables are at, and the one that this program works with.

        Raises CutoptError where the database is newer than the program.
        """
        with self.engine.connect() as connection:
            return migrations.step_of(connection), migrations.head()

    def close(self) -> None:
        """Give back every connection."""
        self.engine.dispose()


def _engine(address: str) -> Engine:
    try:
        url = make_url(address)
    except ArgumentError as error:
        raise CutoptError(
            "CUTOPT_DATABASE: not a database's address, would be right: "
            "sqlite:///cutopt.sqlite3 or postgresql+psycopg://user@host/name"
        ) from error
    if url.get_backend_name() == "postgresql":
        url = url.set(drivername="postgresql+psycopg")
        try:
            engine = create_engine(url, pool_size=10, max_overflow=20, hide_parameters=True)
        except ModuleNotFoundError as error:
            raise CutoptError(
                "CUTOPT_DATABASE names a PostgreSQL, but its driver is not installed: "
                "install cutopt[postgres]"
            ) from error
        event.listen(engine, "checkin", _put_back)
        event.listen(engine, "checkout", partial(_still_there, engine.dialect))
        return engine
    if url.get_backend_name() != "sqlite":
        raise CutoptError(
            f"CUTOPT_DATABASE: read '{url.drivername}', would be right: sqlite or "
            "postgresql+psycopg"
        )
    engine = create_engine(url, pool_size=10, max_overflow=30, hide_parameters=True)
    event.listen(engine, "connect", _set_up_sqlite)
    event.listen(engine, "begin", _begin_sqlite)
    return engine


@contextmanager
def _told_where_in_use() -> Iterator[None]:
    try:
        yield
    except OperationalError as error:
        if getattr(error.orig, "sqlstate", None) != _NOT_HAD:
            raise
        raise CutoptError(
            f"CUTOPT_DATABASE: its tables were in use for {_IN_USE_MS // 1000} s; would be right: "
            "stop the services that run on it. Nothing was changed"
        ) from error


def _pragmas(connection: Connection, **values: str | int) -> None:
    """Set up an SQLite connection beside any transaction: within one these say nothing."""
    driver = connection.connection.driver_connection
    if driver is not None:
        for name, value in values.items():
            driver.execute(f"PRAGMA {name} = {value}")


def _put_back(connection: Any, record: ConnectionPoolEntry) -> None:
    record.info[_USED] = time.monotonic()


def _still_there(
    dialect: Dialect, connection: Any, record: ConnectionPoolEntry, proxy: object
) -> None:
    """Ask a connection that lay idle whether it still leads anywhere: a new one is made if not.

    Asked at every use, as the pool itself would, it cost a way there and back each time.
    """
    used = record.info.get(_USED)
    if used is None or time.monotonic() - used < _IDLE:
        return
    try:
        dialect.do_ping(connection)
    except dialect.loaded_dbapi.Error as error:
        raise DisconnectionError from error


def _set_up_sqlite(connection: sqlite3.Connection, record: Any) -> None:
    # The driver opens no transactions by itself: `_begin_sqlite` does.
    connection.isolation_level = None
    cursor = connection.cursor()
    cursor.execute(f"PRAGMA busy_timeout = {_BUSY_MS}")
    _write_ahead(cursor)
    cursor.execute("PRAGMA synchronous = FULL")
    cursor.execute("PRAGMA foreign_keys = ON")
    cursor.close()


def _write_ahead(cursor: sqlite3.Cursor) -> None:
    """Turn the log on; of processes that begin with a new file at once, SQLite lets none wait."""
    end = time.monotonic() + _BUSY_MS / 1000
    while True:
        try:
            cursor.execute("PRAGMA journal_mode = WAL")
            return
        except sqlite3.OperationalError:
            if time.monotonic() > end:
                raise
            time.sleep(0.01)


def _begin_sqlite(connection: Connection) -> None:
    writes = connection.get_execution_options().get("cutopt_write")
    connection.exec_driver_sql("BEGIN IMMEDIATE" if writes else "BEGIN")
