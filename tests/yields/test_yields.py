"""Every stick and sheet is accounted for to the last count."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal
from fractions import Fraction

from cutopt.materials import Rules, SheetRules
from cutopt.measure import FOOT, INCH
from cutopt.plan import Drop, Layout, MaterialPlan, Placed, Plan, Source, Status, Stop
from cutopt.yields import yields

KERF = INCH // 8


def plan_of(layout: Layout, head_trim: int = 0) -> Plan:
    return Plan(
        "in",
        (
            MaterialPlan(
                layout.offer.material,
                layout.offer.kind,
                KERF,
                head_trim,
                (layout,),
                Fraction(0),
                Fraction(0),
                0,
                Fraction(0),
                Fraction(0),
                Status.OPTIMAL,
                Stop.PROVED,
            ),
        ),
    )


def adds_up(line) -> bool:  # type: ignore[no-untyped-def]
    parts = line.parts + line.kerf + line.trim + line.kept_drop + line.waste_drop + line.scrap
    return bool(line.input == parts)


def test_two_4ft6_from_a_10ft_board_leave_a_foot(stick) -> None:  # type: ignore[no-untyped-def]
    # US Army course EN0069A, pp. 95-96: two 4 ft 6 in from one 10-ft board, 12 in left (no kerf
    # there; here two kerfs come off the 12 in).
    board = stick(2, 120)
    parts = tuple(
        Placed("A", "floor", "J", board.material, 54 * INCH, None, x) for x in (0, 54 * INCH + KERF)
    )
    drop = Drop(108 * INCH + 2 * KERF, 0, 12 * INCH - 2 * KERF, None, False)
    (line,) = yields(plan_of(Layout("1", "P", 4, board, Source.BUY, parts, (drop,))), Rules())
    assert adds_up(line)
    assert (line.input, line.parts) == (40, 36)
    assert line.kerf == Fraction(4 * 2 * KERF, FOOT)
    assert line.waste_drop + line.kerf == 4
    assert line.yield_percent == Decimal(90)
    assert line.waste_percent == Decimal(10)
    assert line.cost_waste == line.cost_in / 10


def test_a_kept_drop_is_no_input_of_the_yield_and_head_trim_is_its_own(stick) -> None:  # type: ignore[no-untyped-def]
    board = stick(2, 96)
    part = Placed("A", "floor", "J", board.material, 47 * INCH, None, 0)
    drop = Drop(47 * INCH + KERF, 0, 48 * INCH - KERF, None, True)
    (line,) = yields(
        plan_of(Layout("1", "P", 1, board, Source.BUY, (part,), (drop,)), INCH), Rules()
    )
    assert adds_up(line)
    assert line.trim == Fraction(1, 12)
    assert line.kept_drop == Fraction(48 * INCH - KERF, FOOT)
    assert line.yield_percent == round(Decimal(100) * Decimal(47) / Decimal("48.125"), 4)


def test_edge_trim_counts_for_sheets_but_not_for_ceiling_rows(sheet) -> None:  # type: ignore[no-untyped-def]
    board = sheet(2, 96, 48)
    rules = Rules(sheets=SheetRules(edge_trim=INCH))
    part = Placed("A", "deck", "D", board.material, 90 * INCH, 46 * INCH, 0)
    drop = Drop(90 * INCH + KERF, 0, 4 * INCH - KERF, 46 * INCH, False)
    layout = Layout("1", "P", 1, board, Source.BUY, (part,), (drop,))
    (line,) = yields(plan_of(layout), rules)
    assert adds_up(line)
    assert line.trim == Fraction(96 * 48 - 94 * 46, 144)
    assert line.kerf == Fraction(46, 8 * 144)
    row = replace(part, length=96 * INCH, width=48 * INCH, full_span=True)
    (line,) = yields(plan_of(replace(layout, parts=(row,), drops=())), rules)
    assert (line.trim, line.kerf, line.yield_percent) == (0, 0, 100)


def test_nothing_cut_has_no_waste(stick) -> None:  # type: ignore[no-untyped-def]
    board = stick(2, 96)
    plan = plan_of(Layout("1", "P", 1, board, Source.BUY, (), ()))
    empty = Plan("in", (replace(plan.materials[0], layouts=()),))
    (line,) = yields(empty, Rules())
    assert (line.input, line.yield_percent, line.waste_percent) == (0, 0, 0)
