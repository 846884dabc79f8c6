"""Processes of their own on one SQLite file: they wait for each other and lose nothing."""

from __future__ import annotations

import subprocess
import sys
import time
from collections.abc import Callable
from pathlib import Path

from sqlalchemy import text

from api.store import Database, migrations
from tests.service import first_release

_ROOT = Path(__file__).parents[2]
_BEGIN = """
import sys, time
from pathlib import Path
from sqlalchemy import text
from api.store import Database
address, sign, count = sys.argv[1], Path(sys.argv[2]), int(sys.argv[3])
print("ready", flush=True)
while not sign.exists():
    time.sleep(0.001)
database = Database(address)
"""
_START = _BEGIN + "database.make_tables()\n"
#: Reads a number, then writes it one higher: who did so without the lock would lose a count.
_COUNT = (
    _BEGIN
    + """
for _ in range(count):
    with database.write() as session:
        seed = session.execute(text("SELECT seed FROM plans WHERE number = 1")).scalar_one()
        session.execute(text("UPDATE plans SET seed = :n WHERE number = 1"), {"n": seed + 1})
"""
)
_HOLD = (
    _BEGIN
    + """
with database.write() as session:
    session.execute(text("UPDATE plans SET seed = 0 WHERE number = 1"))
    print("held", flush=True)
    time.sleep(count)
"""
)


def begun(code: str, address: str, sign: Path, count: int = 0) -> subprocess.Popen[str]:
    process = subprocess.Popen(
        [sys.executable, "-W", "error", "-c", code, address, str(sign), str(count)],
        cwd=_ROOT,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
    )
    assert process.stdout is not None
    assert process.stdout.readline() == "ready\n", process.communicate()
    return process


def ended(*processes: subprocess.Popen[str]) -> list[str]:
    """What went wrong in any of them."""
    said = [process.communicate(timeout=60)[1] for process in processes]
    return [words for process, words in zip(processes, said, strict=True) if process.returncode]


def test_two_that_start_at_once_on_no_file_make_it_once(
    tmp_path: Path, new_database: Callable[[str], str]
) -> None:
    address = new_database("sqlite")
    three = [begun(_START, address, tmp_path / "go") for _ in range(3)]
    (tmp_path / "go").touch()
    assert ended(*three) == []
    database = Database(address)
    with database.engine.connect() as connection:
        assert migrations.step_of(connection) == migrations.head()
    database.close()


def test_two_writers_lose_no_count_and_a_reader_is_never_kept_waiting(
    tmp_path: Path, new_database: Callable[[str], str]
) -> None:
    address = new_database("sqlite")
    first_release.make(address)
    database = Database(address)
    database.make_tables()
    with database.write() as session:
        session.execute(text("UPDATE plans SET seed = 0 WHERE number = 1"))
    two = [begun(_COUNT, address, tmp_path / "go", 60) for _ in range(2)]
    (tmp_path / "go").touch()
    seen = [0]
    while any(process.poll() is None for process in two):
        with database.read() as session:
            seen.append(
                session.execute(text("SELECT seed FROM plans WHERE number = 1")).scalar_one()
            )
    assert ended(*two) == []
    assert seen == sorted(seen)
    assert len(set(seen)) > 2  # it read between the writes
    with database.read() as session:
        assert session.execute(text("SELECT seed FROM plans WHERE number = 1")).scalar_one() == 120
    database.close()


def test_a_writer_waits_for_another_and_readers_see_what_was_before(
    tmp_path: Path, new_database: Callable[[str], str]
) -> None:
    address = new_database("sqlite")
    first_release.make(address)
    database = Database(address)
    database.make_tables()
    (tmp_path / "go").touch()
    holder = begun(_HOLD, address, tmp_path / "go", 1)
    assert holder.stdout is not None
    assert holder.stdout.readline() == "held\n"
    start = time.monotonic()
    with database.read() as session:
        before = session.execute(text("SELECT seed FROM plans WHERE number = 1")).scalar_one()
    assert before == 2**31 - 1
    with database.write() as session:
        seed = session.execute(text("SELECT seed FROM plans WHERE number = 1")).scalar_one()
        session.execute(text("UPDATE plans SET seed = seed + 1 WHERE number = 1"))
    waited = time.monotonic() - start
    assert seed == 0
    assert 0.5 < waited < 14
    assert ended(holder) == []
    database.close()
