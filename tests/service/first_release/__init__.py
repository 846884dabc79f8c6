"""A database as the first release left it: its own SQL, and rows of every kind it held.

The tables are made by the statements that the first release sent (`sqlite.sql`,
`postgresql.sql`), the rows go in as plain SQL: nothing here knows the tables of today.
"""

from __future__ import annotations

import json
from datetime import UTC, date, datetime
from pathlib import Path
from typing import Any

from sqlalchemy import Connection, create_engine, text

__all__ = ["ROWS", "make"]

_HERE = Path(__file__).parent
_NOON = datetime(2026, 3, 2, 12, 0, 0, 250_001, tzinfo=UTC)
_BYTES = bytes(range(256))
_LARGE = b"row\r\n" * 20_000

_DAYS: list[dict[str, Any]] = [
    {
        "number": number,
        "id": f"{number:032x}",
        "name": name,
        "plant": plant,
        "date": date(2026, 3, number),
        "unit": "in" if number < 3 else "mm",
        "rows": 5,
        "pieces": 3_000_000_000 if number == 4 else 37,
        "sections": ["Alder", 'Birch "B"', "ñandú"],
        "materials": ["2x4-SPF-2", "OSB-7/16"],
        "warnings": [] if number != 2 else [{"place": "cuts/walls.csv:3", "what": "odd \\ 1/2"}],
        "form": "files" if number != 3 else "tables",
        "digest": f"{number % 3:064x}",
        "created": _NOON.replace(hour=number),
    }
    for number, name, plant in (
        (1, "first", "North mill"),
        (2, "second", "South mill"),
        (3, "tercero, año 2026", "North mill"),
        (4, "0", "Sägewerk 'Süd'"),
        (7, "a gap in the numbers", " North mill "),
    )
]
_DAY_FILES = [
    {"day": day["number"], "position": position, "name": name, "content": content}
    for day in _DAYS
    for position, (name, content) in enumerate(
        (("day.toml", b""), ("stock.csv", _BYTES), ("cuts/walls.csv", _LARGE))
    )
]


def _plan(number: int, status: str, outcome: str | None = None, **more: Any) -> dict[str, Any]:
    begun = status not in ("queued",)
    ended = status in ("done", "stopped", "failed")
    return {
        "number": number,
        "id": f"{number + 100:032x}",
        "seconds": 0.1 if number == 1 else 60.0,
        "seed": 2**31 - 1,
        "status": status,
        "outcome": outcome,
        "cancel_asked": status == "stopped",
        "crashes": 0,
        "owner": None,
        "lease_until": None,
        "created": _NOON,
        "started": _NOON.replace(second=1) if begun else None,
        "ended": _NOON.replace(minute=1, microsecond=0) if ended else None,
        "progress": [],
        "materials": None,
        "failure": None,
    } | more


_MATERIALS = [{"material": "2x4-SPF-2", "objective": "1234.56", "bound": "1234.5", "gap": 4.86e-05}]
_PLANS = [
    _plan(1, "done", "planned", materials=_MATERIALS, progress=[{"phase": "end", "gap": 1e-9}]),
    _plan(2, "failed", "refused", failure={"detail": "no", "faults": [], "promises": []}),
    _plan(3, "stopped"),
    _plan(4, "running", owner="f" * 32, lease_until=1_772_452_800.123456, crashes=2),
    _plan(5, "queued"),
    _plan(9, "done", "planned", materials=[{"points": [1, 2.5, None, True, "–"]}]),
]
_EVENTS = [
    {"plan": plan, "number": number, "kind": kind, "data": data}
    for plan in (1, 9)
    for number, kind, data in (
        (1, "status", {"status": "running"}),
        (2, "progress", {"objective": 0.1, "deep": [[{}], None]}),
        (3, "ended", {"status": "done", "outcome": "planned"}),
    )
]
#: Every row, by table, the tables in an order in which they can be filled.
ROWS: dict[str, list[dict[str, Any]]] = {
    "days": _DAYS,
    "day_files": _DAY_FILES,
    "plans": _PLANS,
    "curves": [{"plan": 9, "of": "joints"}],
    "plan_days": [
        {"plan": 1, "position": 0, "day_number": 1},
        {"plan": 1, "position": 1, "day_number": 3},
        {"plan": 2, "position": 0, "day_number": 2},
        {"plan": 3, "position": 0, "day_number": 7},
        {"plan": 4, "position": 0, "day_number": 4},
        {"plan": 5, "position": 0, "day_number": 1},
        {"plan": 9, "position": 0, "day_number": 2},
    ],
    "plan_files": [
        {"plan": 1, "name": "plan.json", "content": b'{"materials": []}'},
        {"plan": 1, "name": "report.html", "content": _LARGE},
        {"plan": 9, "name": "curve.csv", "content": _BYTES},
    ],
    "plan_events": _EVENTS,
}


def make(address: str, curves: bool = True) -> None:
    """Make the first release's database at an address; without `curves` an older one."""
    engine = create_engine(address)
    with engine.begin() as connection:
        kind = connection.dialect.name
        for statement in (_HERE / f"{kind}.sql").read_text("utf-8").split(";\n"):
            if statement.strip() and (curves or "TABLE curves" not in statement):
                connection.exec_driver_sql(statement)
        for table, rows in ROWS.items():
            if curves or table != "curves":
                _insert(connection, table, rows)
    engine.dispose()


def _insert(connection: Connection, table: str, rows: list[dict[str, Any]]) -> None:
    names = list(rows[0])
    columns = ", ".join(f'"{name}"' for name in names)
    values = ", ".join(f":{name}" for name in names)
    connection.execute(
        text(f"INSERT INTO {table} ({columns}) VALUES ({values})"),
        [{n: _sent(connection, n, row[n]) for n in names} for row in rows],
    )
    if connection.dialect.name == "postgresql" and "number" in names and "id" in names:
        highest = rows[-1]["number"]
        connection.exec_driver_sql(f"SELECT setval('{table}_number_seq', {highest})")


def _sent(connection: Connection, name: str, value: Any) -> Any:
    """A value as the first release's driver sent it."""
    if isinstance(value, list | dict):
        return json.dumps(value)
    if connection.dialect.name == "sqlite":
        if isinstance(value, datetime):
            return value.strftime("%Y-%m-%d %H:%M:%S.%f")
        if isinstance(value, date):
            return value.isoformat()
    return value
