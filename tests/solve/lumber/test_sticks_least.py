"""The shortest piece that may be left at the saw: nothing, or at least that."""

from __future__ import annotations

import itertools
import random
from collections import Counter

import numpy as np
import pytest

from cutopt.solve.lumber.bound import proved
from cutopt.solve.lumber.draft import greedy, tidy
from cutopt.solve.lumber.knapsack import Knapsack, Values
from cutopt.solve.lumber.model import Model
from cutopt.solve.lumber.pricing import PatternPricer
from cutopt.solve.lumber.runs import RunPricer
from cutopt.solve.lumber.tail import list_patterns
from cutopt.solve.runs import Pricer
from tests.solve.lumber.exact import assigned, enumerated
from tests.solve.lumber.least_left import compared, day_of_seed
from tests.solve.lumber.making import CELL, Planned, day, offer, part, rules, solved
from tests.solve.lumber.test_sticks_inside import _random_model


def drops(planned: Planned) -> list[int]:
    """What each stick leaves, in cells; 0 for nothing."""
    return [
        sum(d.length for d in lay.drops) // CELL
        for p in planned.plans
        for lay in p.layouts
        for _ in range(lay.count)
    ]


def test_a_dearer_stick_is_taken_where_the_cheap_one_leaves_too_little() -> None:
    # 90 of 96 leaves 5 behind the kerf.
    offers = (offer(2, 96, "4"), offer(3, 120, "5"))
    assert solved(day(offers, [part("P", 90, 1)], rules(kerf=1, left=5))).objective == 4
    planned = solved(day(offers, [part("P", 90, 1)], rules(kerf=1, left=6)))
    assert drops(planned) == [29]
    assert planned.objective == planned.bound == 5


@pytest.mark.parametrize(("length", "left"), [(96, 0), (95, 0), (94, 1)])
def test_what_the_blade_takes_is_nothing(length: int, left: int) -> None:
    planned = solved(day([offer(2, 96, "4")], [part("P", length, 1)], rules(kerf=1, left=1)))
    assert drops(planned) == [left]
    planned = solved(day([offer(2, 96, "4")], [part("P", length, 1)], rules(kerf=1, left=2)))
    assert bool(planned.left_out) == (left == 1)


def test_a_stick_is_used_to_its_end_by_pieces_that_fill_it() -> None:
    # Longest first would leave 96 - 60 - 30 = 6; 60 + 36 and 2 x 30 + 36 come out even.
    parts = [part("A", 60, 1), part("B", 36, 2), part("C", 30, 2)]
    planned = solved(day([offer(2, 96, "4")], parts, rules(left=10)))
    assert drops(planned) == [0, 0]


def test_what_over_length_leaves_counts_as_left() -> None:
    stick = offer(2, 100, "4", over=4)
    assert solved(day([stick], [part("P", 96, 1)], rules(kerf=1, left=4))).left_out
    planned = solved(day([stick], [part("P", 96, 1)], rules(kerf=1, left=3)))
    assert drops(planned) == [3]


def test_no_rule_no_change() -> None:
    model = _random_model(random.Random(3))[0]
    assert not any(model.ruled)
    assert not model.tight.any()
    assert PatternPricer(model).exact == [None] * len(model.grids)


def test_a_short_part_is_never_cut_once_too_often() -> None:
    # Two of 10 fill the stick, one leaves 10, which is too short: one can't be cut at all.
    offers = [offer(2, 20, "1")]
    assert solved(day(offers, [part("P", 10, 1)], rules(left=11))).left_out
    assert not solved(day(offers, [part("P", 10, 2)], rules(left=11))).left_out
    assert not solved(day(offers, [part("P", 10, 1)], rules(left=10))).left_out


@pytest.mark.parametrize("seed", range(20))
@pytest.mark.parametrize("kind", [np.int64, np.float64])
def test_rooms_filled_to_the_unit(seed: int, kind: type) -> None:
    """Against every filling; worths may be nothing, or less."""
    rng = random.Random(seed)
    n, room = rng.randint(1, 4), rng.randint(5, 30)
    weight = [rng.randint(2, 12) for _ in range(n)]
    copies = [rng.randint(1, 4) for _ in range(n)]
    worth: Values = np.array([rng.randint(-10, 20) for _ in range(n)], kind)
    most = rng.choice([None, 1, 2, 3])
    sack = Knapsack(np.array(weight), room, most, np.zeros(n, bool), exact=True)
    filled = sack.fill(worth, np.array(copies))
    best: dict[int, float] = {}
    for q in itertools.product(*(range(c + 1) for c in copies)):
        w = sum(a * b for a, b in zip(q, weight, strict=True))
        if most is None or sum(q) <= most:
            value = sum(float(a) * b for a, b in zip(worth, q, strict=True))
            best[w] = max(best.get(w, value), value)
    for place in range(room + 1):
        if place not in best:
            assert filled.value[place] < -(1 << 60)
            continue
        assert filled.value[place] == best[place]
        pieces = filled.pieces(place)
        assert sum(q * weight[i] for i, q in pieces.items()) == place
        assert sum(q * float(worth[i]) for i, q in pieces.items()) == best[place]
        assert most is None or sum(pieces.values()) <= most


