"""Day folders and workbooks read from disk."""

from __future__ import annotations

import dataclasses
import os
import re
import tomllib
from collections.abc import Iterable, Mapping, Sequence
from decimal import Decimal
from pathlib import Path, PurePosixPath
from typing import Any

from cutopt.cutlist import Day, RawDay, Reading, read_raw_days
from cutopt.files.tables import LARGEST_DAY, LARGEST_FILE, MOST_FILES, decode, read_table
from cutopt.files.workbook import Book, read_workbook
from cutopt.records import Faults, InputRefused, Place

__all__ = ["raw_day_from_files", "read_day", "read_days"]

_CONFIG = "day.toml"
_STOCK = "stock.csv"
#: Characters in day.toml, and dots in one of its lines.
_LARGEST_CONFIG = 256 * 1024
_MOST_DOTS = 64
_BOOKS = (".xlsx", ".xlsm")


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
        if path.is_dir():
            raws.append(_from_disk(real.name, _folder(path)))
        elif path.exists() and path.suffix.casefold() in _BOOKS:
            beside = path.parent / _CONFIG
            named = {path.name: path} | ({_CONFIG: beside} if beside.is_file() else {})
            raws.append(_from_disk(real.stem, named))
        else:
            wrong = "not a day" if path.exists() else "no such day"
            faults.add(Place(str(path)), wrong, right="a day folder or an .xlsx workbook")
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


def _folder(path: Path) -> dict[str, Path]:
    inside = sorted(path.iterdir())
    found = [p for p in inside if p.is_file()]
    for folder in inside:
        if folder.name == "cuts" and folder.is_dir():
            found += [p for p in sorted(folder.iterdir()) if p.is_file()]
    return {p.relative_to(path).as_posix(): p for p in found}


def _from_disk(name: str, paths: Mapping[str, Path]) -> RawDay:
    faults = Faults()
    read = _files_of_day(paths)
    files = {}
    room = LARGEST_DAY + 1
    for file, path in paths.items():
        files[file] = b""
        if file not in read:
            continue
        try:
            with path.open("rb") as stream:
                files[file] = stream.read(min(LARGEST_FILE + 1, room))
        except OSError as error:
            faults.add(Place(file), f"can't be read: {error.strerror}")
            del files[file]
            continue
        room -= len(files[file])
        if room <= 0:
            break
    raw = raw_day_from_files(name, files)
    lost = {f.place.file for f in faults}
    others = (f for f in raw.faults if f.place.file not in lost)
    return dataclasses.replace(raw, faults=(*faults, *others))


def _files_of_day(names: Iterable[str]) -> frozenset[str]:
    """The files of a day that are read; the rest are left aside, told or not."""
    known = frozenset(names)
    cuts = {n for n in known if PurePosixPath(n).parent.name == "cuts" and _is_shown(n)}
    cuts = {n for n in cuts if n.casefold().endswith(".csv")}
    if not cuts and _STOCK not in known:
        books = {n for n in known if "/" not in n and _is_shown(n)}
        books = {n for n in books if n.casefold().endswith(_BOOKS)}
        if books:
            return frozenset(books | (known & {_CONFIG}))
    return frozenset(cuts | (known & {_CONFIG, _STOCK}))


