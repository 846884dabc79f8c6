"""`cutopt backup` and `cutopt restore`: the whole database in a file, and back."""

from __future__ import annotations

import os
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from sqlalchemy.exc import DBAPIError, OperationalError

from api.settings import settings_from
from api.store import Database
from api.store.backup import Reader, restore, take
from cutopt.records import CutoptError

__all__ = ["run_backup", "run_restore"]


def run_backup(file: Path) -> int:
    """Copy the database that `CUTOPT_DATABASE` names into a new file; 0 when it is there.

    Raises CutoptError where the database or the file can't be used.
    """
    if not file.absolute().parent.is_dir():
        raise CutoptError(f"{file}: no folder '{file.parent}', would be right: one that is there")
    with _database() as database:
        rows = take(database, file)
    print(f"{file}: {_told(rows)}, {file.stat().st_size} bytes, read back and counted")
    return 0


def run_restore(file: Path, replace: bool) -> int:
    """Put a backup into the database that `CUTOPT_DATABASE` names; 0 when all of it is there.

    Raises CutoptError where the file or the database can't be used: then nothing has changed.
    """
    reader = Reader(file)
    with _database() as database:
        rows = restore(database, reader, replace)
    head = reader.head
    print(f"{file}: {_told(rows)}, made {head.made} from {head.kind}, restored")
    return 0


@contextmanager
def _database() -> Iterator[Database]:
    database = Database(settings_from(os.environ).address)
    try:
        yield database
    except OperationalError as error:
        raise CutoptError(f"CUTOPT_DATABASE: the database does not answer: {error.orig}") from error
    except DBAPIError as error:
        raise CutoptError(f"CUTOPT_DATABASE: {error.orig}") from error
    finally:
        database.close()


def _told(rows: dict[str, int]) -> str:
    return f"{sum(rows.values())} rows of {len(rows)} tables"
