"""Counts of sheets: the cheapest that keep rows, against all counts there are."""

from __future__ import annotations

import random
from collections.abc import Sequence
from fractions import Fraction
from itertools import product

import pytest

from cutopt.solve.search import Watch
from cutopt.solve.sheets.tally import Counts, Tally

Row = tuple[list[int], int]


def _cost(costs: Sequence[Fraction], counts: Sequence[int]) -> Fraction:
    return sum((n * c for n, c in zip(counts, costs, strict=True)), Fraction(0))


def _keeps(rows: Sequence[Row], counts: Sequence[int]) -> bool:
    return all(sum(n * h for n, h in zip(counts, held, strict=True)) >= w for held, w in rows)


def _random(rng: random.Random) -> tuple[list[Fraction], list[int], list[Row]]:
    sizes = rng.randint(1, 5)
    costs = [Fraction(rng.randint(1, 60), rng.choice((1, 1, 4, 100))) for _ in range(sizes)]
    most = [rng.choice((1, 1, 2, 4)) for _ in range(sizes)]
    rows = []
    for _ in range(rng.randint(1, 3)):
        held = [rng.randint(0, 1) * rng.randint(1, 10**9) for _ in range(sizes)]
        full = sum(n * h for n, h in zip(most, held, strict=True))
        rows.append((held, rng.randint(0, full + full // 8)))
    return costs, most, rows


@pytest.mark.parametrize("seed", range(120))
def test_counts_come_in_the_order_of_their_cost(seed: int) -> None:
    rng = random.Random(seed)
    costs, most, rows = _random(rng)
    below = sum((n * c for n, c in zip(most, costs, strict=True)), Fraction(1, 100))
    tally = Tally(costs, most, below, Fraction(1, 100))
    tally.ask(*rows[0])
    coming = rows[1:]
    barred: list[Counts] = []
    left = [c for c in product(*(range(n + 1) for n in most)) if _keeps(rows, c)]
    while True:
        counts, bound, settled = tally.next(100.0, Watch(60))
        assert settled
        least = min((_cost(costs, c) for c in left), default=below)
        assert bound <= least
        if counts is None:
            assert not left
            assert bound >= below
            return
        broken = [row for row in coming if not _keeps([row], counts)]
        if broken:
            tally.ask(*broken[0])
            continue
        # Nothing that the rows and refutations leave is cheaper, and the bound says as much.
        assert counts in left
        assert bound == least == _cost(costs, counts)
        tally.bar(counts)
        barred.append(counts)
        left = [c for c in left if any(a > b for a, b in zip(c, counts, strict=True))]
        if len(barred) > 12:
            return


def test_too_much_work_leaves_a_bound_that_holds() -> None:
    rng = random.Random(5)
    costs = [Fraction(rng.randint(300, 3000), 100) for _ in range(30)]
    held = [int(c * 1000) + rng.randint(-300, 300) for c in costs]
    asked = sum(held) * 2 // 5
    tally = Tally(costs, [1] * 30, sum(costs), Fraction(1, 100))
    tally.ask(held, asked)
    counts, bound, settled = tally.next(0.002, Watch(60))
    assert counts is None
    assert not settled
    counts, later, settled = tally.next(50.0, Watch(60))
    assert settled
    assert counts is not None
    assert bound <= later == _cost(costs, counts)
    assert _keeps([(held, asked)], counts)
