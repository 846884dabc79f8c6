"""The readers that take what others wrote, each with whole inputs to be damaged.

`feed` reads one damaged input as the product does; whatever but a fault of the library's own comes
out of it is a defect.
"""

from __future__ import annotations

import csv
import io
import json
import zipfile
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from decimal import Decimal
from pathlib import Path
from random import Random
from typing import Any

import openpyxl

from cutopt.cutlist import raw_day_from_json, read_raw_days
from cutopt.files import parse_document, raw_day_from_files, tables_of
from cutopt.plan.check import check_plan
from cutopt.records import CutoptError
from tests.bench.fuzz import mutations
from tests.plan import hand_made

__all__ = ["READERS", "Reader"]

DEMO = Path(__file__).resolve().parents[3] / "demo_orders"
#: Rows of a table that is damaged: few, so that many inputs are read.
ROWS = 12
#: Now and then very many: what grows with the square of them shows.
MANY_ROWS, MANY_SHARE = 400, 0.01

Damage = Callable[[bytes, Random, bytes], bytes]


@dataclass(frozen=True, slots=True)
class Reader:
    """What is read, in words; whole inputs by a seed; their damage; how they are read.

    `feed` is True where the input was taken, False where it was refused.
    """

    name: str
    about: str
    whole: Callable[[Random], bytes]
    damage: Damage
    feed: Callable[[bytes], bool]

    def input(self, random: Random) -> bytes:
        """The next input: damaged in its structure, its bytes, or both."""
        data, other = self.whole(random), self.whole(random)
        how = random.random()
        if how < 0.65:
            data = self.damage(data, random, other)
        if how > 0.55:
            data = mutations.in_bytes(data, random, other)
        return data


def _lines(path: Path, random: Random, rows: int = ROWS) -> bytes:
    head, *lines = path.read_bytes().splitlines(keepends=True)
    if random.random() < MANY_SHARE:
        rows = MANY_ROWS
    start = random.randrange(max(1, len(lines) - rows))
    return head + b"".join(lines[start : start + random.randrange(1, rows)])


def _demo(random: Random) -> Path:
    return random.choice(sorted(path.parent for path in DEMO.glob("*/day.toml")))


def _table(random: Random) -> bytes:
    day = _demo(random)
    tables = sorted(day.glob("cuts/*.csv"))
    return _lines(random.choice([*tables, day / "stock.csv"]), random)


def _files(**changes: bytes) -> dict[str, bytes]:
    day = DEMO / "2026-03-02"
    names = {"config": "day.toml", "stock": "stock.csv", "cuts": "cuts/ridges.csv"}
    files = {name: (day / name).read_bytes() for name in names.values()}
    return files | {names[key]: content for key, content in changes.items()}


def _reads(files: Mapping[str, bytes]) -> bool:
    try:
        read_raw_days([raw_day_from_files("day", files)])
    except CutoptError as error:
        return _refused(error)
    return True


def _refused(error: CutoptError) -> bool:
    """False: it was refused, in words that can be written down."""
    text = str(error)
    if not text or len(text) > 4_000_000:
        raise AssertionError(f"a refusal of {len(text)} characters") from error
    text.encode("utf-8", "surrogatepass")
    return False


def _feed_table(data: bytes) -> bool:
    # Both as a cut list and as the stock: their columns are read by different rules.
    as_cuts = _reads(_files(cuts=data))
    return _reads(_files(stock=data)) or as_cuts


def _config(random: Random) -> bytes:
    return (_demo(random) / "day.toml").read_bytes()


def _feed_config(data: bytes) -> bool:
    return _reads(_files(config=data))


def _cells(data: bytes) -> list[dict[str, str]]:
    return list(csv.DictReader(io.StringIO(data.decode("utf-8-sig"))))


def _day(random: Random, rows: int) -> tuple[list[dict[str, str]], list[dict[str, str]]]:
    """A few cut rows of a demo day, and the stock that they name."""
    day = _demo(random)
    cuts = _cells(_lines(random.choice(sorted(day.glob("cuts/*.csv"))), random, rows))
    named = {m for row in cuts for m in (row["material"], *row.get("alt", "").split(";"))}
    stock = _cells((day / "stock.csv").read_bytes())
    return [row for row in stock if row["material"] in named], cuts


def _document(random: Random) -> bytes:
    stock, cuts = _day(random, 6)
    config: dict[str, Any] = {"plant": "Hask Lake", "date": "2026-03-02", "unit": "in"}
    config |= {"lumber": {"kerf": "1/8", "keep_drop": 24}, "sheets": {"stages": 3}}
    config |= {"materials": {stock[0]["material"]: {"kerf": 0}}}
    return json.dumps({"day": config, "stock": stock, "cuts": cuts}).encode()


def _feed_document(data: bytes) -> bool:
    try:
        read_raw_days([raw_day_from_json("day", parse_document(data))])
    except CutoptError as error:
        return _refused(error)
    return True


def _plan(random: Random) -> bytes:
    plan = hand_made.document()
    if random.random() < 0.7:  # one material alone: more inputs of the same bytes
        plan["materials"] = [random.choice(plan["materials"])]
    return json.dumps(plan, default=_number).encode()


def _number(value: object) -> float:
    assert isinstance(value, Decimal), value
    return float(value)


_DAY = hand_made.day()
_TABLES = {
    "stock_order.csv": b"material,length,width,pieces,bundles\n2x4,96,,3,\n",
    "cut_list.csv": b"material,layout,count,stop,length\n2x4,L1,1,92.625,92.625\n",
}


def _feed_plan(data: bytes) -> bool:
    try:
        document = parse_document(data)
    except CutoptError as error:
        return _refused(error)
    return not check_plan([_DAY], document, tables_of(_TABLES) if len(data) % 2 else None)


def _workbook(random: Random) -> bytes:
    stock, cuts = _day(random, 5)
    book = openpyxl.Workbook()
    book.remove(book.active)
    sheets = {"stock": stock, "cuts walls": cuts}
    for name, rows in sheets.items():
        sheet = book.create_sheet(name)
        sheet.append(list(rows[0]))
        for row in rows:
            sheet.append([_typed(value) for value in row.values()])
    config = book.create_sheet("day")
    for line in (("key", "value"), ("plant", "Hask Lake"), ("date", "2026-03-02"), ("unit", "in")):
        config.append(line)
    config.append((f"materials.{stock[0]['material']}.kerf", "0"))
    file = io.BytesIO()
    book.save(file)
    return _small(file.getvalue())


def _small(book: bytes) -> bytes:
    """Without what no reader of a day looks at, so that many are read."""
    file = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(book)) as whole, zipfile.ZipFile(file, "w", 8) as small:
        for member in whole.infolist():
            if not member.filename.startswith(("docProps/", "xl/theme/")):
                small.writestr(member.filename, whole.read(member))
    return file.getvalue()


def _typed(value: str) -> str | int:
    return int(value) if value.isascii() and value.isdecimal() else value


def _feed_workbook(data: bytes) -> bool:
    return _reads({"day.xlsx": data})


READERS = {
    reader.name: reader
    for reader in (
        Reader("csv", "tables of a day folder", _table, mutations.in_csv, _feed_table),
        Reader("toml", "a day's rules", _config, mutations.in_toml, _feed_config),
        Reader("json", "a day as one document", _document, mutations.in_json, _feed_document),
        Reader("xlsx", "a day as a workbook", _workbook, mutations.in_xlsx, _feed_workbook),
        Reader("plan", "plan.json, by the checker", _plan, mutations.in_json, _feed_plan),
    )
}
