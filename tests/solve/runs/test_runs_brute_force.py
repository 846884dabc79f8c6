"""Columns of runs, pairs and larger groups against every way to make them, one by one.

The enumeration is written from the words of the file format: joints only at first + k × step,
start and end are no joints, no piece of several shorter than the least, none longer than the
stock, every joint a clearance away from every joint of the mate.
"""

from __future__ import annotations

import itertools
import random
from collections.abc import Iterator

import numpy as np
import pytest

from cutopt.solve.runs import Pricer, Run, Unit, equal_pieces, fewest_joints, largest_clearance

CASES = 2_000


def pieces_between(joints: tuple[int, ...], run: Run) -> list[int]:
    return [b - a for a, b in itertools.pairwise((0, *joints, run.length))]


def ways(run: Run) -> list[tuple[int, ...]]:
    places = [x for x in range(1, run.length) if x >= run.first and (x - run.first) % run.step == 0]
    found = []
    for n in range(len(places) + 1):
        for joints in itertools.combinations(places, n):
            pieces = pieces_between(joints, run)
            if max(pieces) <= run.longest and (n == 0 or min(pieces) >= run.least):
                found.append(joints)
    return found


def together(unit: Unit) -> Iterator[tuple[tuple[int, ...], ...]]:
    for joints in itertools.product(*(ways(run) for run in unit.runs)):
        if all(
            abs(x - y) >= gap
            for i, j, gap in unit.clear
            for x, y in itertools.product(joints[i], joints[j])
        ):
            yield joints


def value(pricer: Pricer, unit: Unit, joints: tuple[tuple[int, ...], ...], values, price):  # type: ignore[no-untyped-def]
    total = 0
    for run, at in zip(unit.runs, joints, strict=True):
        for piece in pieces_between(at, run):
            total += values[pricer.index[run.cut(piece)]].item()
        total += price * len(at)
    return total


def draw(rng: random.Random) -> Unit:
    n = rng.choices((1, 2, 3, 4), (30, 50, 15, 5))[0]
    longest_run, steps = {1: (26, 2), 2: (24, 2), 3: (16, 3), 4: (14, 4)}[n]
    runs = tuple(
        Run(
            length=rng.randint(3, longest_run),
            first=rng.randint(0, 9),
            step=rng.randint(steps, 7),
            least=rng.choice((0, 0, 2, 4)),
            longest=rng.randint(5, 14),
        )
        for _ in range(n)
    )
    if n > 1 and rng.random() < 0.5:
        runs = (runs[0],) * n
    edges = [(i, j) for i in range(n) for j in range(i + 1, n)]
    kept = [e for e in edges if n == 2 or rng.random() < 0.7]
    return Unit(runs, tuple((i, j, rng.randint(1, 8)) for i, j in kept))