def _is_shown(name: str) -> bool:
    # Hidden files, and those that an office program leaves beside an open one, are none of ours.
    return not PurePosixPath(name).name.startswith((".", "~$"))


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
    config: dict[str, Any] = {}
    rows: dict[str, int] = {}
    contents = _relative(files)
    read = _files_of_day(contents)
    size = sum(len(contents[n]) for n in read)
    if len(contents) > MOST_FILES:
        faults.add(Place(name), f"{len(contents)} files", right=f"at most {MOST_FILES} files")
    elif size > LARGEST_DAY:
        faults.add(Place(name), "too many bytes", right=f"at most {LARGEST_DAY} bytes in a day")
    if faults:
        return RawDay(
            name=name,
            config={},
            stock=None,
            cuts=(),
            faults=tuple(faults),
            config_name=name,
            stock_name=name,
            cuts_name=name,
        )
    books = sorted(n for n in read if n.casefold().endswith(_BOOKS))
    if books:
        for other in books[1:]:
            faults.add(Place(other), "a second workbook", right="one workbook for a day")
        book = read_workbook(books[0], contents[books[0]], faults)
        if _CONFIG in contents and (book is None or book.config is None):
            config, rows = _config(contents[_CONFIG], faults)
        if book is None:
            book = Book(config_name=books[0], stock_name=books[0], cuts_name=books[0])
        elif book.config is None and _CONFIG in contents:
            book.config, book.config_rows, book.config_name = config, rows, _CONFIG
        elif book.config is None:
            faults.add(
                Place(book.config_name),
                "missing",
                right="a sheet 'day' with the columns key and value, or a day.toml beside it",
            )
        elif _CONFIG in contents:
            faults.warn(Place(_CONFIG), f"not read: {book.config_name} holds the day's rules")
        return RawDay(
            name=name,
            config=book.config or {},
            stock=book.stock,
            cuts=book.cuts,
            faults=tuple(faults.faults),
            warnings=tuple(faults.warnings),
            config_name=book.config_name,
            stock_name=book.stock_name,
            cuts_name=book.cuts_name,
            config_rows=book.config_rows,
        )
    if _CONFIG in contents:
        config, rows = _config(contents[_CONFIG], faults)
    else:
        faults.add(Place(_CONFIG), "missing", right="the plant, the date, the unit and the rules")
    stock = None
    cuts = []
    for file, content in sorted(contents.items()):
        if file == _STOCK:
            stock = read_table(file, content, faults)
        elif file not in read:
            _not_read(file, faults)
        elif file != _CONFIG:
            table = read_table(file, content, faults)
            if table is not None:
                cuts.append(table)
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
    if not _is_shown(file):
        return
    path = PurePosixPath(file)
    tabular = path.suffix.casefold() in (".csv", ".tsv", ".txt", ".xlsx", ".xls", ".xlsm", ".ods")
    if path.parent.name == "cuts":
        faults.warn(Place(file), "not read", right="a cut list is a .csv file")
    elif tabular or path.suffix.casefold() == ".toml":
        right = f"{_CONFIG}, {_STOCK}, or cuts/{path.stem}.csv for a cut list"
        faults.warn(Place(file), "not read", right=right)


def _config(content: bytes, faults: Faults) -> tuple[dict[str, Any], dict[str, int]]:
    decoded = decode(_CONFIG, content, faults)
    if decoded is None or decoded.bad:
        return {}, {}
    # A dotted key costs the TOML reader memory by the square of its parts.
    text = "\n".join(decoded.lines)
    if len(text) > _LARGEST_CONFIG:
        faults.add(Place(_CONFIG), f"{len(text)} characters", right=f"at most {_LARGEST_CONFIG}")
        return {}, {}
    for row, line in enumerate(decoded.lines, start=1):
        if line.count(".") > _MOST_DOTS and not line.lstrip().startswith("#"):
            right = f"at most {_MOST_DOTS}"
            faults.add(Place(_CONFIG, row), f"{line.count('.')} dots in a line", right=right)
            return {}, {}
    try:
        return tomllib.loads(text, parse_float=Decimal), _key_rows(decoded.lines)
    except (ValueError, ArithmeticError, RecursionError) as error:
        wrong = "nested too deeply" if isinstance(error, RecursionError) else str(error)
        found = re.search(r"\(at line (\d+), column \d+\)", wrong)
        row = int(found[1]) if found else 0
        if wrong.endswith("(at end of document)"):
            row = max((n for n, line in enumerate(decoded.lines, 1) if line.strip()), default=0)
        wrong = re.sub(r"\s*\(at [^)]*\)", "", wrong)
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
