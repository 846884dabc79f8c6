"""Listed patterns against every way to cut, and the search over them against an outside model."""

from __future__ import annotations

import itertools
import random
from decimal import Decimal
from fractions import Fraction

import numpy as np
import pytest
from scipy.optimize import Bounds, LinearConstraint, milp  # type: ignore[import-untyped]

from cutopt.materials import FirstCut, SheetRules
from cutopt.plan.guillotine import first_axes
from cutopt.solve.covering import Column, Covering, branch, step_of
from cutopt.solve.demand import Piece, items_of
from cutopt.solve.search import Watch
from cutopt.solve.sheets import solve_sheets
from cutopt.solve.sheets.columns import Generator
from cutopt.solve.sheets.counted import few_counts
from cutopt.solve.sheets.jointed import Jointed
from cutopt.solve.sheets.listing import FullError, list_patterns
from cutopt.solve.sheets.listing.same import Book, first_of_each, keys_for, keys_of
from cutopt.solve.sheets.model import model_of, want_of
from cutopt.solve.sheets.pattern import Pattern, counts
from cutopt.solve.sheets.settle import settle
from tests.solve.sheets.shop import check, cost_of, fits, make


def _generator(parts, sheets, rules) -> Generator:  # type: ignore[no-untyped-def]
    group = make(parts, sheets, rules)
    pieces = [Piece(p, p.length, p.width, p.qty, p.materials) for p in group.parts]
    jointed = Jointed([], group.rules)
    model = model_of(group, {want_of(i): i.demand for i in items_of(pieces)}, jointed.extra())
    jointed.bind(model.kind_of, len(model.kinds))
    made = Generator(model, jointed, group.rules, Watch(60))
    made.start()
    made.root(500, closing=False)
    return made


def _random(rng: random.Random):  # type: ignore[no-untyped-def]
    parts = [
        (rng.randint(2, 9), rng.randint(2, 7), rng.randint(1, 2), rng.random() < 0.4)
        for _ in range(rng.randint(2, 4))
    ]
    sheets = [(rng.randint(9, 14), rng.randint(7, 10), rng.randint(4, 9), None) for _ in range(2)]
    rules = SheetRules(
        kerf=rng.randint(0, 1), stages=rng.choice([2, 3]), first_cut=rng.choice(list(FirstCut))
    )
    return parts, sheets, rules


@pytest.mark.parametrize("seed", range(25))
def test_everything_that_can_be_cut_from_a_sheet_is_listed(seed: int) -> None:
    parts, sheets, rules = _random(random.Random(seed))
    g = _generator(parts, sheets, rules)
    model = g.model
    nothing = np.zeros(len(model.kinds), dtype=np.int64)
    listing = list_patterns(model, g.proving(), nothing, model.need, lambda q: 0, 100_000)
    rows = [(q, tuple(row)) for q, row in zip(listing.sheet, listing.cuts.tolist(), strict=True)]
    for n, (q, row) in enumerate(rows):
        pattern = listing.make(n)
        assert pattern.sheet == q
        assert tuple(counts(pattern, len(row)).tolist()) == row
    for q, sheet in enumerate(model.sheets):
        length, width = sheet.length - rules.kerf, sheet.width - rules.kerf
        for cut in itertools.product(*(range(n + 1) for n in model.need.tolist())):
            members = tuple(
                sorted(
                    (k.length, k.width, k.turn)
                    for k, n in zip(model.kinds, cut, strict=True)
                    for _ in range(n)
                )
            )
            if not members:
                continue
            possible = any(
                fits(members, length, width, axis, rules.stages, rules.kerf)
                for axis in first_axes(rules.first_cut)
            )
            # What is listed stands for all that it holds, on sheets that cost as much or more.
            held = any(
                all(a >= b for a, b in zip(row, cut, strict=True))
                for p, row in rows
                if p == q or model.sheets[p].cost <= sheet.cost
            )
            assert held or not possible
            listed = any(
                all(a >= b for a, b in zip(row, cut, strict=True)) for p, row in rows if p == q
            )
            assert possible or not listed


def test_too_many_to_hold_is_told() -> None:
    parts = [(n + 3, 4, 2, True) for n in range(8)]
    g = _generator(parts, [(60, 40, 9, None)], SheetRules(kerf=0))
    nothing = np.zeros(len(g.model.kinds), dtype=np.int64)
    with pytest.raises(FullError):
        list_patterns(g.model, g.proving(), nothing, g.model.need, lambda q: 0, 50)


def test_rows_that_only_share_their_sum_stay_apart() -> None:
    rows = np.array([[1, 0], [0, 1], [1, 0]], dtype=np.int16)
    same = np.zeros(3, dtype=np.uint64)
    # All three share a sum here: the second is no repeat of the first.
    assert first_of_each(rows, same, np.zeros(3, dtype=np.int64)).tolist() == [0, 1]
    keys = keys_for(2)
    book = Book.of(rows[:1], keys_of(rows[:1], keys))
    asked = np.array([[0, 0], [0, 1]], dtype=np.int16)
    assert book.holds(asked, keys_of(asked, keys) + keys[0], 0).tolist() == [True, False]
    # The sum of the first row, but not its numbers.
    assert not book.holds(rows[1:2], keys_of(rows[:1], keys)).any()


