"""A day given as one JSON document becomes the same words as a day folder."""

from __future__ import annotations

import re
from collections.abc import Mapping
from decimal import Decimal
from typing import Any

from cutopt.cutlist.reading.raw import RawDay
from cutopt.records import Faults, Place, Row, Table, known_or_nearest

__all__ = ["raw_day_from_json"]

_PARTS = ("day", "stock", "cuts")
#: What a JSON list may hold: as a csv file may.
MOST_ROWS = 200_000
LONGEST_CELL = 2_000
MOST_COLUMNS = 64


def raw_day_from_json(name: str, document: Any) -> RawDay:
    """Take a JSON day apart into words; what can't be a cell becomes a fault of the `RawDay`.

    Parameters
    ----------
    name
        What the day is called.
    document
        `{"day": {the keys of day.toml}, "stock": [{column: value, ...}], "cuts": [{column: value,
        ..., "file": "walls"}]}`. `stock` may be absent on a later day. `file` is optional and
        names the cut list. A number stands for its shortest decimal text, a bool for yes or no, a
        list for its items with `;` between them, null for a blank.

    Returns
    -------
    RawDay
        Faults name `day`, `stock` and `cuts` (or `cuts/walls`). Rows count as in a csv file whose
        header is line 1, so that the first entry is 2: the same day posted as JSON and as files
        gives the same plan.
    """
    faults = Faults()
    if not isinstance(document, Mapping):
        faults.add(Place("day"), "not a JSON object", right='{"day": {}, "stock": [], "cuts": []}')
        document = {}
    for key in document:
        if key not in _PARTS and not faults.full:
            faults.add(Place(str(key)[:80]), "no such key", key, known_or_nearest(str(key), _PARTS))
    config = document.get("day", {})
    if not isinstance(config, Mapping):
        faults.add(Place("day"), "not a JSON object", config, "the keys of day.toml")
        config = {}
    stock = None
    if document.get("stock") is not None:
        tables = _tables("stock", document["stock"], faults)
        stock = tables[0] if tables else Table("stock", (), (), 0)
    cuts = _tables("cuts", document.get("cuts", []), faults, by_file=True)
    return RawDay(
        name=name,
        config=config,
        stock=stock,
        cuts=cuts,
        faults=tuple(faults.faults),
        warnings=tuple(faults.warnings),
        config_name="day",
        stock_name="stock",
    )


def _tables(name: str, entries: Any, faults: Faults, by_file: bool = False) -> tuple[Table, ...]:
    if not isinstance(entries, list | tuple):
        faults.add(Place(name), "not a JSON list", entries, "a list with an object for each row")
        return ()
    if len(entries) > MOST_ROWS:
        faults.add(Place(name), f"{len(entries)} rows", right=f"at most {MOST_ROWS} rows")
        return ()
    columns: dict[str, dict[str, None]] = {}
    rows: dict[str, list[Row]] = {}
    lines: dict[str, int] = {}
    for number, entry in enumerate(entries, start=2):
        if faults.full:
            break
        if not isinstance(entry, Mapping):
            faults.add(Place(name, number), "not a JSON object", entry, "a value for each column")
            continue
        table = name
        if by_file and isinstance(entry.get("file"), str) and entry["file"].strip():
            table = f"{name}/{entry['file'].strip()[:80]}"
        rows.setdefault(table, [])
        line = lines.get(table, 1) + 1
        cells = {}
        sound = True
        for key, value in entry.items():
            if by_file and key == "file":
                continue
            column = column_name(str(key)[:80])
            columns.setdefault(table, {})[column] = None
            text = _cell(value)
            if text is None:
                faults.add(Place(table, line, column), "not a cell", value, "a word or a number")
                sound = False
            else:
                cells[column] = text
        lines[table] = line
        if sound:
            rows[table].append(Row(line, cells))
    for table in [t for t, known in columns.items() if len(known) > MOST_COLUMNS]:
        right = f"at most {MOST_COLUMNS}"
        faults.add(Place(table), f"{len(columns[table])} columns", right=right)
        del rows[table]
    return tuple(Table(t, tuple(columns.get(t, ())), tuple(r), 0) for t, r in rows.items())


def column_name(text: str) -> str:
    """A header as the columns are known: lower case, `_` for a blank or a hyphen."""
    return re.sub(r"[\s\-_]+", "_", text.strip().casefold()).strip("_")


def _cell(value: Any) -> str | None:
    if value is None:
        return ""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, str):
        return value.strip() if len(value) <= LONGEST_CELL and "\0" not in value else None
    if isinstance(value, int):
        return str(value) if abs(value) < 10**40 else None
    if isinstance(value, float | Decimal):
        number = Decimal(repr(value)) if isinstance(value, float) else value
        if not number.is_finite() or abs(number.adjusted()) > 40:
            return None
        text = f"{number:f}"
        return text.rstrip("0").rstrip(".") if "." in text else text
    if isinstance(value, list | tuple):
        items = [_cell(v) if not isinstance(v, list | tuple) else None for v in value]
        return None if None in items or len(items) > 100 else ";".join(str(i) for i in items)
    return None
