"""The saw cuts of a plan's sheets, line by line."""

from __future__ import annotations

from cutopt.materials import Rules
from cutopt.plan import Plan
from cutopt.saw import sheet_cuts
from tests.draw.examples import plan_of, sheets, sticks


def test_a_line_per_cut_with_the_marks_that_come_off() -> None:
    material, rules, layouts = sheets()["turned"]
    lumber, _ = sticks()["two studs"]
    lines = sheet_cuts(Plan("in", (lumber, material)), Rules(sheets=rules))
    assert {line.layout.id for line in lines} == {layouts[0].id}, "sticks have none"
    assert [line.cut.number for line in lines] == list(range(1, len(lines) + 1))
    told = [(str(line.cut.piece), line.marks) for line in lines]
    # Strips first, then what lies in them, then what is trimmed; worked by hand from the drawing.
    assert told == [
        ("the sheet", ()),
        ("the sheet", ()),
        ("strip A", ("W1-UNDER-01",)),
        ("strip A", ("W1-OVER-01",)),
        ("strip A", ()),
        ("strip A", ()),
        ("strip B", ("W1-OVER-03",)),
        ("strip B", ()),
        ("blank A3", ("W1-OVER-02",)),
        ("blank A4", ("W1-SIDE",)),
        ("blank B2", ("W1-X",)),
    ]


def test_layouts_come_in_the_order_of_the_plan() -> None:
    material, rules, layouts = sheets()["alike"]
    lines = sheet_cuts(Plan("in", (material,)), Rules(sheets=rules))
    assert [line.layout.id for line in lines] == [x.id for x in layouts for _ in range(2)]
    assert plan_of(layouts).material == lines[0].material
