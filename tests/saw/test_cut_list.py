"""The cut list as the saw takes it."""

from __future__ import annotations

from fractions import Fraction

from cutopt.measure import INCH
from cutopt.plan import Layout, MaterialPlan, Placed, Plan, Source, Status, Stop
from cutopt.saw import cut_list


def test_a_line_per_part_with_its_running_measure_from_the_squared_head(sheet) -> None:  # type: ignore[no-untyped-def]
    board = sheet(2, 96, 48)
    second = Placed("A", "deck", "D2", board.material, 20 * INCH, 30 * INCH, 41 * INCH, 0, True)
    first = Placed("A", "deck", "D1", board.material, 40 * INCH, 20 * INCH, 0)
    layout = Layout("OSB-1", "P1", 2, board, Source.BUY, (second, first), ())
    material = MaterialPlan(
        board.material,
        board.kind,
        0,
        0,
        (layout,),
        Fraction(0),
        Fraction(0),
        0,
        Fraction(0),
        Fraction(0),
        Status.OPTIMAL,
        Stop.PROVED,
    )
    lines = cut_list(Plan("in", (material,)))
    assert [(line.part.mark, line.stop // INCH) for line in lines] == [("D1", 40), ("D2", 71)]
    assert all(line.layout is layout for line in lines)


def test_the_books_of_a_pattern_are_counted_over_its_layouts(sheet) -> None:  # type: ignore[no-untyped-def]
    # Two layouts of one pattern, 5 and 2 sheets: one set-up, in books of 3 two and a single one.
    board = sheet(2, 96, 48)
    part = Placed("A", "deck", "D1", board.material, 40 * INCH, 20 * INCH, 0)
    layouts = tuple(Layout(f"OSB-{n}", "P1", n, board, Source.BUY, (part,), ()) for n in (5, 2))
    nothing = Fraction(0)
    material = MaterialPlan(
        *(board.material, board.kind, 0, 0, layouts, nothing, nothing, 0, nothing, nothing),
        *(Status.OPTIMAL, Stop.PROVED),
        stack=3,
    )
    assert [line.books for line in cut_list(Plan("in", (material,)))] == ["2x3+1x1"] * 2
