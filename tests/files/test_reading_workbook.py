"""A workbook is a full substitute of a day folder."""

from __future__ import annotations

import csv
import io
import zipfile
from collections.abc import Sequence
from datetime import datetime
from pathlib import Path
from typing import Any

import openpyxl
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from cutopt.cutlist import Day, read_raw_days
from cutopt.files import raw_day_from_files, read_days, workbook
from cutopt.records import InputRefused
from tests.cutlist.words import CUTS, DAY, STOCK, files, read, row

RULES = [
    ("key", "value"),
    ("plant", "Test Works"),
    ("date", datetime(2026, 3, 2)),  # noqa: DTZ001  as a spreadsheet holds a date
    ("unit", "in"),
    ("lumber.kerf", 0.125),
    ("lumber.drop_value", 0.25),
    ("sheets.stages", 2),
    ("sheets.keep_drop", "36 x 12"),
    ("ceiling.order_lengths", 2),
    ("materials.GYP.kerf", 0),
    ('materials."2x4-SPF".head_trim', "1/4"),
]
TOML = (
    DAY
    + '[lumber]\nkerf = "1/8"\ndrop_value = 0.25\n[sheets]\nstages = 2\nkeep_drop = ["36", "12"]\n'
    + "[ceiling]\norder_lengths = 2\n[materials.GYP]\nkerf = 0\n"
    + '[materials."2x4-SPF"]\nhead_trim = "1/4"\n'
)


def cells(text: str) -> list[list[Any]]:
    """The rows of a csv text, numbers as numbers."""

    def value(word: str) -> Any:
        try:
            return int(word)
        except ValueError:
            pass
        try:
            return float(word)
        except ValueError:
            return word or None

    return [[value(w) for w in line] for line in csv.reader(io.StringIO(text))]


def book(**sheets: Sequence[Sequence[Any]]) -> bytes:
    made = openpyxl.Workbook()
    made.remove(made.active)
    for name, lines in sheets.items():
        sheet = made.create_sheet(name.replace("_", " "))
        for line in lines:
            sheet.append(list(line))
    out = io.BytesIO()
    made.save(out)
    return out.getvalue()


def whole(**sheets: Sequence[Sequence[Any]]) -> bytes:
    return book(**({"day": RULES, "stock": cells(STOCK), "cuts_walls": cells(CUTS)} | sheets))


def day_of(content: bytes, name: str = "d1") -> Day:
    return read_raw_days([raw_day_from_files(name, {f"{name}.xlsx": content})]).days[0]


def faults_of(content: bytes, **more: bytes) -> list[str]:
    given = {"d1.xlsx": content} | {k.replace("_", "."): v for k, v in more.items()}
    with pytest.raises(InputRefused) as caught:
        read_raw_days([raw_day_from_files("d1", given)])
    return [str(f) for f in caught.value.faults]


def meaning(day: Day) -> list[Any]:
    parts = [
        (p.place.row, p.section, p.jig, p.mark, p.materials, p.length, p.width, p.qty, p.turn)
        for p in day.parts
    ]
    rules = [(p.rule, p.need, p.joints) for p in day.parts]
    return [day.plant, day.date, day.unit, day.rules, day.offers, parts, rules]


def test_a_workbook_means_the_same_as_the_folder() -> None:
    assert meaning(day_of(whole())) == meaning(read(files(TOML)).days[0])


def test_places_name_the_workbook_and_the_sheet() -> None:
    assert str(day_of(whole()).parts[0].place) == "d1.xlsx/cuts walls:2"
    bad = whole(
        cuts_walls=cells(row(2, qty="0")),
        stock=cells(row(2, STOCK, price="x")),
        day=[*RULES, ("lumber.krf", 1)],
    )
    assert [f.split(": ")[0] for f in faults_of(bad)] == [
        "d1.xlsx/cuts walls:2:qty",
        "d1.xlsx/day:12:lumber.krf",
        "d1.xlsx/stock:2:price",
    ]


def test_sheets_and_columns_as_people_name_them() -> None:
    lines = cells(CUTS)
    lines[0] = [w.replace("_", " ").title() for w in lines[0]]
    content = book(Day=RULES, Stock=cells(STOCK), Cuts=[[], [], *lines])
    day = day_of(content)
    assert day.parts[0].place.row == 4
    assert len(day.parts) == 6


def test_other_sheets_are_told_and_left() -> None:
    raw = raw_day_from_files("d1", {"d1.xlsx": whole(Notes=[["x"]])})
    assert [str(w) for w in read_raw_days([raw]).warnings] == [
        "d1.xlsx/Notes: a sheet that is not read, would be right: stock, day or cuts ..."
    ]


def test_day_toml_may_lie_beside_it(tmp_path: Path) -> None:
    content = book(stock=cells(STOCK), cuts=cells(CUTS))
    (tmp_path / "monday.xlsx").write_bytes(content)
    with pytest.raises(InputRefused) as caught:
        read_days([tmp_path / "monday.xlsx"])
    assert [str(f) for f in caught.value.faults] == [
        "monday.xlsx/day: missing, would be right: a sheet 'day' with the columns key and value, "
        "or a day.toml beside it"
    ]
    (tmp_path / "day.toml").write_text(TOML, encoding="utf-8")
    day = read_days([tmp_path / "monday.xlsx"]).days[0]
    assert day.name == "monday"
    assert meaning(day) == meaning(read(files(TOML)).days[0])


