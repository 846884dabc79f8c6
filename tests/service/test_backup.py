"""Backups: taken from either database while it is used, restored into either, row for row."""

from __future__ import annotations

import gzip
import hashlib
import json
import stat
import subprocess
import sys
import threading
from collections.abc import Callable, Iterator
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import pytest
from sqlalchemy import inspect, select, text

from api.store import Database, migrations
from api.store.access_models import (
    ActRow,
    LinkRow,
    PersonRow,
    SessionRow,
    StationRow,
    TryRow,
)
from api.store.backup import Reader, restore, take
from api.store.keys import KeyRow
from api.store.models import Base, PlantRow
from cutopt.cli import main
from cutopt.records import CutoptError
from tests.service import first_release

POSTGRES = pytest.param("postgres", marks=pytest.mark.postgres)
KINDS = ["sqlite", POSTGRES]
NewDatabase = Callable[[str], str]


@pytest.fixture
def opened() -> Iterator[Callable[[str], Database]]:
    made: list[Database] = []

    def make(address: str) -> Database:
        made.append(Database(address))
        return made[-1]

    yield make
    for database in made:
        database.close()


@pytest.fixture(params=KINDS)
def kind(request: pytest.FixtureRequest) -> str:
    return str(request.param)


@pytest.fixture
def filled(kind: str, new_database: NewDatabase, opened: Callable[[str], Database]) -> Database:
    """The first release's data at the newest step, with people, stations, acts, kept answers."""
    address = new_database(kind)
    first_release.make(address)
    database = opened(address)
    database.make_tables()
    begun = datetime(2026, 3, 2, 23, 59, 59, 999_999, tzinfo=UTC)
    with database.write() as session:
        home = session.execute(select(PlantRow)).scalar_one()
        home.zone = "America/Chicago"
        other = PlantRow(id="p" * 32, name="Ñandú", zone="Europe/Madrid", unit="mm", created=begun)
        session.add(other)
        session.flush()
        more: dict[str, Any] = {"active": True, "created": begun}
        one = PersonRow(
            id="1" * 32, name="Åsa", folded="åsa", role="planner", plant_number=home.number, **more
        )
        all_plants = PersonRow(
            id="2" * 32, name="B", folded="b", role="admin", password="$argon2id$v=19$x", **more
        )
        saw = StationRow(
            id="3" * 32, name="saw 1", role="station", key="k" * 64, plant_number=2, **more
        )
        session.add_all([one, all_plants, saw])
        session.flush()
        session.add(SessionRow(token="t", person_number=one.number, seen=1.5, idle=2, ends=3))
        session.add(LinkRow(digest="d", kind="pair", station_number=saw.number, ends=3))
        session.add(TryRow(of="one", begun=1, count=2, until=3))
        session.add_all(
            ActRow(
                moment=begun,
                who="person",
                who_number=1,
                who_name="Åsa",
                act="day.post",
                target=str(n),
                plant_number=home.number,
                request="r",
                outcome="done",
            )
            for n in range(45)
        )
        session.add(
            KeyRow(
                caller="person 1",
                key="k",
                digest="0" * 64,
                status=201,
                headers={"etag": '"1"'},
                body=bytes(range(256)),
                created=1_772_452_800.25,
            )
        )
    return database


def every_row(database: Database) -> dict[str, list[tuple[Any, ...]]]:
    with database.read() as session:
        return {
            table.name: [
                tuple(row) for row in session.execute(select(table).order_by(*table.primary_key))
            ]
            for table in Base.metadata.sorted_tables
            if table.name not in ("sessions", "links", "tries")
        }


def restored_rows(database: Database) -> dict[str, list[tuple[Any, ...]]]:
    """Every row but the last of the audit trail, which says that this was restored."""
    rows = every_row(database)
    act = dict(zip(Base.metadata.tables["acts"].columns.keys(), rows["acts"].pop(), strict=True))
    assert (act["act"], act["who_name"], act["outcome"]) == ("restore", "cutopt restore", "done")
    assert act["target"].startswith("backup of 20")
    return rows


