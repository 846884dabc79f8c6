"""What to buy for a plan."""

from __future__ import annotations

from fractions import Fraction

from cutopt.measure import INCH
from cutopt.order import stock_order
from cutopt.plan import Layout, MaterialPlan, Placed, Plan, Source, Status, Stop


def material(offer, layouts):  # type: ignore[no-untyped-def]
    return MaterialPlan(
        offer.material,
        offer.kind,
        INCH // 8,
        0,
        tuple(layouts),
        Fraction(0),
        Fraction(0),
        0,
        Fraction(0),
        Fraction(0),
        Status.BEST_FOUND,
        Stop.WORK,
    )


def layout(name, offer, count, source):  # type: ignore[no-untyped-def]
    part = Placed("A", "wall", "S", offer.material, 40 * INCH, offer.width, 0)
    return Layout(name, "P1", count, offer, source, (part,), ())


def test_only_what_is_bought_is_ordered_by_row_and_in_whole_bundles(stick, sheet) -> None:  # type: ignore[no-untyped-def]
    long = stick(2, 192, bundle=208)
    short = stick(3, 96)
    board = sheet(4, 96, 48)
    plan = Plan(
        "in",
        (
            material(
                long,
                [
                    layout("a", long, 200, Source.BUY),
                    layout("b", long, 10, Source.BUY),
                    layout("c", short, 7, Source.ON_HAND),
                ],
            ),
            material(board, [layout("d", board, 3, Source.BUY)]),
        ),
    )
    first, second = stock_order(plan)
    assert (first.offer, first.pieces, first.bundles) == (long, 210, 2)
    # 2x4x16 ft is 2*4*16/12 = 10 2/3 board feet (US Navy basic engineering course).
    assert first.board_feet == 210 * Fraction(32, 3)
    assert first.square_feet is None
    assert first.extension == 210 * Fraction(32, 3) * 600 / 1000
    assert (second.pieces, second.bundles, second.square_feet) == (3, None, 96)
    assert second.board_feet is None
    assert second.extension == Fraction(96 * 750, 1000)
