"""The steps of the schema, on both databases: from nothing and from the first release's data."""

from __future__ import annotations

import threading
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest
from alembic.autogenerate import compare_metadata
from alembic.runtime.migration import MigrationContext
from sqlalchemy import MetaData, create_engine, inspect, select, text

from api.store import Database, migrations
from api.store.models import Base
from cutopt.records import CutoptError
from tests.service import first_release

KINDS = ["sqlite", pytest.param("postgres", marks=pytest.mark.postgres)]


@pytest.fixture(params=KINDS)
def address(request: pytest.FixtureRequest, new_database: Callable[[str], str]) -> str:
    return new_database(request.param)


@pytest.fixture
def database(address: str) -> Iterator[Database]:
    database = Database(address)
    yield database
    database.close()


def step(database: Database) -> str | None:
    with database.engine.connect() as connection:
        return migrations.step_of(connection)


def differences(database: Database) -> list[Any]:
    """What the tables lack to be as the models say."""
    with database.engine.connect() as connection:
        context = MigrationContext.configure(
            connection, opts={"compare_type": True, "compare_server_default": True}
        )
        return list(compare_metadata(context, Base.metadata))


def test_steps_are_numbered_without_a_gap() -> None:
    files = sorted((Path(migrations.__file__).parent / "versions").glob("[0-9]*.py"))
    assert [file.name[:4] for file in files] == [f"{n:04}" for n in range(1, len(files) + 1)]
    assert migrations.head() == files[-1].name[:4]


_POSTGRES_SCHEMA = """
SELECT c.relname || '.' || a.attname,
       format_type(a.atttypid, a.atttypmod) || a.attnotnull
       || coalesce(pg_get_expr(adbin, adrelid), '')
FROM pg_attribute a JOIN pg_class c ON a.attrelid = c.oid AND c.relkind = 'r'
LEFT JOIN pg_attrdef ON adrelid = c.oid AND adnum = a.attnum
WHERE c.relnamespace = 'public'::regnamespace AND a.attnum > 0
UNION ALL
SELECT conname, pg_get_constraintdef(oid) FROM pg_constraint
WHERE connamespace = 'public'::regnamespace
UNION ALL
SELECT indexname, indexdef FROM pg_indexes WHERE schemaname = 'public'
"""


def schema(database: Database) -> dict[str, str]:
    """All that the database says of its tables, columns, keys and indexes."""
    with database.engine.connect() as connection:
        if database.is_sqlite:
            found = connection.execute(
                text("SELECT name, sql FROM sqlite_master WHERE sql IS NOT NULL")
            )
            rows = [(name, "".join(sql.replace('"', "").split())) for name, sql in found]
        else:
            rows = [tuple(row) for row in connection.execute(text(_POSTGRES_SCHEMA))]
    return {name: words for name, words in rows if migrations.MARK not in name}


def test_the_first_step_is_the_first_release_to_the_letter(
    address: str, database: Database, request: pytest.FixtureRequest
) -> None:
    first_release.make(address)
    made = schema(database)
    kind = "sqlite" if database.is_sqlite else "postgres"
    other = Database(request.getfixturevalue("new_database")(kind))
    with other.changing() as connection:
        migrations.upgrade(connection, migrations.FIRST)
    assert schema(other) == made
    assert len(made) > 9
    other.close()


def test_from_nothing_and_from_the_first_release_the_schema_is_one(
    address: str, database: Database, request: pytest.FixtureRequest
) -> None:
    first_release.make(address)
    database.make_tables()
    kind = "sqlite" if database.is_sqlite else "postgres"
    other = Database(request.getfixturevalue("new_database")(kind))
    other.make_tables()
    assert schema(other) == schema(database)
    other.close()


def test_from_nothing_the_tables_are_as_the_models_say(database: Database) -> None:
    database.make_tables()
    assert step(database) == migrations.head()
    assert differences(database) == []
    database.make_tables()  # a second start changes nothing
    assert differences(database) == []


@pytest.mark.parametrize("curves", [True, False], ids=["curves", "older"])
def test_data_of_the_first_release_is_kept_to_the_last_byte(
    address: str, database: Database, curves: bool
) -> None:
    first_release.make(address, curves)
    before = rows_of(address)
    database.make_tables()
    assert step(database) == migrations.head()
    assert differences(database) == []
    after = rows_of(address)
    for table, rows in before.items():
        names = sorted(rows[0])
        kept = [{name: row[name] for name in names} for row in after[table]]
        assert kept == [{name: row[name] for name in names} for row in rows], table
    for table, rows in first_release.ROWS.items():
        if curves or table != "curves":
            assert len(before[table]) == len(rows)


def rows_of(address: str) -> dict[str, list[dict[str, Any]]]:
    """Every row of every table that has any, as the driver reads it."""
    engine = create_engine(address)
    found = MetaData()
    found.reflect(engine)
    with engine.connect() as connection:
        rows = {
            table.name: [
                dict(row._mapping)
                for row in connection.execute(select(table).order_by(*table.primary_key))
            ]
            for table in found.sorted_tables
            if table.name != migrations.MARK
        }
    engine.dispose()
    return {name: found for name, found in rows.items() if found}


