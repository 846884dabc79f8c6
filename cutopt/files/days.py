"""Day folders and workbooks read from disk."""

from __future__ import annotations

import os
import re
import tomllib
from collections.abc import Mapping, Sequence
from decimal import Decimal
from pathlib import Path, PurePosixPath
from typing import Any

from cutopt.cutlist import Day, RawDay, Reading, read_raw_days
from cutopt.files.tables import LARGEST_FILE, MOST_FILES, decode, read_table
from cutopt.files.workbook import read_workbook
from cutopt.records import Faults, InputRefused, Place, known_or_nearest

__all__ = ["raw_day_from_files", "read_day", "read_days"]

_CONFIG = "day.toml"
_STOCK = "stock.csv"


def read_day(path: str | os.PathLike[str]) -> Day:
    """Read one day folder or workbook, leaving its warnings aside.

    Raises `InputRefused` as `read_days` does.
    """
    return read_days([path]).days[0]


def read_days(paths: Sequence[str | os.PathLike[str]]) -> Reading:
    """Read the days that are planned together.

    Parameters
    ----------
    paths
        Day folders, or workbooks that stand for one: an `.xlsx` with a sheet `stock`, one or more
        sheets whose names begin with `cuts`, and a sheet `day` with the columns `key` and `value`
        (`lumber.kerf`, `materials.GYP-1/2.kerf`) or else a day.toml in the workbook's folder.

    Returns
    -------
    Reading
        The days in the order given, and the warnings.

    Raises
    ------
    InputRefused
        With every fault of every file, sorted, each as `file:row:column: what is wrong`.
    """
    raws = []
    faults = Faults()
    seen: dict[Path, str] = {}
    for given in paths:
        path = Path(given)
        real = path.resolve()
        if real in seen:
            faults.add(Place(str(path)), f"the same day as {seen[real]}", right="each day once")
            continue
        seen[real] = str(path)
        name = real.name
        files = _folder(path, faults) if path.is_dir() else _workbook(path, faults)
        if files is not None:
            raws.append(raw_day_from_files(name if path.is_dir() else real.stem, files))
    if not faults:
        return read_raw_days(raws)
    # Some paths can't be read: tell what is wrong with the others in the same go.
    try:
        if raws:
            read_raw_days(raws)
    except InputRefused as error:
        faults.faults.extend(error.faults)
        faults.warnings.extend(error.warnings)
    faults.raise_if_any()
    raise AssertionError("unreachable")


def _folder(path: Path, faults: Faults) -> dict[str, bytes] | None:
    found = [p for p in sorted(path.iterdir()) if p.is_file()]
    cuts = next((p for p in sorted(path.iterdir()) if p.is_dir() and p.name == "cuts"), None)
    if cuts is not None:
        found += [p for p in sorted(cuts.iterdir()) if p.is_file()]
    files = {}
    for file in found:
        name = file.relative_to(path).as_posix()
        if file.name.startswith((".", "~$")) or not _is_read(name):
            files[name] = b""
            continue
        try:
            with file.open("rb") as stream:
                files[name] = stream.read(LARGEST_FILE + 1)
        except OSError as error:
            faults.add(Place(name), f"can't be read: {error.strerror}")
    return files


def _is_read(name: str) -> bool:
    folder, _, file = name.rpartition("/")
    if folder:
        return folder == "cuts" and file.casefold().endswith(".csv")
    return name in (_CONFIG, _STOCK)


def _workbook(path: Path, faults: Faults) -> dict[str, bytes] | None:
    if not path.exists():
        faults.add(Place(str(path)), "no such day", right="a day folder or an .xlsx workbook")
        return None
    if path.suffix.casefold() not in (".xlsx", ".xlsm"):
        faults.add(Place(str(path)), "not a day", right="a day folder or an .xlsx workbook")
        return None
    files = {}
    for file in (path, path.parent / _CONFIG):
        if file.is_file():
            try:
                with file.open("rb") as stream:
                    files[file.name] = stream.read(LARGEST_FILE + 1)
            except OSError as error:
                faults.add(Place(str(file)), f"can't be read: {error.strerror}")
                return None
    return files


