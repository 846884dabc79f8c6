"""Materials that are scored and snapped (kerf 0) beside sawn ones, in one day and in one group."""

from __future__ import annotations

import random
from dataclasses import replace
from datetime import date
from decimal import Decimal
from fractions import Fraction

import pytest

from cutopt.cutlist import Day, Part
from cutopt.materials import Kind, Offer, Per, Rules, SheetRules
from cutopt.plan import MaterialPlan, Plan, Problem
from cutopt.plan.check import check_plan
from cutopt.plan.document import plan_document
from cutopt.records import Place
from cutopt.solve.outcome import material_plans
from cutopt.solve.search import Watch
from cutopt.solve.sheets import solve_sheets
from tests.solve.sheets.rules_exact import Board, holds

SAWN, SCORED = "OSB", "GYP"
#: mark, material, length, width, qty, alternates
Row = tuple[str, str, int, int, int, tuple[str, ...]]


def _day(rows: list[Row], sizes: dict[str, Board], **both: object) -> Day:
    sheets = SheetRules(kerf=2, **both)  # type: ignore[arg-type]
    offers = tuple(
        Offer(n + 2, name, Kind.SHEET, None, b.length, b.width, Decimal(b.price), Per.EACH)
        for n, (name, b) in enumerate(sizes.items())
    )
    parts = tuple(
        Part(Place("cuts/a.csv", n + 2), "S1", "Wall", mark, name, a, b, qty, alt=alt)
        for n, (mark, name, a, b, qty, alt) in enumerate(rows)
    )
    rules = Rules(sheets=sheets, sheets_of={SCORED: replace(sheets, kerf=0)})
    return Day("both", "Works", date(2026, 3, 2), "mm", rules, offers, parts)


def _plans(day: Day) -> dict[str, MaterialPlan]:
    problem = Problem((day,))
    plans = [p for g in problem.groups for p in material_plans(g, solve_sheets(g, Watch(20), 1))]
    assert check_plan([day], plan_document(Plan("mm", tuple(plans)))) == []
    return {p.material: p for p in plans}


def test_equal_parts_fill_a_scored_sheet_and_not_a_sawn_one() -> None:
    rows: list[Row] = [(f"P-{m}", m, 24, 16, 12, ()) for m in (SAWN, SCORED)]
    plans = _plans(_day(rows, {m: Board(96, 48, 20) for m in (SAWN, SCORED)}))
    assert plans[SCORED].objective == plans[SCORED].bound == 20
    (full,) = plans[SCORED].layouts
    assert len(full.parts) == 12
    assert full.drops == ()
    # Three of 24 and two of 16 with 2 between them: six parts to a sheet.
    assert plans[SAWN].objective == plans[SAWN].bound == 40
    assert (plans[SCORED].kerf, plans[SAWN].kerf) == (0, 2)


def test_an_alternate_is_cut_by_its_own_kerf() -> None:
    # Both are one group. Four of 24 fill 96 where it is scored: one sheet, for 21 and not 2 x 20.
    sizes = {SAWN: Board(96, 48, 20), SCORED: Board(96, 48, 21)}
    rows: list[Row] = [("P", SAWN, 24, 48, 4, (SCORED,)), ("Q", SCORED, 96, 48, 1, ())]
    day = _day(rows, sizes)
    assert len(Problem((day,)).groups) == 1
    plans = _plans(day)
    assert plans[SCORED].objective == plans[SCORED].bound == 42
    assert SAWN not in plans
    # The other way round: what is asked scored and may be sawn is sawn where that is cheaper.
    rows = [("P", SCORED, 23, 48, 3, (SAWN,)), ("Q", SAWN, 96, 48, 1, ())]
    plans = _plans(_day(rows, sizes))
    assert SCORED not in plans
    assert plans[SAWN].objective == 40
    assert {p.asked for lay in plans[SAWN].layouts for p in lay.parts} == {SCORED, SAWN}


@pytest.mark.parametrize("seed", range(4))
def test_groups_of_both_cost_the_least(seed: int) -> None:
    """Against every way to part the pieces among sheets of both, each cut by its own kerf."""
    rng = random.Random(seed)
    for _ in range(4):
        sizes = {
            m: Board(rng.randint(14, 24), rng.randint(10, 16), rng.randint(15, 25))
            for m in (SAWN, SCORED)
        }
        length = min(b.length for b in sizes.values())
        width = min(b.width for b in sizes.values())
        rows: list[Row] = []
        for n in range(4):
            own = rng.choice((SAWN, SCORED))
            other = SCORED if own == SAWN else SAWN
            a, b = rng.randint(3, length), rng.randint(3, width)
            if rng.random() < 0.7:
                a, b = length // 2, width // 2
            rows.append((f"P{n}", own, a, b, 1, (other,) if n else ()))
        stages = rng.choice([2, 3])
        day = _day(rows, sizes, stages=stages)
        plans = _plans(day)
        found = sum((p.objective for p in plans.values()), Fraction(0))
        least = _least(rows, sizes, day.rules)
        assert sum((p.bound for p in plans.values()), Fraction(0)) <= least
        assert found == least, (rows, sizes)


def _least(rows: list[Row], sizes: dict[str, Board], rules: Rules) -> int:
    full = (1 << len(rows)) - 1
    price: dict[int, int] = {}
    for mask in range(1, full + 1):
        chosen = [rows[i] for i in range(len(rows)) if mask >> i & 1]
        for name, board in sizes.items():
            if all(name in (own, *alt) for _, own, _, _, _, alt in chosen) and holds(
                sorted((a, b, False, "") for _, _, a, b, _, _ in chosen),
                board,
                rules.for_sheets(name),
            ):
                price[mask] = min(board.price, price.get(mask, board.price))
    best = [0] + [10**9] * full
    for mask in range(1, full + 1):
        part = mask
        while part:
            if part in price:
                best[mask] = min(best[mask], price[part] + best[mask ^ part])
            part = (part - 1) & mask
    return best[full]