def test_rows_are_numbered_on_after_the_first_release(address: str, database: Database) -> None:
    first_release.make(address)
    database.make_tables()
    with database.write() as session:
        number = session.execute(
            text(
                "INSERT INTO plans (id, seconds, seed, status, cancel_asked, crashes, created, "
                "progress"
                + "".join(f", {name}" for name in _required_beyond_first(database))
                + ") SELECT 'new', seconds, seed, 'queued', cancel_asked, crashes, created, "
                "progress"
                + "".join(f", {name}" for name in _required_beyond_first(database))
                + " FROM plans WHERE number = 1 RETURNING number"
            )
        ).scalar_one()
    assert number == 10


def _required_beyond_first(database: Database) -> list[str]:
    first = set(first_release.ROWS["plans"][0])
    return [
        column["name"]
        for column in inspect(database.engine).get_columns("plans")
        if not column["nullable"] and column["name"] not in first
    ]


def test_rows_of_the_first_release_hold_together(address: str, database: Database) -> None:
    """Foreign keys hold after tables were made anew: removing a plan removes what is its own."""
    first_release.make(address)
    database.make_tables()
    with database.write() as session:
        session.execute(text("DELETE FROM plans WHERE number = 1"))
        for table in ("plan_days", "plan_files", "plan_events"):
            count = f"SELECT count(*) FROM {table} WHERE plan = 1"
            assert session.execute(text(count)).scalar_one() == 0
        whole = session.execute(text("SELECT count(*) FROM plan_events")).scalar_one()
        assert whole == 3
    with pytest.raises(Exception, match=r"(?i)foreign key"), database.write() as session:
        session.execute(text("DELETE FROM days WHERE number = 2"))


def test_a_newer_database_is_refused_and_left_alone(database: Database) -> None:
    database.make_tables()
    with database.write() as session:
        session.execute(text(f"UPDATE {migrations.MARK} SET version_num = '9999'"))
    with pytest.raises(CutoptError, match=r"newer than this program: it is at step 9999"):
        database.make_tables()
    with database.read() as session:
        mark = session.execute(text(f"SELECT version_num FROM {migrations.MARK}")).scalar_one()
    assert mark == "9999"


def test_tables_of_another_program_are_refused_and_left_alone(database: Database) -> None:
    with database.write() as session:
        session.execute(text("CREATE TABLE days (number INTEGER PRIMARY KEY, weather TEXT)"))
    with pytest.raises(CutoptError, match="'days' has other columns"):
        database.make_tables()
    assert inspect(database.engine).get_table_names() == ["days"]


def test_a_first_release_without_one_of_its_tables_is_refused(
    address: str, database: Database
) -> None:
    first_release.make(address)
    with database.write() as session:
        session.execute(text("DROP TABLE plan_files"))
    with pytest.raises(CutoptError, match="'plan_files' is missing"):
        database.make_tables()


def test_a_step_that_fails_changes_nothing(
    address: str, database: Database, monkeypatch: pytest.MonkeyPatch
) -> None:
    first_release.make(address)
    before = rows_of(address)
    upgrade = migrations.upgrade

    def fails_late(connection: Any) -> None:
        upgrade(connection)
        raise OSError("the disk is full")

    monkeypatch.setattr(migrations, "upgrade", fails_late)
    with pytest.raises(OSError, match="full"):
        database.make_tables()
    assert migrations.MARK not in inspect(database.engine).get_table_names()
    assert rows_of(address) == before
    monkeypatch.undo()
    database.make_tables()
    assert step(database) == migrations.head()


def test_processes_that_start_at_once_make_the_tables_once(address: str) -> None:
    """Each has an engine of its own, as processes have; they wait for one another."""
    first_release.make(address)
    databases = [Database(address) for _ in range(4)]
    ready = threading.Barrier(len(databases))
    failed: list[Exception] = []

    def start(database: Database) -> None:
        ready.wait()
        try:
            database.make_tables()
        except Exception as error:
            failed.append(error)

    threads = [threading.Thread(target=start, args=(database,)) for database in databases]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert failed == []
    assert [step(database) for database in databases] == [migrations.head()] * 4
    for database in databases:
        database.close()


@pytest.mark.postgres
def test_tables_that_stay_in_use_are_told_and_left_as_they_are(
    new_database: Callable[[str], str], monkeypatch: pytest.MonkeyPatch
) -> None:
    address = new_database("postgres")
    first_release.make(address)
    monkeypatch.setattr("api.store.database._IN_USE_MS", 200)
    reader, starter = Database(address), Database(address)
    with reader.write() as session:  # a transaction that goes on holds its tables
        session.execute(text("SELECT count(*) FROM plans"))
        with pytest.raises(CutoptError, match=r"in use .* stop the services"):
            starter.make_tables()
    assert migrations.MARK not in inspect(reader.engine).get_table_names()
    starter.make_tables()
    reader.close()
    starter.close()
