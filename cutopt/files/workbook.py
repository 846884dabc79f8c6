"""An .xlsx workbook read as a day: sheets `stock`, `cuts...` and, where there is one, `day`."""

from __future__ import annotations

import io
import warnings
import zipfile
from collections.abc import Iterator
from dataclasses import dataclass, field
from datetime import date, datetime, time, timedelta
from decimal import Decimal
from typing import Any

import openpyxl

from cutopt.files.tables import (
    LARGEST_FILE,
    LONGEST_FIELD,
    MOST_COLUMNS,
    MOST_ROWS,
    named_columns,
)
from cutopt.records import Faults, Place, Row, Table

__all__ = ["LARGEST_UNPACKED", "Book", "read_workbook"]

#: No workbook that unpacks to more bytes than this is read.
LARGEST_UNPACKED = 96 * 1024 * 1024
#: Nor one with a file in it that unpacks to more than this many times its packed size.
STEEPEST_PACKING = 400
_MOST_MEMBERS = 2_000
_PACKINGS = (zipfile.ZIP_STORED, zipfile.ZIP_DEFLATED)


@dataclass(slots=True)
class Book:
    """The sheets of a workbook; `config` is None where it has no sheet `day`."""

    stock: Table | None = None
    cuts: tuple[Table, ...] = ()
    config: dict[str, Any] | None = None
    config_name: str = ""
    config_rows: dict[str, int] = field(default_factory=dict)
    stock_name: str = ""
    cuts_name: str = ""


def read_workbook(name: str, content: bytes, faults: Faults) -> Book | None:
    """Read a workbook's sheets as words.

    Parameters
    ----------
    name
        How faults name the workbook; a sheet's rows are `name/sheet:row:column`.
    content
        Its bytes. Formulas stand for the value saved with them; numbers for their shortest
        decimal text.
    faults
        Takes what is wrong with the workbook and its sheets.

    Returns
    -------
    Book or None
        None where the workbook can't be read at all.
    """
    if not _is_safe(name, content, faults):
        return None
    book = Book(stock_name=f"{name}/stock", config_name=f"{name}/day", cuts_name=f"{name}/cuts")
    cuts = []
    try:
        with warnings.catch_warnings():
            # It warns of parts that it leaves aside (styles, validations): none is read here.
            warnings.simplefilter("ignore")
            opened = openpyxl.load_workbook(
                io.BytesIO(content), read_only=True, data_only=True, keep_links=False
            )
            for sheet in opened.worksheets:
                title = f"{name}/{sheet.title}"
                kind = sheet.title.strip().casefold()
                if kind in ("day", "day.toml"):
                    book.config_name = title
                    book.config, book.config_rows = _config(title, sheet, faults)
                elif kind in ("stock", "stock.csv"):
                    book.stock_name = title
                    book.stock = _table(title, sheet, faults)
                elif kind.startswith("cuts"):
                    table = _table(title, sheet, faults)
                    if table is not None:
                        cuts.append(table)
                else:
                    faults.warn(
                        Place(title), "a sheet that is not read", right="stock, day or cuts ..."
                    )
    except Exception as error:  # whatever the package raises on a damaged file
        faults.add(
            Place(name),
            f"not a workbook that can be read ({type(error).__name__})",
            right="an .xlsx workbook",
        )
        return None
    book.cuts = tuple(cuts)
    return book


def _is_safe(name: str, content: bytes, faults: Faults) -> bool:
    if len(content) > LARGEST_FILE:
        faults.add(Place(name), f"{len(content)} bytes", right=f"at most {LARGEST_FILE} bytes")
        return False
    try:
        with zipfile.ZipFile(io.BytesIO(content)) as packed:
            members = packed.infolist()
    except (zipfile.BadZipFile, ValueError, NotImplementedError, OSError, OverflowError):
        right = "an .xlsx workbook"
        if content.startswith(b"\xd0\xcf\x11\xe0"):
            right += "; this one is in the old .xls form or has a password"
        faults.add(Place(name), "not a workbook", right=right)
        return False
    other = [m for m in members if m.compress_type not in _PACKINGS]
    if other:  # their dictionaries alone may take gigabytes
        faults.add(
            Place(name),
            f"a file in it is packed by method {other[0].compress_type}",
            other[0].filename,
            "an .xlsx workbook as office programs save it",
        )
        return False
    unpacked = sum(m.file_size for m in members)
    steep = [m for m in members if m.file_size > STEEPEST_PACKING * max(m.compress_size, 2048)]
    if unpacked > LARGEST_UNPACKED or steep or len(members) > _MOST_MEMBERS:
        faults.add(
            Place(name),
            f"unpacks to {unpacked} bytes in {len(members)} files",
            right=f"at most {LARGEST_UNPACKED} bytes, each file at most {STEEPEST_PACKING} times "
            "its packed size",
        )
        return False
    return True


