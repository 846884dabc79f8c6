"""Small orders against an exact search that shares nothing with the solver (`shop.least_cost`)."""

from __future__ import annotations

import random

import pytest

from cutopt.materials import FirstCut, SheetRules
from cutopt.solve.search import Watch
from cutopt.solve.sheets import solve_sheets
from tests.solve.sheets.shop import Asked, Had, check, cost_of, least_cost, make


def _case(rng: random.Random) -> tuple[list[Asked], list[Had], SheetRules]:
    rules = SheetRules(
        kerf=rng.choice([0, 1, 2]),
        edge_trim=rng.choice([0, 0, 1]),
        stages=rng.choice([2, 3]),
        first_cut=rng.choice(list(FirstCut)),
        keep_drop=(8, 8),
    )
    sheets: list[Had] = []
    for _ in range(rng.choice([1, 1, 2, 3])):
        length, width = rng.randint(14, 30), rng.randint(10, 20)
        price = length * width // 10 + rng.randint(0, 8)
        sheets.append((length, width, price, rng.choice([None, None, 1, 2])))
    # The first sheet holds every part and can be had at will: there is always a plan.
    sheets[0] = (*sheets[0][:3], None)
    longest, widest = sheets[0][0], sheets[0][1]
    parts: list[Asked] = []
    left = rng.choice([4, 5, 6])
    while left:
        qty = rng.randint(1, min(3, left))
        left -= qty
        a = rng.randint(3, longest - 2 * rules.edge_trim)
        b = rng.randint(3, widest - 2 * rules.edge_trim)
        if rng.random() < 0.6:
            a, b = max(3, a // 2), max(3, b // 2)
        parts.append((a, b, qty, rng.random() < 0.3))
    return parts, sheets, rules


@pytest.mark.parametrize("seed", range(10))
def test_plans_cost_the_least_and_no_bound_is_above_it(seed: int) -> None:
    rng = random.Random(seed)
    for _ in range(6):
        parts, sheets, rules = _case(rng)
        group = make(parts, sheets, rules)
        outcome = solve_sheets(group, Watch(20), 1)
        check(group, outcome)
        least = least_cost(parts, sheets, rules)
        assert least is not None
        assert not outcome.unplanned
        assert outcome.bound <= least, (parts, sheets, rules)
        assert cost_of(group, outcome) == least, (parts, sheets, rules)