def test_the_sheet_wins_over_a_day_toml_beside_it() -> None:
    given = {"d1.xlsx": whole(), "day.toml": b"not = [toml"}
    raw = raw_day_from_files("d1", given | {"day.toml": DAY.encode()})
    assert [str(w) for w in read_raw_days([raw]).warnings] == [
        "day.toml: not read: d1.xlsx/day holds the day's rules"
    ]


@pytest.mark.parametrize(
    ("lines", "told"),
    [
        ([("kee", "value")], "d1.xlsx/day:1:key: the column 'key' is missing"),
        ([*RULES, ("a.b.c.d", 1)], "d1.xlsx/day:12:key: not a key, read 'a.b.c.d'"),
        ([*RULES, ("lumber.kerf", 1)], "d1.xlsx/day:12:key: the key stands twice"),
        ([*RULES, ("lumber", 1)], "d1.xlsx/day:12:key: the key stands twice"),
        ([*RULES, ("unit.kerf", 1)], "d1.xlsx/day:12:key: the key stands twice"),
        ([*RULES, ("lumber.keep_drop", True)], "d1.xlsx/day:12:lumber.keep_drop: not a length"),
        ([], "d1.xlsx/day: an empty sheet"),
    ],
)
def test_faults_of_the_day_sheet(lines: list[Any], told: str) -> None:
    assert any(f.startswith(told) for f in faults_of(whole(day=lines)))


@pytest.mark.parametrize(
    ("lines", "told"),
    [
        ([], "an empty sheet"),
        ([["mark", "mark"]], ":1:mark: the column stands twice"),
        ([["mark"], ["A", "B"]], ":2: a cell under no header"),
        ([["mark"], ["x" * 3000]], ":2:mark: too many characters"),
    ],
)
def test_faults_of_a_sheet(lines: list[Any], told: str) -> None:
    assert any(told in f for f in faults_of(whole(cuts_walls=lines)))


def test_a_fraction_that_became_a_date_is_explained() -> None:
    lines = cells(CUTS)
    lines[1][4] = datetime(2026, 5, 8)  # noqa: DTZ001
    (told,) = faults_of(whole(cuts_walls=lines))
    assert told.startswith("d1.xlsx/cuts walls:2:length: not a length, read '2026-05-08'")
    assert "a spreadsheet makes a date of a fraction" in told


def test_numbers_stand_for_their_shortest_decimal_text() -> None:
    lines = cells(CUTS)
    lines[1][4] = 92.1
    lines[1][6] = 20.0
    part = day_of(whole(cuts_walls=lines)).parts[0]
    assert part.length == 921 * 4064
    assert part.qty == 20


# What is no workbook, and what is too much of one


@pytest.mark.parametrize(
    ("content", "told"),
    [
        (b"", "d1.xlsx: not a workbook, would be right: an .xlsx workbook"),
        (b"a,b\n", "d1.xlsx: not a workbook, would be right: an .xlsx workbook"),
        (
            b"\xd0\xcf\x11\xe0" + bytes(600),
            "d1.xlsx: not a workbook, would be right: an .xlsx "
            "workbook; this one is in the old .xls form or has a password",
        ),
    ],
)
def test_what_is_no_workbook(content: bytes, told: str) -> None:
    assert faults_of(content) == [told]


def packed(**members: bytes) -> bytes:
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as made:
        for name, content in members.items():
            made.writestr(name, content)
    return out.getvalue()


def test_a_zip_of_something_else() -> None:
    (told,) = faults_of(packed(a=b"x"))
    assert told.startswith("d1.xlsx: not a workbook that can be read")


def test_a_workbook_that_unpacks_to_too_much(monkeypatch: pytest.MonkeyPatch) -> None:
    (told,) = faults_of(packed(a=bytes(4_000_000)))
    assert told.startswith("d1.xlsx: unpacks to 4000000 bytes in 1 files")
    monkeypatch.setattr(workbook, "LARGEST_UNPACKED", 1000)
    (told,) = faults_of(whole())
    assert "at most 1000 bytes" in told


def test_a_far_cell_costs_nothing() -> None:
    made = openpyxl.Workbook()
    made.active.title = "cuts"
    made.active["A1"] = "mark"
    made.active["XFD1048576"] = "x"
    out = io.BytesIO()
    made.save(out)
    assert faults_of(out.getvalue())


def test_entities_in_the_xml_are_not_expanded() -> None:
    source = zipfile.ZipFile(io.BytesIO(whole()))
    members = {n: source.read(n) for n in source.namelist()}
    bomb = b'<?xml version="1.0"?><!DOCTYPE x [<!ENTITY a "aaaa"><!ENTITY b "&a;&a;">]>'
    name = "xl/workbook.xml"
    members[name] = bomb + members[name].removeprefix(b"<?xml version='1.0' encoding='UTF-8'?>")
    (told,) = faults_of(packed(**members))
    assert told.startswith("d1.xlsx: not a workbook that can be read")
    assert openpyxl.DEFUSEDXML is True


@settings(max_examples=60, deadline=None)
@given(st.data())
def test_no_damage_breaks_the_reader(data: st.DataObject) -> None:
    content = bytearray(WHOLE)
    for _ in range(data.draw(st.integers(1, 8))):
        at = data.draw(st.integers(0, len(content) - 1))
        content[at] = data.draw(st.integers(0, 255))
    raw = raw_day_from_files("d1", {"d1.xlsx": bytes(content)})
    try:
        read_raw_days([raw])
    except InputRefused as error:
        told = error.faults
        assert told == tuple(sorted(told))


WHOLE = whole()