@pytest.mark.parametrize("seed", range(12))
def test_the_search_over_a_list_ends_where_a_general_model_ends(seed: int) -> None:
    rng = np.random.default_rng(seed)
    kinds, stocks, n = 6, 3, 2_500
    # More columns than are taken in at once, so that most are priced from outside.
    matrix = rng.integers(0, 3, (kinds, n))
    matrix[:, matrix.sum(axis=0) == 0] = 1
    stock = rng.integers(0, stocks, n)
    cost = matrix.T @ rng.integers(3, 9, kinds) + rng.integers(4, 20, n)
    need = rng.integers(2, 8, kinds)
    available = [None, int(rng.integers(0, 3)), int(rng.integers(0, 3))]
    columns = [
        Column(
            tuple((i, int(q)) for i, q in enumerate(matrix[:, j]) if q),
            Fraction(int(cost[j])),
            int(stock[j]),
        )
        for j in range(n)
    ]
    rows = [LinearConstraint(matrix, need, np.inf)]
    rows += [LinearConstraint((stock == k).astype(int), 0, available[k]) for k in (1, 2)]
    least = milp(cost, constraints=rows, integrality=np.ones(n), bounds=Bounds(0, np.inf))
    covering = Covering(need, available, columns, np.zeros(0, np.int64))
    ended = branch(covering, Fraction(10_000), step_of(columns), 60.0, Watch(60))
    assert ended.complete
    assert ended.used is not None
    assert ended.bound == round(least.fun)
    assert (matrix @ np.array(ended.used) >= need).all()
    again = branch(covering, ended.bound, step_of(columns), 60.0, Watch(60))
    assert again.complete
    assert again.used is None


def test_counts_of_sheets_settle_what_steps_coarsely() -> None:
    """Seven parts of 6 × 5 on sheets of 12 × 10 (four each) and 12 × 5 (two each)."""
    parts, sheets = [(6, 5, 7, False)], [(12, 10, 70, None), (12, 5, 40, None)]
    g = _generator(parts, sheets, SheetRules(kerf=0, stages=2))
    assert few_counts(g.model, Fraction(140))
    settled = settle(g, Fraction(1_000), g.rounded_bound(), 10.0)
    # One large and two small are 150, two large 140: the least by hand.
    assert settled.draft is not None
    assert settled.draft.cost == settled.bound == 140


@pytest.mark.parametrize("seed", range(30))
def test_counts_of_sheets_and_single_drops_cost_what_an_outside_model_says(seed: int) -> None:
    """Every pattern, by a plain listing, and HiGHS (scipy) over how often each is cut."""
    rng = random.Random(900 + seed)
    parts, sheets, rules = _random(rng)
    drops = [(rng.randint(4, 9), rng.randint(3, 7), rng.randint(1, 3), 1) for _ in range(4)]
    g = _generator(parts, [*sheets, *drops], rules)
    model = g.model
    below = sum((s.cost for s in model.sheets), Fraction(1)) * int(model.need.sum())
    nothing = np.zeros(len(model.kinds), dtype=np.int64)
    every = list_patterns(model, g.proving(), nothing, model.need, lambda q: 0, 200_000)
    cost = np.array([float(model.sheets[q].cost) for q in every.sheet])
    rows = [LinearConstraint(every.cuts.T, model.need, np.inf)]
    rows += [
        LinearConstraint((every.sheet == q).astype(int), 0, s.available)
        for q, s in enumerate(model.sheets)
        if s.available is not None
    ]
    ones = np.ones(len(cost))
    least = milp(cost, constraints=rows, integrality=ones, bounds=Bounds(0, np.inf))
    known = Fraction(round(least.fun))
    settled = settle(g, below, g.rounded_bound(), 20.0)
    assert settled.bound <= known
    if settled.draft is not None:
        assert settled.draft.cost >= known
    # Nothing is left open in so small an order, and a plan one dearer is bettered.
    assert settled.draft is not None
    assert settled.draft.cost == settled.bound == known
    assert settle(g, known, Fraction(0), 20.0).bound == known


def test_scarce_sheets_hold_all_that_they_can() -> None:
    """Two sheets that hold everything in one way only, where the best pattern spoils it."""
    parts = [(6, 6, 2, False), (4, 6, 2, False), (10, 3, 2, False)]
    group = make(parts, [(10, 9, 5, 2)], SheetRules(kerf=0, stages=2))
    outcome = solve_sheets(group, Watch(20), 1)
    check(group, outcome)
    assert not outcome.unplanned
    assert cost_of(group, outcome) == 10


def test_what_is_left_out_finds_no_sheet_that_was_left_over() -> None:
    """Two parts want the one large sheet; the other one still goes on the small one."""
    parts = [(20, 10, 2, False), (5, 5, 3, False)]
    group = make(parts, [(20, 10, 9, 1), (6, 6, 2, 3)], SheetRules(kerf=0))
    outcome = solve_sheets(group, Watch(20), 1)
    check(group, outcome)
    assert [(u.length, u.qty) for _, u in outcome.unplanned] == [(20, 1)]


def test_a_sheet_from_which_nothing_is_cut_costs_what_it_costs() -> None:
    rules = SheetRules(kerf=0, drop_value=Decimal("0.5"), keep_drop=(2, 2))
    g = _generator([(6, 5, 2, False)], [(12, 10, 8, None)], rules)
    axis = first_axes(rules.first_cut)[0]
    assert g.cost(Pattern(0, axis, ())) == 8