@pytest.mark.parametrize("into", KINDS)
def test_every_row_comes_back_in_the_same_and_the_other_kind_of_database(
    filled: Database,
    into: str,
    tmp_path: Path,
    new_database: NewDatabase,
    opened: Callable[[str], Database],
) -> None:
    path = tmp_path / "mill.backup"
    rows = take(filled, path)
    assert rows == {name: len(found) for name, found in every_row(filled).items()}
    assert rows.items() >= {name: len(found) for name, found in first_release.ROWS.items()}.items()
    target = opened(new_database(into))
    assert restore(target, Reader(path)) == rows
    assert restored_rows(target) == every_row(filled)
    assert all(every_row(filled).values())
    with target.read() as session:
        for table in ("sessions", "links", "tries"):
            assert session.execute(text(f"SELECT count(*) FROM {table}")).scalar_one() == 0
    target.make_tables()  # the service starts on it and finds nothing to do
    # and a backup of the copy holds the very same lines, but for when, whence and the last act
    again = tmp_path / "again.backup"
    take(target, again)
    lines, others = (gzip.decompress(p.read_bytes()).splitlines()[1:-1] for p in (path, again))
    assert [line for line in others if b'"cutopt restore"' not in line] == lines
    assert len(others) == len(lines) + 1


def test_the_first_releases_database_is_backed_up_before_it_is_changed(
    kind: str, tmp_path: Path, new_database: NewDatabase, opened: Callable[[str], Database]
) -> None:
    address = new_database(kind)
    first_release.make(address)
    path = tmp_path / "old.backup"
    old = opened(address)
    rows = take(old, path)
    assert rows == {name: len(found) for name, found in first_release.ROWS.items()}
    assert Reader(path).head.step == migrations.FIRST
    assert migrations.MARK not in inspect(old.engine).get_table_names()
    old.make_tables()
    for into in ("sqlite", kind):
        target = opened(new_database(into))
        restore(target, Reader(path))
        assert migrations.head() in target.steps()
        mine, theirs = restored_rows(target), every_row(old)
        assert {name: mine[name] for name in rows} == {name: theirs[name] for name in rows}


STEPS = [file.name[:4] for file in sorted((Path(migrations.__file__).parent).glob("*/0*.py"))]


@pytest.mark.parametrize("step", STEPS)
def test_a_backup_of_any_step_is_brought_up(
    step: str,
    kind: str,
    tmp_path: Path,
    new_database: NewDatabase,
    opened: Callable[[str], Database],
) -> None:
    address = new_database(kind)
    first_release.make(address)
    old = opened(address)
    with old.changing() as connection:
        migrations.upgrade(connection, step)
    rows = take(old, tmp_path / "old.backup")
    assert Reader(tmp_path / "old.backup").head.step == step
    target = opened(new_database("sqlite"))
    restore(target, Reader(tmp_path / "old.backup"))
    old.make_tables()
    mine, theirs = restored_rows(target), every_row(old)
    assert {name: mine[name] for name in rows} == {name: theirs[name] for name in rows}


def test_rows_are_numbered_on_after_a_restore(
    filled: Database,
    kind: str,
    tmp_path: Path,
    new_database: NewDatabase,
    opened: Callable[[str], Database],
) -> None:
    take(filled, tmp_path / "mill.backup")
    target = opened(new_database(kind))
    restore(target, Reader(tmp_path / "mill.backup"))
    names = [c["name"] for c in inspect(target.engine).get_columns("plans")]
    rest = ", ".join(f'"{name}"' for name in names if name not in ("number", "id"))
    with target.write() as session:
        number = session.execute(
            text(
                f"INSERT INTO plans (id, {rest}) SELECT 'new', {rest} FROM plans "
                "WHERE number = 1 RETURNING number"
            )
        ).scalar_one()
    assert number == 10


def test_a_backup_is_of_one_moment_while_the_service_writes(
    filled: Database, tmp_path: Path, new_database: NewDatabase, opened: Callable[[str], Database]
) -> None:
    """Every transaction adds an event and a file: the copy holds as many of either."""
    stop = threading.Event()
    written = [0]

    def write() -> None:
        while not stop.is_set():
            n = written[0] + 1
            with filled.write() as session:
                session.execute(
                    text("INSERT INTO plan_events VALUES (5, :n, 'progress', '{}')"), {"n": n}
                )
                session.execute(
                    text("INSERT INTO plan_files VALUES (5, :n, :content)"),
                    {"n": str(n), "content": b"x" * 2000},
                )
            written[0] = n

    thread = threading.Thread(target=write)
    thread.start()
    try:
        copies = []
        for n in range(3):
            begun = written[0]
            while written[0] < begun + 3:
                stop.wait(0.001)
            rows = take(filled, tmp_path / f"{n}.backup")
            copies.append((rows["plan_events"] - 6, rows["plan_files"] - 3))
    finally:
        stop.set()
        thread.join()
    assert all(events == files for events, files in copies)
    assert 0 < copies[0][0] < copies[1][0] < copies[2][0] <= written[0]
    target = opened(new_database("sqlite"))
    restore(target, Reader(tmp_path / "1.backup"))
    with target.read() as session:
        for table, more in (("plan_events", 6), ("plan_files", 3)):
            count = session.execute(text(f"SELECT count(*) FROM {table}")).scalar_one()
            assert count == copies[1][0] + more