@pytest.mark.parametrize("part", range(4))
def test_the_least_column_is_that_of_all_ways(part: int) -> None:
    rng = random.Random(100 + part)
    impossible = pairs = 0
    for _ in range(CASES // 4):
        unit = draw(rng)
        price = rng.randint(0, 5)
        pricer = Pricer([unit])
        values = np.array([rng.randint(0, 30) for _ in pricer.cuts], np.int64)
        every = list(together(unit))
        pairs += len(unit.runs) == 2
        if not every:
            impossible += 1
            for kind in (values, values.astype(float)):
                priced = pricer.price(kind, price)
                assert not priced.possible(0)
                assert priced.column(0) is None
                assert priced.near(0, 3) == []
            continue
        least = min(value(pricer, unit, j, values, price) for j in every)
        exact = pricer.price(values, price)
        column = exact.column(0)
        assert column is not None
        assert column.joints in every
        assert exact.bound.dtype == np.int64
        assert exact.bound[0] == least == value(pricer, unit, column.joints, values, price)
        assert column.value(values, price) == least
        floats = values + np.array([rng.random() for _ in pricer.cuts])
        found = pricer.price(floats, price / 2)
        column = found.column(0)
        assert column is not None
        assert column.joints in every
        best = min(value(pricer, unit, j, floats, price / 2) for j in every)
        assert found.bound[0] == pytest.approx(best, abs=1e-9)
        assert value(pricer, unit, column.joints, floats, price / 2) == pytest.approx(best)
    assert impossible > 50
    assert pairs > 150


def test_pieces_that_can_occur_are_those_of_all_ways() -> None:
    rng = random.Random(7)
    for _ in range(400):
        run = draw(rng).runs[0]
        every = {p for j in ways(run) for p in pieces_between(j, run)}
        assert run.piece_lengths == tuple(sorted(every))


def test_negative_values_are_priced_too() -> None:
    rng = random.Random(8)
    for _ in range(200):
        unit = draw(rng)
        every = list(together(unit))
        if not every:
            continue
        pricer = Pricer([unit])
        values = np.array([rng.randint(-20, 10) for _ in pricer.cuts], np.int64)
        least = min(value(pricer, unit, j, values, -1) for j in every)
        assert pricer.price(values, -1).bound[0] == least


def test_near_columns_differ_and_rise_from_the_least() -> None:
    rng = random.Random(9)
    several = 0
    for _ in range(300):
        unit = draw(rng)
        every = list(together(unit))
        if not every:
            continue
        pricer = Pricer([unit])
        values = np.array([rng.randint(0, 30) for _ in pricer.cuts], np.int64)
        near = pricer.price(values, 1).near(0, 4)
        worth = [c.value(values, 1) for c in near]
        assert worth == sorted(worth)
        assert worth[0] == min(value(pricer, unit, j, values, 1) for j in every)
        assert all(c.joints in every for c in near)
        assert len({c.joints for c in near}) == len(near)
        several += len(near) > 1
    assert several > 60


def test_the_largest_clearance_is_that_of_all_ways() -> None:
    rng = random.Random(10)
    lowered = 0
    for _ in range(150):
        unit = draw(rng)
        if len(unit.runs) < 2 or not unit.clear or not all(ways(r) for r in unit.runs):
            continue
        most = max(gap for _, _, gap in unit.clear)
        works = [
            c
            for c in range(most + 1)
            if any(
                True
                for _ in together(
                    Unit(unit.runs, tuple((i, j, min(g, c)) for i, j, g in unit.clear))
                )
            )
        ]
        assert largest_clearance(unit) == works[-1]
        lowered += works[-1] < most
    assert lowered > 20


def test_plain_columns_have_the_fewest_joints() -> None:
    rng = random.Random(11)
    for _ in range(200):
        unit = draw(rng)
        every = list(together(unit))
        pricer = Pricer([unit])
        (fewest,), (equal,) = fewest_joints(pricer) or [None], equal_pieces(pricer) or [None]
        if not every:
            assert fewest is None
            assert equal is None
            continue
        least = min(sum(map(len, j)) for j in every)
        assert fewest is not None
        assert equal is not None
        assert fewest.joint_count == equal.joint_count == least
        assert fewest.joints in every
        assert equal.joints in every


def test_units_priced_side_by_side_have_the_values_that_they_have_alone() -> None:
    rng = random.Random(12)
    for _ in range(12):
        step, gap, least, longest = rng.choice((3, 4)), rng.randint(1, 7), 2, rng.randint(9, 14)
        apart = rng.randint(0, 3)
        units = []
        for _ in range(12):
            first = rng.randint(1, 5)
            runs = (
                Run(rng.randint(20, 60), first + apart, step, least, longest),
                Run(rng.randint(20, 60), first, rng.choice((step, 5)), least, longest),
            )
            units.append(Unit(runs, ((0, 1, gap),)) if rng.random() < 0.8 else Unit(runs[:1]))
        pricer = Pricer(units)
        assert len(pricer.pair_tables) < sum(len(u.runs) == 2 for u in units)
        values = np.array([rng.randint(5, 30) for _ in pricer.cuts], np.int64)
        priced = pricer.price(values, 2)
        for u, unit in enumerate(units):
            alone = Pricer([unit])
            same = np.array([values[pricer.index[c]] for c in alone.cuts], np.int64)
            assert alone.price(same, 2).bound[0] == priced.bound[u]
            column = priced.column(u)
            if column is not None:
                assert unit.allows(column.joints)
                assert column.value(values, 2) == priced.bound[u]
