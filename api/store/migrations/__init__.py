"""The schema of the database, step by step, and which step a database is at.

A database that the first release made carries no mark of its step: it is known by its tables and
marked. A database that is at a step this program does not know is left alone.
"""

from __future__ import annotations

import threading
from functools import cache
from pathlib import Path

from alembic.operations import Operations
from alembic.runtime.migration import MigrationContext
from alembic.script import ScriptDirectory
from sqlalchemy import Connection, create_engine, inspect

from cutopt.records import CutoptError

__all__ = ["FIRST", "MARK", "head", "is_known", "known_step", "step_of", "tables_of", "upgrade"]

FIRST = "0001"
#: The table that holds the step.
MARK = "alembic_version"

#: What the first release's tables are known by. Its databases may be older than curves.
_FIRST_COLUMNS = {
    "days": (
        "number id name plant date unit rows pieces sections materials warnings form digest created"
    ),
    "day_files": "day position name content",
    "plans": (
        "number id seconds seed status outcome cancel_asked crashes owner lease_until created "
        "started ended progress materials failure"
    ),
    "plan_days": "plan position day_number",
    "plan_files": "plan name content",
    "plan_events": "plan number kind data",
}
_CURVES = "curves"

#: Steps are told by a module of alembic's that is the same for all threads.
_ONE_AT_A_TIME = threading.Lock()


@cache
def _script() -> ScriptDirectory:
    return ScriptDirectory(str(Path(__file__).parent))


def head() -> str:
    """The newest step that this program knows."""
    newest = _script().get_current_head()
    if newest is None:
        raise CutoptError("the program's folder lacks the steps of its database: install it anew")
    return newest


def is_known(step: str) -> bool:
    """Whether this program knows a step."""
    return any(step == known.revision for known in _script().walk_revisions())


def step_of(connection: Connection) -> str | None:
    """The step that a database is at; None where it carries no mark.

    Raises
    ------
    CutoptError
        Where the database is newer than the program.
    """
    step = MigrationContext.configure(connection).get_current_revision()
    if step is not None and not is_known(step):
        raise CutoptError(
            f"CUTOPT_DATABASE: the database is newer than this program: it is at step {step}, "
            f"this program knows steps up to {head()}; would be right: the newer program, or a "
            "restored backup that is no newer than this one"
        )
    return step


def known_step(connection: Connection) -> str | None:
    """The step that a database is at, told by its tables where it carries no mark; None: empty.

    Raises CutoptError as `step_of` does, and where the tables are another program's.
    """
    step = step_of(connection)
    return FIRST if step is None and _is_of_first_release(connection) else step


@cache
def tables_of(step: str) -> frozenset[str]:
    """The names of our tables at a step: a database may hold others beside them."""
    engine = create_engine("sqlite://")
    with engine.begin() as connection:
        upgrade(connection, step)
        names = inspect(connection).get_table_names()
    engine.dispose()
    return frozenset(names) - {MARK}


def upgrade(connection: Connection, to: str | None = None) -> None:
    """Bring a database to a step, by default the newest, within the caller's transaction.

    The caller holds the lock that lets one process at a time do this, and on SQLite has foreign
    keys off: tables are made anew there.

    Raises
    ------
    CutoptError
        Where the database is newer than the program, or has tables of another program.
    """
    with _ONE_AT_A_TIME:
        script = _script()
        context = MigrationContext.configure(
            connection,
            opts={
                "script": script,
                "fn": lambda step, _: script._upgrade_revs(to or "head", step),
                "transactional_ddl": True,
            },
        )
        with Operations.context(context):
            if step_of(connection) is None and _is_of_first_release(connection):
                _mark_first(connection, context, script)
            context.run_migrations()


def _is_of_first_release(connection: Connection) -> bool:
    """Whether the tables are the first release's; there may be none at all."""
    found = inspect(connection)
    names = set(found.get_table_names())
    ours = sorted(names & {*_FIRST_COLUMNS, _CURVES})
    if not ours:
        return False
    for table, columns in _FIRST_COLUMNS.items():
        there = {column["name"] for column in found.get_columns(table)} if table in names else set()
        if there != set(columns.split()):
            raise CutoptError(
                "CUTOPT_DATABASE: the database is not one of cutopt's: it has the tables "
                f"{', '.join(ours)}, but '{table}' "
                + ("has other columns" if there else "is missing")
                + "; would be right: an empty database, or one that cutopt made"
            )
    return True


def _mark_first(connection: Connection, context: MigrationContext, script: ScriptDirectory) -> None:
    first = script.get_revision(FIRST)
    if _CURVES not in inspect(connection).get_table_names():
        first.module.make_curves()
    context.stamp(script, FIRST)
