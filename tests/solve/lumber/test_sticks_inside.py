"""The parts of the stick solver by themselves, against what is counted out in full."""

from __future__ import annotations

import itertools
import random
from fractions import Fraction

import numpy as np
import pytest

from cutopt.measure import INCH
from cutopt.solve.covering import branch, step_of
from cutopt.solve.demand import Piece, items_of
from cutopt.solve.lumber.bound import proved
from cutopt.solve.lumber.covering import covering_of
from cutopt.solve.lumber.knapsack import Knapsack
from cutopt.solve.lumber.model import Model, Pattern, model_of
from cutopt.solve.lumber.pricing import PatternPricer
from cutopt.solve.lumber.runs import RunPricer
from cutopt.solve.lumber.tail import list_patterns
from cutopt.solve.runs import Pricer
from cutopt.solve.search import Watch
from tests.solve.lumber.groups import day_of, group_of, offer, part, rules


def _fillings(weight: list[int], copies: list[int], room: int, most: int | None) -> list[list[int]]:
    """Every content of a room."""
    ranges = [range(min(c, room // w) + 1) for w, c in zip(weight, copies, strict=True)]
    return [
        list(q)
        for q in itertools.product(*ranges)
        if sum(a * b for a, b in zip(q, weight, strict=True)) <= room
        and (most is None or sum(q) <= most)
    ]


@pytest.mark.parametrize("seed", range(30))
@pytest.mark.parametrize("kind", [np.int64, np.float64])
def test_knapsack_finds_the_best_filling_of_every_room(seed: int, kind: type) -> None:
    rng = random.Random(seed)
    n, room = rng.randint(1, 4), rng.randint(5, 30)
    weight = [rng.randint(2, 12) for _ in range(n)]
    copies = [rng.randint(1, 4) for _ in range(n)]
    joined = [rng.random() < 0.3 for _ in range(n)]
    copies = [1000 if j else c for j, c in zip(joined, copies, strict=True)]
    worth = np.array([rng.randint(0, 20) for _ in range(n)], kind)
    most = rng.choice([None, 1, 2, 3])
    sack = Knapsack(np.array(weight), room, most, np.array(joined))
    filled = sack.fill(worth, np.array(copies))
    for place in range(room + 1):
        best = max(
            sum(q * float(p) for q, p in zip(f, worth, strict=True))
            for f in _fillings(weight, copies, place, most)
        )
        assert filled.value[place] == best
        pieces = filled.pieces(place)
        assert sum(q * float(worth[i]) for i, q in pieces.items()) == best
        assert sum(q * weight[i] for i, q in pieces.items()) <= place
        assert all(q <= copies[i] for i, q in pieces.items())
        assert most is None or sum(pieces.values()) <= most


def _random_model(rng: random.Random) -> tuple[Model, RunPricer]:
    parts = [
        part(rng.randint(12, 60) * INCH, rng.randint(1, 4), mark=f"P{i}")
        for i in range(rng.randint(2, 4))
    ]
    offers = [
        offer(length * INCH, f"{length * rng.uniform(0.04, 0.06):.2f}", 0, rng.choice([None, 9]))
        for length in rng.sample([72, 96, 120], rng.randint(1, 3))
    ]
    day = day_of(
        parts, offers, rules(kerf=INCH // 8, drop_value=rng.choice(["0", "0.5"]), keep_drop=INCH)
    )
    group = group_of(day)
    items = items_of(Piece(p, p.length, None, p.qty, p.materials) for p in group.parts)
    model = model_of(group, items)
    return model, RunPricer(group, Pricer([]), model)


@pytest.mark.parametrize("seed", range(25))
def test_no_pattern_costs_less_than_its_proved_worth_and_every_near_one_is_listed(
    seed: int,
) -> None:
    """Whatever worths are proposed, right or far off."""
    rng = random.Random(seed)
    model, runs = _random_model(rng)
    pricer = PatternPricer(model)
    worth = np.array([k.length / INCH * rng.uniform(0.02, 0.09) for k in model.kinds])
    worths = proved(pricer, runs, worth)
    slack = int(worths.scale * Fraction(rng.randint(0, 60), 100))
    listed = {(p.stock, p.cuts) for p in list_patterns(pricer, worths, slack, 100_000)}
    grid = model.grids[0]
    weight = grid.weight.tolist()
    for k, stock in enumerate(model.stocks):
        for filling in _fillings(weight, model.need.tolist(), stock.room, None)[1:]:
            pattern = model.pattern(k, enumerate(filling))
            beyond = (
                pattern.cost * worths.scale
                + worths.gain[k]
                - sum(int(worths.piece[i]) * q for i, q in pattern.cuts)
            )
            assert beyond >= 0
            if beyond > slack or (k, pattern.cuts) in listed:
                continue
            # Left out only where another stick, or the same with a piece more, serves as well.
            assert _served(model, pattern, listed)


def _served(model: Model, pattern: Pattern, listed: set[tuple[int, object]]) -> bool:
    held = dict(pattern.cuts)
    return any(
        model.pattern(k, cuts).cost <= pattern.cost
        and all(dict(cuts).get(i, 0) >= q for i, q in held.items())  # type: ignore[call-overload]
        for k, cuts in listed  # type: ignore[misc]
    )


@pytest.mark.parametrize("seed", range(25))
def test_branches_end_at_the_least_cost(seed: int) -> None:
    """Against every way to cover the need with whole patterns, counted out by falling need."""
    rng = random.Random(100 + seed)
    model, runs = _random_model(rng)
    model = model.wanting(np.minimum(model.need, 2))
    columns = [
        model.pattern(k, enumerate(f))
        for k, stock in enumerate(model.stocks)
        for f in _fillings(model.grids[0].weight.tolist(), model.need.tolist(), stock.room, None)[
            1:
        ]
    ]
    memo: dict[tuple[int, ...], Fraction] = {}

    def least(left: tuple[int, ...]) -> Fraction:
        if not any(left):
            return Fraction(0)
        if left not in memo:
            first = next(i for i, n in enumerate(left) if n)
            memo[left] = min(
                c.cost
                + least(tuple(max(0, n - dict(c.cuts).get(i, 0)) for i, n in enumerate(left)))
                for c in columns
                if dict(c.cuts).get(first)
            )
        return memo[left]

    best = least(tuple(model.need.tolist()))
    covering = covering_of(model, columns, runs.copies)
    step = step_of(covering.columns)
    ended = branch(covering, Fraction(1000), step, 20_000, Watch(60))
    assert ended.complete
    assert ended.bound == best
    nothing = branch(covering, best, step, 20_000, Watch(60))
    assert nothing.complete
    assert nothing.used is None
    assert nothing.bound == best
