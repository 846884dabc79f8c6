"""From patterns over items to layouts that name sections and marks."""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction

from cutopt.cutlist import Part
from cutopt.materials import Kind, Offer, Per, Rules
from cutopt.measure import INCH
from cutopt.plan import Group, Source, Status, Stop
from cutopt.records import Place
from cutopt.solve.demand import Piece, items_of
from cutopt.solve.outcome import Outcome, Spot, Use, material_plans


def part(section: str, mark: str, inches: int, qty: int, **more: object) -> Part:
    return Part(
        Place("cuts/a.csv", 2), section, "wall", mark, "2x4", inches * INCH, None, qty, **more
    )


def offer(row: int, inches: int, on_hand: int = 0, material: str = "2x4") -> Offer:
    return Offer(
        row, material, Kind.LUMBER, (2, 4), inches * INCH, None, Decimal(3), Per.EACH, on_hand
    )


def planned(parts: list[Part], uses: list[Use], bound: Fraction, offers: list[Offer]):  # type: ignore[no-untyped-def]
    group = Group(("2x4",), Kind.LUMBER, tuple(parts), tuple(offers), Rules())
    items = items_of(Piece(p, p.length, None, p.qty, p.materials) for p in parts)
    outcome = Outcome(items, tuple(uses), bound, Stop.WORK, 0.5)
    return material_plans(group, outcome)


def test_pieces_go_first_to_whom_the_line_wants_first_and_to_everyone_exactly() -> None:
    stock = offer(2, 96)
    parts = [part("B", "S", 40, 3, need=2), part("A", "S", 40, 4, need=1), part("C", "P", 40, 1)]
    use = Use(stock, (Spot(0, 0), Spot(0, 40 * INCH + INCH // 8)), (), 4)
    (plan,) = planned(parts, [use], Fraction(12), [stock])
    assert sum(lay.count for lay in plan.layouts) == 4
    made = [(p.section, lay.count) for lay in plan.layouts for p in lay.parts]
    totals = {s: sum(n for t, n in made if t == s) for s in "ABC"}
    assert totals == {"A": 4, "B": 3, "C": 1}
    assert plan.layouts[0].count == 2
    assert {p.section for p in plan.layouts[0].parts} == {"A"}
    assert {lay.pattern for lay in plan.layouts} == {"2x4-P1"}
    assert len({lay.id for lay in plan.layouts}) == len(plan.layouts)


def test_the_yard_is_emptied_before_anything_is_bought() -> None:
    stock = offer(2, 96, on_hand=3)
    parts = [part("A", "S", 90, 5)]
    (plan,) = planned(parts, [Use(stock, (Spot(0, 0),), (), 5)], Fraction(15), [stock])
    assert [(lay.source, lay.count) for lay in plan.layouts] == [
        (Source.ON_HAND, 3),
        (Source.BUY, 2),
    ]


def test_status_says_optimal_only_where_the_bound_is_met() -> None:
    stock = offer(2, 96)
    parts = [part("A", "S", 90, 5)]
    use = Use(stock, (Spot(0, 0),), (), 5)
    (met,) = planned(parts, [use], Fraction(15), [stock])
    assert (met.status, met.stop, met.gap) == (Status.OPTIMAL, Stop.PROVED, 0)
    (open_,) = planned(parts, [use], Fraction(12), [stock])
    assert (open_.status, open_.stop) == (Status.BEST_FOUND, Stop.WORK)
    assert open_.bound == 12
    assert open_.gap == Fraction(3, 15)


def test_a_search_that_calls_itself_proved_is_not_where_the_money_says_otherwise() -> None:
    stock = offer(2, 96)
    parts = [part("A", "S", 90, 5)]
    group = Group(("2x4",), Kind.LUMBER, tuple(parts), (stock,), Rules())
    items = items_of(Piece(p, p.length, None, p.qty, p.materials) for p in parts)
    use = Use(stock, (Spot(0, 0),), (), 5)
    (plan,) = material_plans(group, Outcome(items, (use,), Fraction(14), Stop.PROVED, 0.1))
    assert (plan.status, plan.stop) == (Status.BEST_FOUND, Stop.WORK)


def test_a_bound_over_alternates_is_shared_out_and_keeps_its_sum() -> None:
    a, b = offer(2, 96), offer(3, 96, material="2x4-1")
    pieces = [part("A", "S", 90, 2, alt=("2x4-1",)), part("A", "T", 80, 1)]
    group = Group(("2x4", "2x4-1"), Kind.LUMBER, tuple(pieces), (a, b), Rules())
    items = items_of(Piece(p, p.length, None, p.qty, p.materials) for p in pieces)
    uses = (
        Use(a, (Spot(0, 0),), (), 1),
        Use(b, (Spot(0, 0),), (), 1),
        Use(a, (Spot(1, 0),), (), 1),
    )
    first, second = material_plans(group, Outcome(items, uses, Fraction(8), Stop.GAP, 0.1))
    assert first.bound + second.bound == 8
    assert first.joint_with == ("2x4-1",)
    assert second.layouts[0].parts[0].asked == "2x4"


def test_patterns_are_the_places_not_the_marks() -> None:
    stock, rack = offer(2, 96), offer(9, 96, on_hand=1)
    parts = [part("A", "S", 40, 2), part("B", "T", 40, 2)]
    spots = (Spot(0, 0), Spot(0, 40 * INCH + INCH // 8))
    uses = [Use(stock, spots, (), 1), Use(rack, spots, (), 1)]
    (plan,) = planned(parts, uses, Fraction(6), [stock, rack])
    assert len(plan.layouts) == 2
    assert len({lay.pattern for lay in plan.layouts}) == 1