def _rows(name: str, sheet: Any, faults: Faults) -> Iterator[tuple[int, list[str]]]:
    # The size that a sheet claims is not trusted: one far cell would make millions of blank ones.
    sheet.reset_dimensions()
    rows = sheet.iter_rows(max_row=MOST_ROWS + 1001, max_col=MOST_COLUMNS, values_only=True)
    for number, values in enumerate(rows, start=1):
        if number > MOST_ROWS + 1000:
            faults.add(Place(name, number), "too many rows", right=f"at most {MOST_ROWS} rows")
            return
        if values.count(None) == len(values):  # a far row makes many blank ones before it
            continue
        cells = [_word(v) for v in values]
        if any(cells):
            yield number, cells


def _table(name: str, sheet: Any, faults: Faults) -> Table | None:
    rows = _rows(name, sheet, faults)
    first = next(rows, None)
    if first is None:
        faults.add(Place(name), "an empty sheet", right="a header, and a line for each row")
        return None
    header, head = first
    columns = named_columns(name, header, head, faults)
    if columns is None:
        return None
    found = []
    for number, cells in rows:
        if faults.full:
            break
        if any(cells[len(columns) :]) or any(
            c and not k for k, c in zip(columns, cells, strict=False)
        ):
            faults.add(Place(name, number), "a cell under no header", right="a header for it")
            continue
        long = [k for k, c in zip(columns, cells, strict=False) if len(c) > LONGEST_FIELD]
        for column in long:
            right = f"at most {LONGEST_FIELD} characters"
            faults.add(Place(name, number, column), "too many characters", right=right)
        if not long:
            # Cells behind the last one of a row are blank, which a sheet does not write.
            words = {k: "" for k in columns if k}
            words |= {k: c for k, c in zip(columns, cells, strict=False) if k}
            found.append(Row(number, words))
    return Table(name, tuple(c for c in columns if c), tuple(found), header)


def _word(value: Any) -> str:
    if value is None:
        return ""
    if isinstance(value, str):
        return value.strip()
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, int):
        return str(value) if abs(value) < 10**300 else "a number too large"
    if isinstance(value, float):
        text = f"{Decimal(repr(value)):f}"
        return text.rstrip("0").rstrip(".") if "." in text else text
    if isinstance(value, datetime):
        return value.date().isoformat() if value.time() == time() else value.isoformat()
    if isinstance(value, date | time):
        return value.isoformat()
    if isinstance(value, timedelta):
        return str(value)
    return str(value)[: LONGEST_FIELD + 1]


def _config(name: str, sheet: Any, faults: Faults) -> tuple[dict[str, Any], dict[str, int]]:
    table = _table(name, sheet, faults)
    values: dict[str, Any] = {}
    lines: dict[str, int] = {}
    if table is None:
        return values, lines
    for column in ("key", "value"):
        if column not in table.columns:
            faults.add(
                Place(name, table.header, column),
                f"the column '{column}' is missing",
                right="a header with key and value",
            )
            return values, lines
    for row in table.rows:
        key = row.cells["key"]
        keys = _keys(key)
        if not keys:
            faults.add(Place(name, row.line, "key"), "not a key", key, "such as lumber.kerf")
            continue
        dotted = ".".join(keys)
        home = values
        for step in keys[:-1]:
            home = home.setdefault(step, {})
            if not isinstance(home, dict):
                break
        if dotted in lines or not isinstance(home, dict) or isinstance(home.get(keys[-1]), dict):
            faults.add(Place(name, row.line, "key"), "the key stands twice", key, "each key once")
            continue
        home[keys[-1]] = _value(keys[-1], row.cells["value"])
        lines[dotted] = row.line
    return values, lines


def _keys(text: str) -> list[str]:
    # A material's code may hold points: it is whatever stands between the first and the last.
    head, _, rest = text.partition(".")
    if head.strip() == "materials" and "." in rest:
        code, _, last = rest.rpartition(".")
        keys = [head, code.strip().strip("\"'"), last]
    else:
        keys = [head, *rest.split(".")] if rest else [head]
    keys = [k.strip() for k in keys]
    return keys if all(keys) and len(keys) <= 3 else []


def _value(key: str, text: str) -> Any:
    # Two lengths, for sheet drops, as a person writes them in one cell: 24 x 24.
    for mark in (" x ", ";", "×"):
        if key == "keep_drop" and mark in text:
            return [part.strip() for part in text.split(mark)]
    return text
