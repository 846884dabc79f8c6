"""Counts, prices and the cells of a row."""

from __future__ import annotations

from decimal import Decimal

import pytest

from cutopt.measure import LARGEST_COUNT, Cells, check_columns, parse_count, parse_price
from cutopt.records import Faults, Row, Table


@pytest.mark.parametrize(
    ("text", "count"), [("0", 0), ("12", 12), ("+3", 3), ("12.0", 12), ("7.", 7)]
)
def test_counts(text: str, count: int) -> None:
    assert parse_count(text) == count


@pytest.mark.parametrize(
    ("text", "least", "wrong"),
    [
        ("-1", 0, "below zero"),
        ("-1.0", 0, "below zero"),
        ("0", 1, "zero"),
        ("1", 2, "below 2"),
        ("2.5", 0, "not a whole number"),
        ("1e3", 0, "not a whole number"),
        ("1,000", 0, "not a whole number"),
        ("two", 0, "not a whole number"),
        ("", 0, "not a whole number"),
        ("٣", 0, "not a whole number"),
        (str(LARGEST_COUNT + 1), 0, "above 10,000,000"),
        ("9" * 50, 0, "not a whole number"),
    ],
)
def test_what_is_no_count(text: str, least: int, wrong: str) -> None:
    with pytest.raises(ValueError, match=wrong):
        parse_count(text, least)


@pytest.mark.parametrize(
    ("text", "price"), [("465", "465"), ("4.65", "4.65"), (".5", "0.5"), ("0", "0")]
)
def test_prices(text: str, price: str) -> None:
    assert parse_price(text) == Decimal(price)


@pytest.mark.parametrize(
    ("text", "wrong"),
    [
        ("-1", "below zero"),
        ("4,65", "comma"),
        ("1,250.00", "comma"),
        ("$5", "not a price"),
        ("1e3", "not a price"),
        ("nan", "not a price"),
        ("", "not a price"),
    ],
)
def test_what_is_no_price(text: str, wrong: str) -> None:
    with pytest.raises(ValueError, match=wrong):
        parse_price(text)


def _cells(faults: Faults, **cells: str) -> Cells:
    table = Table("t.csv", tuple(cells), (), 1)
    return Cells(table, Row(7, cells), "in", faults)


def test_a_cell_names_its_place_and_what_was_read() -> None:
    faults = Faults()
    cells = _cells(faults, length="x", qty="2.5", note="", kind="lumbr")
    assert cells.length("length", "a length") is None
    assert cells.count("qty", "pieces") is None
    assert cells.word("kind", {"lumber": 1, "sheet": 2}) is None
    assert not cells.sound
    assert [str(f) for f in sorted(faults)] == [
        "t.csv:7:kind: not a known word, read 'lumbr', would be right: did you mean 'lumber'?",
        "t.csv:7:length: not a length, read 'x', would be right: "
        "such as 92-5/8, 92.625, 7'-8 5/8\" or 2352.7mm",
        "t.csv:7:qty: not a whole number, read '2.5', would be right: pieces",
    ]


def test_blank_cells() -> None:
    faults = Faults()
    cells = _cells(faults, length="", qty="")
    assert cells.count("qty", "pieces") is None
    assert cells.sound
    assert cells.length("length", "the length of one piece") is None
    assert str(faults.faults[0]) == (
        "t.csv:7:length: blank, would be right: the length of one piece"
    )


def test_zero_is_a_length_only_where_it_may_be() -> None:
    faults = Faults()
    cells = _cells(faults, a="0", b="0")
    assert cells.length("a", "a place", positive=False) == 0
    assert cells.length("b", "above zero") is None
    assert str(faults.faults[0]) == (
        "t.csv:7:b: a length of zero, read '0', would be right: above zero"
    )


@pytest.mark.parametrize("text", ["2026-05-08", "8-May", "May-08", "5/8/2026", "05-08-26"])
def test_a_fraction_that_a_spreadsheet_made_a_date_is_explained(text: str) -> None:
    faults = Faults()
    assert _cells(faults, length=text).length("length", "") is None
    assert "a spreadsheet makes a date of a fraction" in str(faults.faults[0])


def test_columns() -> None:
    faults = Faults()
    table = Table("t.csv", ("mark", "lenght"), (), 2)
    assert not check_columns(table, ("mark", "length", "qty"), ("mark", "length"), faults)
    assert [str(f) for f in sorted(faults)] == [
        "t.csv:2:length: the column 'length' is missing, would be right: "
        "a header with mark, length",
        "t.csv:2:lenght: no such column, read 'lenght', would be right: did you mean 'length'?",
    ][::-1]