def test_a_database_that_is_not_empty_is_left_alone_unless_told(
    filled: Database, kind: str, tmp_path: Path
) -> None:
    path = tmp_path / "mill.backup"
    take(filled, path)
    before = every_row(filled)
    with filled.write() as session:
        session.execute(text("DELETE FROM plans WHERE number = 1"))
        session.execute(text("UPDATE days SET name = 'changed'"))
    changed = every_row(filled)
    with pytest.raises(CutoptError, match=r"not empty \(rows in .*days: 5.*--replace"):
        restore(filled, Reader(path))
    assert every_row(filled) == changed
    restore(filled, Reader(path), replace=True)
    assert restored_rows(filled) == before
    filled.make_tables()


def test_tables_of_others_are_neither_taken_nor_touched(
    filled: Database, kind: str, tmp_path: Path
) -> None:
    path = tmp_path / "mill.backup"
    with filled.write() as session:
        session.execute(text("CREATE TABLE notes (what VARCHAR(9))"))
        session.execute(text("INSERT INTO notes VALUES ('theirs')"))
    assert "notes" not in take(filled, path)
    restore(filled, Reader(path), replace=True)
    with filled.read() as session:
        assert session.execute(text("SELECT what FROM notes")).scalar_one() == "theirs"


@pytest.mark.parametrize("at", [0.0, 0.01, 0.3, 0.6, 0.9, 0.999])
def test_a_changed_or_cut_file_is_told_and_nothing_restored(
    at: float, tmp_path: Path, new_database: NewDatabase, opened: Callable[[str], Database]
) -> None:
    address = new_database("sqlite")
    first_release.make(address)
    path = tmp_path / "mill.backup"
    take(opened(address), path)
    whole = path.read_bytes()
    place = int(at * len(whole))
    target = opened(new_database("sqlite"))
    for spoilt in (
        whole[:place],
        whole[:place] + bytes([whole[place] ^ 0x10]) + whole[place + 1 :],
        whole[:place] + whole[place + 1 :],
    ):
        path.write_bytes(spoilt)
        with pytest.raises(CutoptError, match="would be right"):
            restore(target, Reader(path))
        assert inspect(target.engine).get_table_names() == []


def rewritten(path: Path, change: Callable[[list[Any]], None], honest: bool) -> None:
    """Change a backup's lines; with `honest` under a checksum that is right again."""
    lines = [json.loads(line) for line in gzip.decompress(path.read_bytes()).splitlines()]
    change(lines)
    body = [json.dumps(line).encode() + b"\n" for line in lines[:-1]]
    if honest:
        lines[-1]["sha256"] = hashlib.sha256(b"".join(body)).hexdigest()
    path.write_bytes(gzip.compress(b"".join(body) + json.dumps(lines[-1]).encode() + b"\n"))


@pytest.mark.parametrize(
    ("change", "honest", "told"),
    [
        (lambda lines: lines[2].__setitem__(2, "other"), False, "checksum"),
        (lambda lines: lines.pop(3), True, "does not count"),
        (lambda lines: lines.append(lines[-1]), False, "checksum|ends before|does not count"),
        (lambda lines: lines[2].pop(), True, "row 1 of 'days'"),
        (lambda lines: lines[0].update(step="9999"), True, "newer than this program"),
        (lambda lines: lines[0].update(format=2), True, "format 2"),
        (lambda lines: lines[0].update(file="something"), True, "does not begin"),
        (lambda lines: lines[1].update(table="others"), True, "does not count"),
        (lambda lines: lines[2].__setitem__(0, {"odd": 1}), True, "row 1 of 'days'"),
        (lambda lines: lines[2].__setitem__(0, {}), True, "row 1 of 'days'"),
        (lambda lines: lines[2].__setitem__(0, {"date": "soon"}), True, "row 1 of 'days'"),
        (lambda lines: lines[1]["columns"].__setitem__(2, "title"), True, "not that of step"),
    ],
)
def test_a_file_that_is_not_ours_is_told(
    change: Callable[[list[Any]], None],
    honest: bool,
    told: str,
    tmp_path: Path,
    new_database: NewDatabase,
    opened: Callable[[str], Database],
) -> None:
    address = new_database("sqlite")
    first_release.make(address)
    path = tmp_path / "mill.backup"
    take(opened(address), path)
    rewritten(path, change, honest)
    target = opened(new_database("sqlite"))
    with pytest.raises(CutoptError, match=told):
        restore(target, Reader(path), replace=True)
    assert inspect(target.engine).get_table_names() == []