def raw_day_from_files(name: str, files: Mapping[str, bytes]) -> RawDay:
    """A day from its files' contents, without touching a disk.

    Parameters
    ----------
    name
        What the day is called.
    files
        Contents by name: `day.toml`, `stock.csv`, `cuts/walls.csv` ..., or one `.xlsx` workbook
        with or without a `day.toml`. One folder before all names is taken off.

    Returns
    -------
    RawDay
        What is wrong with the files themselves is in its `faults`; `read_raw_days` tells it
        together with the rest.
    """
    faults = Faults()
    contents = _relative(files)
    if len(contents) > MOST_FILES:
        faults.add(Place(name), f"{len(contents)} files", right=f"at most {MOST_FILES} files")
        return _raw(name, {}, {}, None, [], faults)
    config: dict[str, Any] = {}
    rows: dict[str, int] = {}
    if _CONFIG in contents:
        config, rows = _config(contents[_CONFIG], faults)
    books = [n for n in contents if n.casefold().endswith((".xlsx", ".xlsm")) and "/" not in n]
    if books and _STOCK not in contents:
        for other in books[1:]:
            faults.add(Place(other), "a second workbook", right="one workbook for a day")
        book = read_workbook(books[0], contents[books[0]], faults)
        if book is None:
            return _raw(name, config, rows, None, [], faults, broken=True)
        config_name = _CONFIG
        if book.config is not None:
            if _CONFIG in contents:
                faults.warn(Place(_CONFIG), f"not read: {book.config_name} holds the day's rules")
            config, rows, config_name = book.config, book.config_rows, book.config_name
        elif _CONFIG not in contents:
            faults.add(
                Place(book.config_name),
                "missing",
                right="a sheet 'day' with the columns key and value, or a day.toml beside it",
            )
        return RawDay(
            name=name,
            config=config,
            stock=book.stock,
            cuts=book.cuts,
            faults=tuple(faults.faults),
            warnings=tuple(faults.warnings),
            config_name=config_name,
            stock_name=book.stock_name,
            config_rows=rows,
        )
    if _CONFIG not in contents:
        faults.add(Place(_CONFIG), "missing", right="the plant, the date, the unit and the rules")
    stock = None
    cuts = []
    for file, content in sorted(contents.items()):
        if file == _STOCK:
            stock = read_table(file, content, faults)
        elif file != _CONFIG and _is_read(file):
            table = read_table(file, content, faults)
            if table is not None:
                cuts.append(table)
        elif file != _CONFIG:
            _not_read(file, faults)
    return _raw(name, config, rows, stock, cuts, faults)


def _raw(
    name: str,
    config: Mapping[str, Any],
    rows: Mapping[str, int],
    stock: Any,
    cuts: list[Any],
    faults: Faults,
    broken: bool = False,
) -> RawDay:
    return RawDay(
        name=name,
        config=config,
        stock=stock,
        cuts=tuple(cuts),
        faults=tuple(faults.faults),
        warnings=tuple(faults.warnings),
        config_rows=rows,
    )


def _relative(files: Mapping[str, bytes]) -> dict[str, bytes]:
    names = {n.replace("\\", "/").removeprefix("./"): c for n, c in files.items()}
    heads = {n.split("/", 1)[0] if "/" in n else "" for n in names}
    if len(heads) == 1 and heads != {""} and heads != {"cuts"}:
        names = {n.split("/", 1)[1]: c for n, c in names.items()}
    return names


def _not_read(file: str, faults: Faults) -> None:
    path = PurePosixPath(file)
    if path.name.startswith((".", "~$")):
        return
    tabular = path.suffix.casefold() in (".csv", ".tsv", ".txt", ".xlsx", ".xls", ".xlsm", ".ods")
    if path.parent.name == "cuts":
        faults.warn(Place(file), "not read", right="a cut list is a .csv file")
    elif tabular or path.suffix == ".toml":
        near = known_or_nearest(file, (_CONFIG, _STOCK, "cuts/"))
        faults.warn(Place(file), "not read", right=f"{near} (cut lists are in cuts/)")


def _config(content: bytes, faults: Faults) -> tuple[dict[str, Any], dict[str, int]]:
    decoded = decode(_CONFIG, content, faults)
    if decoded is None or decoded.bad:
        return {}, {}
    text = "\n".join(decoded.lines)
    try:
        return tomllib.loads(text, parse_float=Decimal), _key_rows(decoded.lines)
    except (ValueError, ArithmeticError, RecursionError) as error:
        found = re.search(r"\(at line (\d+), column \d+\)", str(error))
        row = int(found[1]) if found else 0
        wrong = re.sub(r"\s*\(at [^)]*\)", "", str(error)) or "nested too deeply"
        read = decoded.lines[row - 1].strip() if 0 < row <= len(decoded.lines) else ""
        faults.add(Place(_CONFIG, row), f"not TOML: {wrong}", read, 'such as kerf = "1/8"')
        return {}, {}


_KEY = r"""(?:"[^"]*"|'[^']*'|[A-Za-z0-9_-]+)"""
_KEYS = rf"{_KEY}(?:\s*\.\s*{_KEY})*"
_HEADER_LINE = re.compile(rf"\s*\[\s*({_KEYS})\s*\]")
_KEY_LINE = re.compile(rf"\s*({_KEYS})\s*=")


def _key_rows(lines: Sequence[str]) -> dict[str, int]:
    """The line of every key, for faults only: a key that this misses is named without a line."""
    rows: dict[str, int] = {}
    table = ""
    for number, line in enumerate(lines, start=1):
        header = _HEADER_LINE.match(line)
        if header:
            table = _dotted(header[1])
            rows.setdefault(table, number)
            continue
        key = _KEY_LINE.match(line)
        if key:
            dotted = _dotted(key[1])
            rows.setdefault(f"{table}.{dotted}" if table else dotted, number)
    return rows


def _dotted(keys: str) -> str:
    return ".".join(k.strip().strip("\"'") for k in re.findall(_KEY, keys))