def _ruled_model(seed: int) -> tuple[Model, RunPricer]:
    from cutopt.plan import Problem
    from cutopt.solve.demand import Piece, items_of
    from cutopt.solve.lumber.model import model_of

    made = day_of_seed(seed, runs=False)
    (group,) = Problem((made,)).groups
    items = items_of(Piece(p, p.length, None, p.qty, p.materials) for p in group.parts)
    model = model_of(group, items)
    return model, RunPricer(group, Pricer([]), model)


def _patterns(model: Model, k: int) -> list[tuple[tuple[int, int], ...]]:
    grid = model.grids[model.stocks[k].grid]
    counts = [range(int(model.need[i]) + 1) for i in grid.kinds]
    found = []
    for q in itertools.product(*counts):
        cuts = tuple((int(i), n) for i, n in zip(grid.kinds, q, strict=True) if n)
        if cuts and model.fits(k, cuts):
            found.append(cuts)
    return found


@pytest.mark.parametrize("seed", range(25))
def test_no_allowed_pattern_costs_less_than_its_worth_and_every_near_one_is_listed(
    seed: int,
) -> None:
    """Whatever worths are proposed, below nothing too for parts that may not be cut too often."""
    rng = random.Random(seed)
    model, runs = _ruled_model(seed)
    pricer = PatternPricer(model)
    worth = np.array([k.length / CELL * rng.uniform(0.02, 0.15) for k in model.kinds])
    worth[model.tight] -= rng.choice((0, 1, 4))
    worths = proved(pricer, runs, worth)
    slack = int(worths.scale * rng.randint(0, 60) / 100)
    listed = {(p.stock, p.cuts) for p in list_patterns(pricer, worths, slack, 100_000)}
    assert all(model.fits(k, cuts) for k, cuts in listed)
    for k in range(len(model.stocks)):
        for cuts in _patterns(model, k):
            pattern = model.pattern(k, cuts)
            beyond = pattern.cost * worths.scale + worths.gain[k]
            beyond -= sum(int(worths.piece[i]) * q for i, q in cuts)
            assert beyond >= 0
            if beyond > slack or (k, cuts) in listed:
                continue
            held = dict(cuts)
            # Left out only where another stick, or the same with a piece more that may be left
            # out again, serves as well.
            assert any(
                model.pattern(j, more).cost <= pattern.cost
                and all(dict(more).get(i, 0) >= q for i, q in held.items())
                and all(not model.tight[i] for i, q in more if q > held.get(i, 0))
                for j, more in listed
            )


@pytest.mark.parametrize("seed", range(40))
def test_greedy_and_tidy_leave_no_stick_as_it_may_not_be(seed: int) -> None:
    rng = random.Random(seed)
    model = _ruled_model(1000 + seed)[0]
    made, short = greedy(model, model.need, [s.available for s in model.stocks])
    cut: Counter[int] = Counter()
    for pattern, n in made.items():
        assert model.fits(pattern.stock, pattern.cuts)
        cut.update({i: q * n for i, q in pattern.cuts})
    assert all(cut[i] + short.get(i, 0) == n for i, n in enumerate(model.need.tolist()))
    less = np.array([rng.randint(0, cut[i]) for i in range(len(model.need))])
    now, lost = tidy(model, less, made)
    cut = Counter()
    for pattern, n in now.items():
        assert model.fits(pattern.stock, pattern.cuts)
        cut.update({i: q * n for i, q in pattern.cuts})
    assert all(cut[i] + lost.get(i, 0) == n for i, n in enumerate(less.tolist()))


@pytest.mark.parametrize("chunk", range(8))
def test_parts_against_every_filling(chunk: int) -> None:
    ends = Counter(compared(day_of_seed(20_000 + 40 * chunk + k, runs=False)) for k in range(40))
    assert set(ends) <= {"least", "impossible", "dearer"}
    assert ends["dearer"] <= 1
    assert ends["impossible"] >= 1


@pytest.mark.parametrize("chunk", range(3))
def test_runs_against_every_way(chunk: int) -> None:
    ends = Counter(compared(day_of_seed(30_000 + 30 * chunk + k, runs=True)) for k in range(30))
    assert set(ends) <= {"least", "impossible", "dearer"}
    assert ends["dearer"] <= 1
    assert ends["impossible"] >= 1


def test_the_two_exact_models_agree() -> None:
    impossible = 0
    for seed in range(40_000, 40_040):
        made = day_of_seed(seed, runs=False)
        least = enumerated(made)
        assert least == assigned(made)
        impossible += least is None
    assert 3 <= impossible <= 20
