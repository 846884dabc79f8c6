"""The demo days are read without a fault, alone and together, from folders and from workbooks."""

from __future__ import annotations

import csv
import io
import time
import tomllib
from pathlib import Path
from typing import Any

import openpyxl
import pytest

from cutopt.cutlist import read_raw_days
from cutopt.files import raw_day_from_files, read_days
from cutopt.records import InputRefused

DEMO = Path(__file__).parents[2] / "demo_orders"
DAYS = sorted(p for p in DEMO.glob("20*") if p.is_dir())


@pytest.mark.parametrize("day", DAYS, ids=lambda p: p.name)
def test_a_demo_day_is_read_in_silence(day: Path) -> None:
    reading = read_days([day])
    assert reading.warnings == ()
    assert sum(p.qty for p in reading.days[0].parts) >= 3000
    assert len({p.section for p in reading.days[0].parts}) >= 5
    assert len({o.material for o in reading.days[0].offers}) >= 14


def test_the_demo_days_are_read_together() -> None:
    reading = read_days(DAYS)
    assert [d.name for d in reading.days] == [d.name for d in DAYS]
    assert reading.warnings == ()


def flat(values: dict[str, Any], before: str = "") -> list[tuple[str, Any]]:
    found = []
    for key, value in values.items():
        if isinstance(value, dict):
            found += flat(value, f"{before}{key}.")
        elif isinstance(value, list):
            found.append((before + key, " x ".join(map(str, value))))
        else:
            found.append((before + key, value))
    return found


def test_a_demo_day_as_a_workbook() -> None:
    folder = DAYS[0]
    book = openpyxl.Workbook()
    rules = book.active
    rules.title = "day"
    rules.append(["key", "value"])
    for pair in flat(tomllib.loads((folder / "day.toml").read_text(encoding="utf-8"))):
        rules.append(pair)
    lists = [folder / "stock.csv", *sorted((folder / "cuts").glob("*.csv"))]
    for path in lists:
        name = path.stem if path.parent == folder else f"cuts {path.stem}"
        sheet = book.create_sheet(name)
        text = path.read_text(encoding="utf-8-sig")
        separator = max(",;\t", key=text.splitlines()[0].count)
        for line in csv.reader(io.StringIO(text), delimiter=separator):
            sheet.append([word or None for word in line])
    out = io.BytesIO()
    book.save(out)
    as_book = read_raw_days([raw_day_from_files("d", {"d.xlsx": out.getvalue()})]).days[0]
    as_folder = read_days([folder]).days[0]
    assert as_book.rules == as_folder.rules
    assert as_book.offers == as_folder.offers
    assert [(p.section, p.mark, p.length, p.width, p.qty, p.joints) for p in as_book.parts] == [
        (p.section, p.mark, p.length, p.width, p.qty, p.joints) for p in as_folder.parts
    ]


# The slips of issue 2 in a real day, each told at its place.
SLIPS = [
    # (list, mark of the row to change, column, new cell, part of what is told)
    ("walls.csv", "W1-STUD", "length", "7.71875", "12 times too short beside its like"),
    ("walls.csv", "W1-STUD", "length", "1111.5", "12 times too long beside its like"),
    ("trusses.csv", "KING-POST", "qty", "0", "zero"),
    ("trusses.csv", "KING-POST", "qty", "-4", "below zero"),
    ("trusses.csv", "KING-POST", "material", "2x4-SPF-3", "did you mean '2x4-SPF-2'?"),
    ("floors.csv", "RIM-A", "joint_step", "0", "a length of zero"),
    ("floors.csv", "RIM-A", "joint_mate", "RIM-C", "did you mean"),
]


@pytest.mark.parametrize(("name", "mark", "column", "cell", "told"), SLIPS)
def test_a_slip_in_a_demo_day(name: str, mark: str, column: str, cell: str, told: str) -> None:
    folder = DAYS[0]
    contents = {
        p.relative_to(folder).as_posix(): p.read_bytes() for p in folder.rglob("*") if p.is_file()
    }
    text = contents[f"cuts/{name}"].decode("utf-8-sig")
    separator = max(",;\t", key=text.splitlines()[0].count)
    lines = list(csv.reader(io.StringIO(text), delimiter=separator))
    mark_at, column_at = lines[0].index("mark"), lines[0].index(column)
    line = next(n for n, fields in enumerate(lines) if fields and fields[mark_at] == mark)
    lines[line][column_at] = cell
    out = io.StringIO()
    csv.writer(out).writerows(lines)
    contents[f"cuts/{name}"] = out.getvalue().encode()
    with pytest.raises(InputRefused) as caught:
        read_raw_days([raw_day_from_files("d", contents)])
    first = str(caught.value.faults[0])
    assert first.startswith(f"cuts/{name}:{line + 1}:{column}: ")
    assert told in first


def test_twenty_thousand_rows_are_read_in_about_a_second() -> None:
    # Measured: 0.6 s on a busy core; the limit leaves room for a slower one.
    head = "section,jig,mark,material,length,width,qty,turn,rule,alt,need,note"
    rows = [
        f'S{n % 40},Wall,M{n},2x4,"{n % 19 + 1}\'-{n % 12} {n % 8}/8""",,{n % 9 + 1},,,,{n},'
        for n in range(20_000)
    ]
    contents = {
        "day.toml": b'plant = "P"\ndate = 2026-03-02\n',
        "stock.csv": b"material,kind,nominal,length,price,per\n2x4,lumber,2x4,20',600,MBF\n",
        "cuts/all.csv": "\n".join([head, *rows]).encode(),
    }
    start = time.process_time()
    day = read_raw_days([raw_day_from_files("d", contents)]).days[0]
    assert time.process_time() - start < 5
    assert len(day.parts) == 20_000
