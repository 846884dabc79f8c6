"""Putting a backup into a database, whichever of the two kinds it came from."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import UTC, datetime
from itertools import islice
from typing import Any

from sqlalchemy import (
    JSON,
    Connection,
    DateTime,
    Insert,
    Integer,
    MetaData,
    Table,
    Text,
    bindparam,
    cast,
    func,
    insert,
    inspect,
    select,
    text,
)
from sqlalchemy.exc import DBAPIError
from sqlalchemy.orm import Session

from api.store import migrations
from api.store.access_models import ActRow
from api.store.backup.file import Reader
from api.store.backup.take import OF_THE_MOMENT, at_a_time
from api.store.database import Database
from cutopt.records import CutoptError

__all__ = ["restore"]


def restore(database: Database, reader: Reader, replace: bool = False) -> dict[str, int]:
    """Put a backup into a database: all of it, or nothing where anything is wrong.

    The file is read to its end first. Its tables are made as they were at the backup's step,
    filled, counted, and brought to the newest step, all in one transaction, and a row of the audit
    trail says so.

    Parameters
    ----------
    replace
        Whether what the database holds gives way.

    Returns
    -------
    dict
        The rows of every table, as the backup held them.

    Raises
    ------
    CutoptError
        Where the file is damaged or newer than this program, where the database holds rows and
        `replace` is not given, or where a row can't be kept.
    """
    step = reader.head.step
    if not migrations.is_known(step):
        raise CutoptError(
            f"{reader.path}: the backup is newer than this program: its tables are at step "
            f"{step}, this program knows steps up to {migrations.head()}; would be right: the "
            "newer program. Nothing was restored"
        )
    rows = reader.check()
    with database.changing() as connection:
        _clear(connection, replace)
        migrations.upgrade(connection, step)
        _fill(connection, reader, rows)
        if not database.is_sqlite:
            _number_on(connection, step)
        migrations.upgrade(connection)
        _add_to_trail(connection, reader)
    return rows


def _add_to_trail(connection: Connection, reader: Reader) -> None:
    """The audit trail goes back to the backup's moment: it says so itself."""
    act = ActRow(
        moment=datetime.now(UTC),
        who="nobody",
        who_name="cutopt restore",
        act="restore",
        target=f"backup of {reader.head.made}"[:64],
        request="",
        outcome="done",
    )
    with Session(connection, join_transaction_mode="create_savepoint") as session:
        session.add(act)
        session.commit()


def _clear(connection: Connection, replace: bool) -> None:
    """Remove the tables, which must be empty unless what they hold gives way."""
    migrations.upgrade(connection)
    found = _tables(connection, migrations.head())
    held = {
        table.name: count
        for table in found.sorted_tables
        if table.name not in OF_THE_MOMENT
        and (count := connection.scalar(select(func.count()).select_from(table)))
    }
    if held and not replace:
        shown = ", ".join(f"{name}: {count}" for name, count in held.items())
        raise CutoptError(
            f"CUTOPT_DATABASE: the database is not empty (rows in {shown}); would be right: an "
            "empty one, or --replace to give up what it holds. Nothing was restored"
        )
    found.drop_all(connection)
    connection.execute(text(f"DROP TABLE {migrations.MARK}"))


def _tables(connection: Connection, step: str) -> MetaData:
    found = MetaData()
    found.reflect(connection, only=sorted(migrations.tables_of(step)))
    return found


def _fill(connection: Connection, reader: Reader, rows: dict[str, int]) -> None:
    found = _tables(connection, reader.head.step)
    for table in reversed(found.sorted_tables):
        if table.name in rows and connection.scalar(select(func.count()).select_from(table)):
            connection.execute(table.delete())
    for name, columns, values in reader.tables():
        table = found.tables.get(name)
        if table is None or set(columns) != set(table.columns.keys()):
            raise CutoptError(
                f"{reader.path}: its table '{name}' is not that of step {reader.head.step}. "
                "Nothing was restored"
            )
        try:
            _insert(connection, table, columns, values)
        except DBAPIError as error:
            raise CutoptError(
                f"{reader.path}: a row of '{name}' can't be kept: {error.orig}. "
                "Nothing was restored"
            ) from error
        if connection.scalar(select(func.count()).select_from(table)) != rows[name]:
            raise CutoptError(f"'{name}' does not hold the rows given to it; nothing was restored")


def _insert(
    connection: Connection, table: Table, columns: Sequence[str], rows: Iterator[tuple[Any, ...]]
) -> None:
    statement = _statement(connection, table, columns)
    kinds = [table.c[name].type for name in columns]
    naive = [isinstance(kind, DateTime) and not kind.timezone for kind in kinds]
    some_rows = at_a_time(table)
    while some := list(islice(rows, some_rows)):
        connection.execute(
            statement,
            [
                {f"v{n}": _naive(value) if naive[n] else value for n, value in enumerate(row)}
                for row in some
            ],
        )


def _statement(connection: Connection, table: Table, columns: Sequence[str]) -> Insert:
    """JSON columns are filled with their text as it was: no value is read and written anew."""
    values: dict[str, Any] = {}
    for n, name in enumerate(columns):
        kind = table.c[name].type
        if not isinstance(kind, JSON):
            values[name] = bindparam(f"v{n}", type_=kind)
        elif connection.dialect.name == "postgresql":
            values[name] = cast(bindparam(f"v{n}", type_=Text()), kind)
        else:
            values[name] = bindparam(f"v{n}", type_=Text())
    return insert(table).values(values)


def _naive(value: Any) -> Any:
    """SQLite keeps no zone: what it keeps is UTC."""
    return value.astimezone(UTC).replace(tzinfo=None) if isinstance(value, datetime) else value


def _number_on(connection: Connection, step: str) -> None:
    """New rows are numbered on from the highest that was restored."""
    found = inspect(connection)
    for table in sorted(migrations.tables_of(step)):
        for name in found.get_pk_constraint(table)["constrained_columns"]:
            column = next(c for c in found.get_columns(table) if c["name"] == name)
            if isinstance(column["type"], Integer) and column.get("autoincrement"):
                highest = f'(SELECT max("{name}") FROM "{table}")'  # noqa: S608
                connection.execute(
                    text(
                        "SELECT setval(pg_get_serial_sequence(:table, :name), "
                        f"coalesce({highest}, 1), {highest} IS NOT NULL)"
                    ),
                    {"table": f'"{table}"', "name": name},
                )
