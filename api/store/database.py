"""The engine, its transactions, and its clock."""

from __future__ import annotations

import sqlite3
import time
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

from sqlalchemy import Connection, create_engine, event, make_url, text
from sqlalchemy.engine import Engine
from sqlalchemy.exc import ArgumentError
from sqlalchemy.orm import Session

from api.store.models import Base
from cutopt.records import CutoptError

__all__ = ["Database"]

_BUSY_MS = 15_000
#: Two processes that start at once on an empty PostgreSQL make its tables one after the other.
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

    def make_tables(self) -> None:
        """Make what is missing; what is there stays as it is."""
        with self._writing.begin() as connection:
            if not self.is_sqlite:
                connection.execute(
                    text("SELECT pg_advisory_xact_lock(:key)"), {"key": _TABLES_LOCK}
                )
            Base.metadata.create_all(connection)

    @contextmanager
    def read(self) -> Iterator[Session]:
        """A transaction that only reads."""
        with Session(self.engine, expire_on_commit=False) as session, session.begin():
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
            return create_engine(url, pool_pre_ping=True, pool_size=10, max_overflow=20)
        except ModuleNotFoundError as error:
            raise CutoptError(
                "CUTOPT_DATABASE names a PostgreSQL, but its driver is not installed: "
                "install cutopt[postgres]"
            ) from error
    if url.get_backend_name() != "sqlite":
        raise CutoptError(
            f"CUTOPT_DATABASE: read '{url.drivername}', would be right: sqlite or "
            "postgresql+psycopg"
        )
    engine = create_engine(url, pool_size=10, max_overflow=30)
    event.listen(engine, "connect", _set_up_sqlite)
    event.listen(engine, "begin", _begin_sqlite)
    return engine


def _set_up_sqlite(connection: sqlite3.Connection, record: Any) -> None:
    # The driver opens no transactions by itself: `_begin_sqlite` does.
    connection.isolation_level = None
    cursor = connection.cursor()
    cursor.execute(f"PRAGMA busy_timeout = {_BUSY_MS}")
    cursor.execute("PRAGMA journal_mode = WAL")
    cursor.execute("PRAGMA synchronous = FULL")
    cursor.execute("PRAGMA foreign_keys = ON")
    cursor.close()


def _begin_sqlite(connection: Connection) -> None:
    writes = connection.get_execution_options().get("cutopt_write")
    connection.exec_driver_sql("BEGIN IMMEDIATE" if writes else "BEGIN")
