"""The mill's least orders through to the order, the yield and the checker."""

from __future__ import annotations

import copy
import csv
import io
from dataclasses import replace
from datetime import date
from decimal import Decimal
from typing import Any

import pytest

from cutopt.cutlist import Day, Part, Rule
from cutopt.files import outputs, parse_document
from cutopt.materials import Kind, LumberRules, Offer, Per, Rules, SheetRules
from cutopt.measure import INCH
from cutopt.plan import Problem
from cutopt.plan.check import check_plan
from cutopt.records import Place
from cutopt.solve import Settings, solve


def _stick(row: int, inches: int, price: int, on_hand: int = 0, least: int = 0) -> Offer:
    return Offer(
        row,
        "2x4",
        Kind.LUMBER,
        (2, 4),
        inches * INCH,
        None,
        Decimal(price),
        Per.EACH,
        on_hand,
        min_order=least,
    )


def _planned(offers: list[Offer], parts: list[Part]) -> tuple[Day, Any, dict[str, bytes]]:
    rules = Rules(lumber=LumberRules(kerf=0, drop_value=Decimal(0)), sheets=SheetRules(kerf=0))
    day = Day("d", "P", date(2026, 3, 2), "in", rules, tuple(offers), tuple(parts))
    problem = Problem((day,))
    files = outputs(problem, solve(problem, Settings(seconds=20, workers=1)))
    return day, parse_document(files["plan.json"]), files


def _studs(qty: int) -> Part:
    return Part(Place("cuts/a.csv", 2), "A", "Wall", "STUD", "2x4", 90 * INCH, None, qty)


def test_sticks_are_bought_up_and_the_rest_stays_whole() -> None:
    # By hand: 3 studs from 96s, two in the yard; one is lacking, five are sold at least. What must
    # be bought is cut first, so the yard keeps its own: 5 at $4, of which 3 are cut.
    day, document, files = _planned([_stick(2, 96, 4, on_hand=2, least=5)], [_studs(3)])
    (material,) = document["materials"]
    assert material["cost"] == material["objective"] == 20
    assert material["surplus"] == [{"row": 2, "pieces": 2}]
    assert [(x["stock"]["source"], x["count"]) for x in material["layouts"]] == [("buy", 3)]
    (line,) = csv.DictReader(io.StringIO(files["stock_order.csv"].decode()))
    assert (line["pieces"], line["extension"]) == ("5", "20.00")
    (line,) = csv.DictReader(io.StringIO(files["yield.csv"].decode()))
    # Three sticks of 8 ft went into the saw.
    assert (line["input"], line["cost_in"]) == ("24.000000", "12.00")
    assert b"beyond what is cut" in files["report.html"]
    assert check_plan((day,), document) == []


def test_a_plan_does_without_where_that_is_cheaper() -> None:
    # By hand: 120s at $5 without a least order against 96s at $4, of which ten must be bought.
    _, document, _ = _planned([_stick(2, 96, 4, least=10), _stick(3, 120, 5)], [_studs(3)])
    (material,) = document["materials"]
    assert material["objective"] == 15
    assert "surplus" not in material


def test_what_is_bought_beyond_is_cut_instead_of_other_stock() -> None:
    # By hand: 118s come from 120s alone, of which twelve are sold at least: $60. The eight that
    # are left hold the studs, for which no 96 at $4 need be bought.
    plates = replace(_studs(4), place=Place("cuts/a.csv", 3), mark="PLATE", length=118 * INCH)
    offers = [_stick(2, 120, 5, least=12), _stick(3, 96, 4)]
    day, document, files = _planned(offers, [plates, _studs(8)])
    (material,) = document["materials"]
    assert material["cost"] == material["objective"] == 60
    assert "surplus" not in material
    (line,) = csv.DictReader(io.StringIO(files["stock_order.csv"].decode()))
    assert (line["length"], line["pieces"]) == ("120", "12")
    assert check_plan((day,), document) == []


def test_sheets_bought_beyond_are_cut_and_more_are_bought_at_their_price() -> None:
    # By hand: 12 of 118 x 40 take 12 sheets of 120 x 48, of which twenty are sold at least. Eight
    # are left for ten panels; two more sheets are cheaper as 96s at $42 than as 120s at $55.
    big = Offer(
        2, "PLY", Kind.SHEET, None, 120 * INCH, 48 * INCH, Decimal(55), Per.EACH, min_order=20
    )
    small = Offer(3, "PLY", Kind.SHEET, None, 96 * INCH, 48 * INCH, Decimal(42), Per.EACH)
    long = replace(_studs(12), mark="LONG", material="PLY", length=118 * INCH, width=40 * INCH)
    panel = replace(long, place=Place("cuts/a.csv", 3), mark="PANEL", length=90 * INCH, qty=10)
    day, document, _ = _planned([big, small], [long, panel])
    (material,) = document["materials"]
    assert material["cost"] == 20 * 55 + 2 * 42
    assert "surplus" not in material
    assert check_plan((day,), document) == []


def _wrong(how: str, document: Any) -> Any:
    other = copy.deepcopy(document)
    material = other["materials"][0]
    if how == "forgotten":
        del material["surplus"]
        material["cost"] = material["objective"] = material["bound"] = 12
    elif how == "too many":
        material["surplus"][0]["pieces"] += 1
        material["cost"] = material["objective"] = 24
    elif how == "another row":
        material["surplus"][0]["row"] = 7
    elif how == "not paid for":
        material["cost"] = material["objective"] = material["bound"] = 12
    else:
        material["surplus"][0]["pieces"] = how
    return other


@pytest.mark.parametrize(
    "how", ["forgotten", "too many", "another row", "not paid for", 0, -1, "two", 1.5]
)
def test_the_checker_refuses_a_wrong_surplus(how: Any) -> None:
    day, document, _ = _planned([_stick(2, 96, 4, on_hand=2, least=5)], [_studs(3)])
    assert check_plan((day,), _wrong(how, document))


def test_a_ceiling_s_surplus_is_on_the_order() -> None:
    board = Offer(
        2,
        "GYP",
        Kind.SHEET,
        None,
        144 * INCH,
        48 * INCH,
        Decimal(20),
        Per.EACH,
        min_order=6,
    )
    field = Part(
        Place("cuts/c.csv", 2),
        "A",
        "Ceiling",
        "F",
        "GYP",
        140 * INCH,
        100 * INCH,
        1,
        rule=Rule.FULL_SPAN,
    )
    _, document, files = _planned([board], [field])
    (material,) = document["materials"]
    assert (material["status"], material["cost"]) == ("optimal", 120)
    (line,) = csv.DictReader(io.StringIO(files["stock_order.csv"].decode()))
    assert line["pieces"] == "6"