def test_a_row_that_belongs_to_nothing_undoes_the_whole_restore(
    filled: Database, kind: str, tmp_path: Path
) -> None:
    path = tmp_path / "mill.backup"
    take(filled, path)
    before = every_row(filled)

    def lose_a_day(lines: list[Any]) -> None:
        at = next(n for n, line in enumerate(lines) if dict_of(line).get("table") == "plan_days")
        day = lines[at]["columns"].index("day_number")
        lines[at + 1][day] = 99

    rewritten(path, lose_a_day, honest=True)
    with pytest.raises(CutoptError, match=r"belong to nothing|can't be kept"):
        restore(filled, Reader(path), replace=True)
    assert every_row(filled) == before


def dict_of(line: Any) -> dict[str, Any]:
    return line if isinstance(line, dict) else {}


_SLOW_RESTORE = """
import importlib, sys, time
from pathlib import Path
from api.store import Database, backup
of = importlib.import_module("api.store.backup.restore")
whole = of._fill
def fill(*words):
    whole(*words)
    print("filled", flush=True)
    time.sleep(60)
of._fill = fill
of.restore(Database(sys.argv[1]), backup.Reader(Path(sys.argv[2])), replace=True)
"""


def test_a_restore_that_is_killed_leaves_what_was_there(
    filled: Database, kind: str, tmp_path: Path
) -> None:
    path = tmp_path / "mill.backup"
    rows = take(filled, path)
    with filled.write() as session:
        session.execute(text("UPDATE days SET name = 'changed'"))
    before = every_row(filled)
    address = filled.engine.url.render_as_string(hide_password=False)
    process = subprocess.Popen(
        [sys.executable, "-c", _SLOW_RESTORE, address, str(path)],
        cwd=Path(__file__).parents[2],
        stdout=subprocess.PIPE,
        text=True,
    )
    assert process.stdout is not None
    assert process.stdout.readline() == "filled\n"
    process.kill()
    process.communicate()
    assert every_row(filled) == before
    assert restore(filled, Reader(path), replace=True) == rows
    assert every_row(filled) != before


def test_a_damaged_sqlite_is_not_backed_up(
    tmp_path: Path, new_database: NewDatabase, opened: Callable[[str], Database]
) -> None:
    address = new_database("sqlite")
    first_release.make(address)
    file = Path(address.removeprefix("sqlite:///"))
    content = bytearray(file.read_bytes())
    content[8192:8400] = bytes(208)
    file.write_bytes(content)
    with pytest.raises(CutoptError, match="damaged"):
        take(opened(address), tmp_path / "mill.backup")
    assert [f.name for f in tmp_path.iterdir() if "backup" in f.name] == []


def test_a_backup_is_ours_alone_and_never_written_over(
    tmp_path: Path, new_database: NewDatabase, opened: Callable[[str], Database]
) -> None:
    address = new_database("sqlite")
    first_release.make(address)
    path = tmp_path / "mill.backup"
    take(opened(address), path)
    assert stat.S_IMODE(path.stat().st_mode) == 0o600
    before = path.read_bytes()
    with pytest.raises(CutoptError, match="is there already"):
        take(opened(address), path)
    assert path.read_bytes() == before
    assert [f.name for f in tmp_path.iterdir() if "backup" in f.name] == ["mill.backup"]


def test_the_commands(
    kind: str,
    tmp_path: Path,
    new_database: NewDatabase,
    opened: Callable[[str], Database],
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    source, target = new_database(kind), new_database(kind)
    path = str(tmp_path / "mill.backup")
    monkeypatch.setenv("CUTOPT_DATABASE", source)
    assert main(["backup", path]) == 2
    assert "there is nothing to back up" in capsys.readouterr().err
    first_release.make(source)
    assert main(["backup", path]) == 0
    assert "rows of 7 tables" in capsys.readouterr().out
    assert main(["backup", str(tmp_path / "nowhere" / "file")]) == 2
    monkeypatch.setenv("CUTOPT_DATABASE", target)
    assert main(["restore", path]) == 0
    assert "restored" in capsys.readouterr().out
    assert main(["restore", path]) == 2
    assert "--replace" in capsys.readouterr().err
    assert main(["restore", path, "--replace"]) == 0
    assert main(["restore", str(tmp_path / "none")]) == 2
    (tmp_path / "text").write_text("hello")
    assert main(["restore", str(tmp_path / "text")]) == 2
    told = capsys.readouterr().err
    assert "would be right" in told
    assert "Traceback" not in told
    first = opened(source)
    first.make_tables()
    mine, theirs = every_row(opened(target)), every_row(first)
    assert {name: mine[name] for name in first_release.ROWS} == {
        name: theirs[name] for name in first_release.ROWS
    }
