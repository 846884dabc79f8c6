"""Small orders under the trade's rules, planned and checked from the cut list to the papers."""

from __future__ import annotations

import random
from collections.abc import Sequence
from datetime import date
from decimal import Decimal

from cutopt.cutlist import Day, Part
from cutopt.materials import Edge, Edges, FirstCut, Kind, Offer, Per, Rules, SheetRules
from cutopt.plan import MaterialPlan, Plan, Problem
from cutopt.plan.check import check_plan
from cutopt.plan.document import plan_document
from cutopt.records import Place
from cutopt.solve.outcome import material_plans
from cutopt.solve.search import Watch
from cutopt.solve.sheets import solve_sheets
from tests.solve.sheets.rules_exact import Board

__all__ = ["Row", "day_of", "plan_of", "random_order"]

#: length, width, qty, turn, edge
Row = tuple[int, int, int, bool, Edge]
NAME = "DECK"


def day_of(rows: Sequence[Row], boards: Sequence[Board], rules: SheetRules) -> Day:
    """A day of one material."""
    return Day(
        name="small",
        plant="Small",
        date=date(2026, 3, 2),
        unit="mm",
        rules=Rules(sheets=rules),
        offers=tuple(
            Offer(
                n + 2,
                NAME,
                Kind.SHEET,
                None,
                b.length,
                b.width,
                Decimal(b.price),
                Per.EACH,
                0,
                b.available,
                edges=b.edges,
            )
            for n, b in enumerate(boards)
        ),
        parts=tuple(
            Part(
                Place("cuts/a.csv", n + 2), "S1", "Deck", f"P{n}", NAME, a, b, qty, turn, edge=edge
            )
            for n, (a, b, qty, turn, edge) in enumerate(rows)
        ),
    )


def plan_of(day: Day, seconds: float = 20, seed: int = 1) -> MaterialPlan:
    """The plan of the day's material, once its papers have passed the checker."""
    problem = Problem((day,))
    (group,) = problem.groups
    plans = material_plans(group, solve_sheets(group, Watch(seconds), seed))
    told = check_plan([day], plan_document(Plan(day.unit, plans)))
    assert told == []
    (plan,) = plans
    return plan


def random_order(
    rng: random.Random, edged: float, counted: bool, narrow: bool
) -> tuple[list[Row], list[Board], SheetRules]:
    """Four or five pieces; the first sheet holds each of them and can be had at will."""
    rules = SheetRules(
        kerf=rng.choice([0, 1, 2]),
        stages=rng.choice([2, 3]),
        first_cut=rng.choice(list(FirstCut)),
        keep_drop=(8, 8),
        least_rip=rng.choice([4, 6]) if narrow else 0,
        max_parts=rng.choice([1, 2, 3]) if counted else 0,
    )
    boards: list[Board] = []
    for _ in range(rng.choice([1, 1, 2, 3])):
        length, width = rng.randint(14, 30), rng.randint(10, 20)
        price = length * width // 10 + rng.randint(0, 8)
        edges = rng.choice(list(Edges)) if edged else Edges.BOTH
        boards.append(Board(length, width, price, rng.choice([None, None, 1, 2]), edges))
    first = boards[0]
    boards[0] = Board(first.length, first.width, first.price)
    rows: list[Row] = []
    left = rng.choice([4, 5])
    while left:
        qty = rng.randint(1, min(3, left))
        left -= qty
        a, b = rng.randint(3, first.length), rng.randint(3, first.width)
        if rng.random() < 0.6:
            a, b = max(3, a // 2), max(3, b // 2)
        edge = Edge.NONE
        if rng.random() < edged:
            edge = rng.choice([Edge.ONE, Edge.ONE, Edge.TONGUE, Edge.GROOVE, Edge.BOTH])
            if edge is Edge.BOTH:
                b = first.width
        b = max(b, rules.least_rip)
        rows.append((a, b, qty, not edge and rng.random() < 0.3, edge))
    return rows, boards, rules
