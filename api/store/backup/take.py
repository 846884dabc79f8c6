"""Taking a backup while the service runs."""

from __future__ import annotations

import os
import sqlite3
import tempfile
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from datetime import UTC, datetime
from pathlib import Path
from typing import IO, Any

from sqlalchemy import (
    JSON,
    URL,
    Connection,
    LargeBinary,
    MetaData,
    Table,
    Text,
    cast,
    create_engine,
    func,
    inspect,
    select,
    text,
)
from sqlalchemy.exc import DatabaseError

from api.store import migrations
from api.store.backup.file import Head, JsonText, Reader, Writer
from api.store.database import Database
from cutopt import __version__
from cutopt.records import CutoptError

__all__ = ["OF_THE_MOMENT", "at_a_time", "take"]

_AT_A_TIME = 200
#: What is of the moment stays out: whoever was signed out, or used a link, since a backup was made
#: must not be let in by it.
OF_THE_MOMENT = frozenset({"sessions", "links", "tries"})


def take(database: Database, path: Path) -> dict[str, int]:
    """Copy the whole database, as it is at one moment, into a new file that only we may read.

    The service may run meanwhile: SQLite is copied by its own means and the copy is checked page
    by page, PostgreSQL is read in one transaction that sees one moment. What was written is read
    back and counted before the file gets its name.

    Returns
    -------
    dict
        The rows of every table.

    Raises
    ------
    CutoptError
        Where the file is there already, or the database is empty, damaged or newer than this
        program.
    """
    if path.exists():
        raise CutoptError(f"{path}: is there already, would be right: the name of a new file")
    handle, name = tempfile.mkstemp(prefix=f".{path.name}.", dir=path.parent)
    part = Path(name)
    try:
        with os.fdopen(handle, "wb") as stream:
            with _one_moment(database, path.parent) as connection:
                written = _write(connection, stream, database)
            stream.flush()
            os.fsync(stream.fileno())
        if Reader(part).check() != written:
            raise CutoptError(f"{path}: what was written does not read back; nothing was kept")
        part.replace(path)
        _keep_name(path.absolute().parent)
    finally:
        part.unlink(missing_ok=True)
    return written


def _keep_name(folder: Path) -> None:
    """See to it that a power cut does not take the file's name, where the system can be asked."""
    if hasattr(os, "O_DIRECTORY"):
        place = os.open(folder, os.O_RDONLY | os.O_DIRECTORY)
        try:
            os.fsync(place)
        finally:
            os.close(place)


def _write(connection: Connection, stream: IO[bytes], database: Database) -> dict[str, int]:
    step = migrations.known_step(connection)
    if step is None:
        raise CutoptError(
            "CUTOPT_DATABASE: there is nothing to back up, the database has no tables; "
            "would be right: one that the service has used"
        )
    kind = "sqlite" if database.is_sqlite else "postgresql"
    made = datetime.now(UTC).isoformat(timespec="seconds")
    backup = Writer(stream, Head(step, kind, made, __version__))
    found = MetaData()
    there = set(inspect(connection).get_table_names())
    # Foreign keys that lead to tables left out are not followed.
    found.reflect(
        connection,
        resolve_fks=False,
        only=sorted(migrations.tables_of(step) & there - OF_THE_MOMENT),
    )
    written = {}
    for table in found.sorted_tables:
        names = [column.name for column in table.columns]
        count = backup.table(table.name, names, _rows(connection, table))
        if count != connection.scalar(select(func.count()).select_from(table)):
            raise CutoptError(f"'{table.name}' does not hold as many rows as were read from it")
        written[table.name] = count
    backup.close()
    return written


def at_a_time(table: Table) -> int:
    """How many rows are held at once: one where each may be a file of tens of megabytes."""
    return 1 if any(isinstance(c.type, LargeBinary) for c in table.columns) else _AT_A_TIME


def _rows(connection: Connection, table: Table) -> Iterator[Sequence[Any]]:
    json = [isinstance(column.type, JSON) for column in table.columns]
    query = select(
        *(
            cast(column, Text()).label(f"c{n}") if json[n] else column
            for n, column in enumerate(table.columns)
        )
    ).order_by(*table.primary_key.columns)
    many = connection.execution_options(stream_results=True, yield_per=at_a_time(table))
    for row in many.execute(query):
        yield [
            JsonText(value) if is_json and value is not None else value
            for value, is_json in zip(row, json, strict=True)
        ]


@contextmanager
def _one_moment(database: Database, folder: Path) -> Iterator[Connection]:
    """A connection that sees the database as it is now, whatever is written meanwhile."""
    if database.is_sqlite:
        with tempfile.TemporaryDirectory(prefix=".backup-", dir=folder) as place:
            copy = Path(place) / "copy.sqlite3"
            _copy_sqlite(database, copy)
            engine = create_engine(URL.create("sqlite", database=str(copy)))
            try:
                with engine.connect() as connection:
                    _check_sqlite(connection)
                    yield connection
            finally:
                engine.dispose()
        return
    reading = database.engine.execution_options(
        isolation_level="REPEATABLE READ", postgresql_readonly=True
    )
    with database.unchanged(), reading.begin() as connection:
        yield connection


def _copy_sqlite(database: Database, copy: Path) -> None:
    source = database.engine.url.database
    if source is None or not Path(source).is_file():
        raise CutoptError(
            f"CUTOPT_DATABASE: there is nothing to back up, no file '{source}'; would be right: "
            "a database that the service has used"
        )
    with database.engine.connect() as connection:
        driver = connection.connection.driver_connection
        target = sqlite3.connect(copy)
        try:
            if driver is not None:
                driver.backup(target)
        finally:
            target.close()


def _check_sqlite(connection: Connection) -> None:
    try:
        faults = [row[0] for row in connection.execute(text("PRAGMA integrity_check(3)"))]
    except DatabaseError as error:
        faults = [str(error.orig)]
    if faults != ["ok"]:
        raise CutoptError(
            f"the database is damaged: {'; '.join(faults)}; nothing was backed up. Would be "
            "right: restore the last backup"
        )
    lost = connection.execute(text("PRAGMA foreign_key_check")).fetchmany(3)
    if lost:
        raise CutoptError(
            "the database holds rows that belong to nothing: "
            + ", ".join(f"row {row[1]} of {row[0]} (of {row[2]})" for row in lost)
            + "; nothing was backed up"
        )
