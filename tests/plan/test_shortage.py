"""Reasons in words and money: what is said, which are said, and how plan.json holds them."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal
from fractions import Fraction
from typing import Any

import pytest

from cutopt.materials import Kind
from cutopt.measure import FOOT, INCH, MM
from cutopt.plan import Cause, Plan, Shortage
from cutopt.plan.check import check_plan
from cutopt.plan.document import plan_document
from cutopt.plan.shortage import counted_marks, dearest
from cutopt.solve.outcome import material_plans
from tests.plan.test_document import plan
from tests.solve.lumber.groups import day_of, group_of, offer, part, rules, solved

PART = Shortage(
    Cause.PART,
    Kind.LUMBER,
    104 * INCH + 5 * INCH // 8,
    None,
    88,
    Fraction(492, 100),
    Fraction(411, 100),
    ("S12", "S14", "S16"),
    2,
)
LIMIT = Shortage(Cause.LIMIT, Kind.LUMBER, 16 * FOOT, None, 40, Fraction(83, 100), rows=(12, 14))


@pytest.mark.parametrize(
    ("shortage", "words"),
    [
        (
            PART,
            '104-5/8" (88 pieces, marks S12, S14, S16 and 2 more): $4.92 each at the margin, '
            "$4.11 for the wood alone; $71.28 of the $812.40 goes beyond the wood.",
        ),
        (
            LIMIT,
            '192" sticks (rows 12, 14: 40 can be had) are short: at the margin one more would '
            "save up to $0.83.",
        ),
        (
            replace(PART, cause=Cause.RUN, length=720 * INCH, pieces=2, marks=("R1",), more=0),
            '720" of a jointed run (2 wanted, mark R1): $4.92 each at the margin, '
            "joints included, $4.11 for the wood alone; $1.62 of the $812.40 goes beyond the wood.",
        ),
        (
            replace(PART, cause=Cause.SPAN, kind=Kind.SHEET, pieces=1, marks=("C",), more=0),
            'Span 104-5/8" (1 row, mark C): $4.92 each in this plan, $4.11 for the area alone; '
            "$0.81 of the $812.40 goes beyond the area.",
        ),
        (
            Shortage(Cause.LENGTHS, Kind.SHEET, 0, None, 3, Fraction(1240, 100)),
            "At most 3 board lengths may be bought: one more would save up to $12.40.",
        ),
        (
            replace(PART, worth=Fraction(4112, 1000)),
            '104-5/8" (88 pieces, marks S12, S14, S16 and 2 more): $4.112 each at the margin, '
            "$4.110 for the wood alone; $0.18 of the $812.40 goes beyond the wood.",
        ),
    ],
    ids=["part", "limit", "run", "span", "lengths", "near"],
)
def test_the_words(shortage: Shortage, words: str) -> None:
    assert shortage.text("in", of=Fraction(8124, 10)) == words


def test_mates_are_told_as_such() -> None:
    mates = replace(PART, cause=Cause.RUN, mates=2, marks=("RIM-A", "RIM-B"), more=0)
    assert " of 2 mated runs together (88 wanted, marks RIM-A, RIM-B): " in mates.text("in")


def test_feet_and_millimetres() -> None:
    assert PART.text("in", feet=True).startswith("8'-8 5/8\" (88 pieces")
    assert replace(PART, length=2500 * MM).text("mm").startswith("2500 mm (88 pieces")


def test_the_dearest_parts_come_first_then_limits() -> None:
    parts = [replace(PART, worth=PART.plain + Fraction(n, 10), pieces=n) for n in (3, 9, 5, 7)]
    limits = [replace(LIMIT, worth=Fraction(n), rows=(n,)) for n in (2, 5, 3)]
    found = dearest([*limits, *parts])
    assert [s.pieces for s in found[:3]] == [9, 7, 5]
    assert [s.rows for s in found[3:]] == [(5,), (3,)]
    assert found == dearest([*reversed(parts), *reversed(limits)])
    # What is no dearer than its wood, or under a cent, is no reason.
    assert not dearest([replace(PART, worth=PART.plain), replace(LIMIT, worth=Fraction(1, 101))])


def test_marks_with_the_most_pieces_are_named() -> None:
    marks = [("A", 1), ("B", 5), ("C", 2), ("D", 2), ("A", 3), ("E", 1)]
    assert counted_marks(marks) == (("B", "A", "C"), 2)


def test_how_the_document_holds_them() -> None:
    material = plan_document(plan(shortages=(PART, LIMIT)))["materials"][0]
    assert list(material)[-3:] == ["layouts", "unplanned", "shortages"]
    part, limit = material["shortages"]
    assert part["text"] == PART.text("in", of=plan().materials[0].objective)
    assert {k: v for k, v in part.items() if k != "text"} == {
        "cause": "part",
        "length": Decimal("104.625"),
        "width": None,
        "pieces": 88,
        "worth": Decimal("4.92"),
        "plain": Decimal("4.11"),
        "beyond": Decimal("71.28"),
        "marks": ["S12", "S14", "S16"],
        "more_marks": 2,
    }
    assert {k: v for k, v in limit.items() if k != "text"} == {
        "cause": "limit",
        "length": 192,
        "width": None,
        "pieces": 40,
        "worth": Decimal("0.83"),
        "rows": [12, 14],
    }


def test_stock_without_an_exact_length_in_inches_leaves_the_unit_alone() -> None:
    document = plan_document(plan(shortages=(replace(LIMIT, length=3000 * MM),)))
    assert document["unit"] == "in"
    assert document["materials"][0]["shortages"][0]["length"] is None


@pytest.mark.parametrize("held", ["as made", None, [], "x", [1], [{"cause": "part"}]])
def test_the_checker_takes_reasons_as_told(held: Any) -> None:
    # Plans written before there were reasons have no such key.
    day = day_of([part(100 * INCH, 3)], [offer(144 * INCH, "14.40")], rules())
    plans = material_plans(group_of(day), solved(day))
    document = plan_document(Plan("in", plans))
    (material,) = document["materials"]
    assert material["shortages"]
    if held is None:
        del material["shortages"]
    elif held != "as made":
        material["shortages"] = held
    assert check_plan([day], document) == []
