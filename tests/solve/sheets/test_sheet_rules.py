"""Factory edges, narrow rips and most parts of a sheet, held against an exact search by hand."""

from __future__ import annotations

import random
from dataclasses import replace
from decimal import Decimal

import numpy as np
import pytest

from cutopt.cutlist import Joints, Rule
from cutopt.materials import Edge, FirstCut, LumberRules, Rules, SheetRules
from cutopt.plan import Problem
from cutopt.plan.guillotine import Axis
from cutopt.records import Place
from cutopt.solve.demand import Piece, items_of
from cutopt.solve.sheets.layout import lay
from cutopt.solve.sheets.model import model_of, want_of
from cutopt.solve.sheets.pattern import counts
from cutopt.solve.sheets.pricers import pricers_of
from cutopt.solve.sheets.refuse import fits as may_fit
from tests.solve.sheets.rules_days import Row, day_of, plan_of, random_order
from tests.solve.sheets.rules_exact import Board, holds, least_cost


@pytest.mark.parametrize("seed", range(4))
def test_narrow_rips_against_an_exact_search(seed: int) -> None:
    rng = random.Random(seed)
    for _ in range(6):
        rows, boards, rules = random_order(rng, 0, False, True)
        plan = plan_of(day_of(rows, boards, rules))
        least = least_cost(rows, boards, rules)
        assert not plan.unplanned
        assert plan.bound == least == plan.objective, (rows, boards, rules)


def _left_out(rows: list[Row], boards: list[Board], rules: SheetRules) -> str:
    """Why the first row is left out; the rest is planned."""
    plan = plan_of(day_of(rows, boards, rules))
    (out,) = plan.unplanned
    assert (out.mark, out.qty) == ("P0", rows[0][2])
    return out.reason


def test_what_is_too_narrow_to_rip_is_named_and_the_rest_is_planned() -> None:
    boards = [Board(96, 48, 20)]
    rest = (40, 40, 1, False, Edge.NONE)
    rules = SheetRules(kerf=1, least_rip=6)
    why = _left_out([(40, 4, 2, False, Edge.NONE), rest], boards, rules)
    # The least count is 1/1600 mm: 4 of them are 0.0025 mm.
    assert "would be ripped to 0.0025 mm of DECK, whose least_rip is 0.00375 mm" in why
    assert "leave to turn the part" in why
    assert "leave to turn" not in _left_out([(60, 4, 2, False, Edge.NONE), rest], boards, rules)
    assert "least_rip is" in _left_out([(5, 4, 2, True, Edge.NONE), rest], boards, rules)


def test_a_part_as_wide_as_narrow_stock_is_not_ripped() -> None:
    rules = SheetRules(kerf=0, least_rip=6)
    boards = [Board(96, 48, 20), Board(96, 4, 3)]
    plan = plan_of(day_of([(40, 4, 3, False, Edge.NONE)], boards, rules))
    uses = sorted((lay.offer.row, lay.count, len(lay.parts)) for lay in plan.layouts)
    assert uses == [(3, 1, 1), (3, 1, 2)]
    assert plan.bound == plan.objective == 6


def test_a_part_is_turned_where_it_would_be_ripped_too_narrow() -> None:
    rules = SheetRules(kerf=0, least_rip=6)
    plan = plan_of(day_of([(40, 4, 24, True, Edge.NONE)], [Board(96, 48, 20)], rules))
    assert all(p.turned for lay in plan.layouts for p in lay.parts)
    assert plan.objective == 20


def test_a_narrow_jointed_run_is_named() -> None:
    joints = Joints(24, 24)
    day = day_of([(40, 40, 1, False, Edge.NONE)], [Board(96, 48, 20)], SheetRules(least_rip=6))
    run = replace(
        day.parts[0],
        place=Place("cuts/a.csv", 3),
        mark="R",
        length=200,
        width=4,
        rule=Rule.JOINTED,
        joints=joints,
    )
    plan = plan_of(replace(day, parts=(*day.parts, run)))
    assert [u.mark for u in plan.unplanned] == ["R"]


@pytest.mark.parametrize("seed", range(4))
def test_most_parts_of_a_sheet_against_an_exact_search(seed: int) -> None:
    rng = random.Random(100 + seed)
    for _ in range(6):
        rows, boards, rules = random_order(rng, 0, True, False)
        plan = plan_of(day_of(rows, boards, rules))
        least = least_cost(rows, boards, rules)
        assert not plan.unplanned
        assert plan.bound == least == plan.objective, (rows, boards, rules)


@pytest.mark.parametrize("seed", range(6))
@pytest.mark.parametrize(
    ("edged", "counted", "narrow"), [(0.5, False, False), (0.9, False, False), (0.5, True, True)]
)
def test_factory_edges_against_an_exact_search(
    seed: int, edged: float, counted: bool, narrow: bool
) -> None:
    rng = random.Random(200 + seed)
    for _ in range(4):
        rows, boards, rules = random_order(rng, edged, counted, narrow)
        plan = plan_of(day_of(rows, boards, rules))
        least = least_cost(rows, boards, rules)
        assert not plan.unplanned
        assert plan.bound == least == plan.objective, (rows, boards, rules)


@pytest.mark.parametrize("seed", range(30))
@pytest.mark.parametrize(("edged", "counted"), [(0.7, False), (0, True), (0.7, True)])
def test_pricing_bounds_every_pattern(seed: int, edged: float, counted: bool) -> None:
    """The table is worth no less than any pieces that a sheet can hold, and its pattern is laid."""
    rng = random.Random(seed)
    rows, boards, rules = random_order(rng, edged, counted, False)
    axis = rng.choice(list(Axis))
    rules = replace(rules, first_cut=FirstCut(axis.value))
    day = day_of(rows, boards, rules)
    (group,) = Problem((day,)).groups
    items = items_of([Piece(p, p.length, p.width, p.qty, p.materials) for p in group.parts])
    items = tuple(i for i in items if any(may_fit(i, o, group.rules) for o in group.offers))
    model = model_of(group, {want_of(i): i.demand for i in items}, {})
    worth = np.array([rng.randint(1, 50) for _ in model.kinds], dtype=np.int64)
    most = np.array(model.most, dtype=np.int64)
    limit = rules.max_parts or sum(model.most)
    strips, stacks = pricers_of(model)
    pricers = stacks if rules.stages == 3 else strips
    values: dict[int, int] = {}
    for pricer in (*strips, *stacks):
        for priced in pricer.price(worth, most, [True] * len(model.sheets)):
            lay(priced.pattern, model, group.rules)
            cut = counts(priced.pattern, len(worth))
            # A table may take a part more often than it is wanted, in strip after strip.
            assert not counted or cut.sum() <= limit
            assert (cut > most).any() or cut @ worth <= priced.value
            assert counted or cut @ worth == priced.value
            if pricer in pricers:
                values[priced.pattern.sheet] = priced.value
        for q in pricer.bench.sheets:
            filled = pricer.fill(worth, most, q)
            lay(filled, model, group.rules)
            assert (counts(filled, len(worth)) <= most).all()
            assert counts(filled, len(worth)).sum() <= limit
    pool = [
        ((k.length, k.width, k.turn, k.edge.value), int(worth[n]))
        for n, k in enumerate(model.kinds)
        for _ in range(k.need)
    ]
    for q, sheet in enumerate(model.sheets):
        offer = sheet.offers[0]
        board = Board(offer.length, offer.width or 0, 1, None, offer.edges)
        for mask in range(1, 1 << len(pool)):
            chosen = [pool[i] for i in range(len(pool)) if mask >> i & 1]
            value = sum(w for _, w in chosen)
            if value > values.get(q, 0):
                assert not holds(sorted(p for p, _ in chosen), board, rules), (rows, boards, rules)


def test_a_bound_where_parts_are_few_on_average() -> None:
    """No sheet gives more than three: by area alone two would do where four are needed."""
    rng = random.Random(7)
    rows: list[Row] = [(rng.randint(6, 9), rng.randint(4, 6), 4, False, Edge.NONE)] * 1
    rows += [(rng.randint(3, 5), rng.randint(3, 5), 8, False, Edge.NONE)]
    rules = SheetRules(kerf=0, max_parts=3)
    plan = plan_of(day_of(rows, [Board(30, 20, 10)], rules))
    assert plan.bound == plan.objective == 40


def test_few_parts_with_drop_credit_and_limits() -> None:
    rng = random.Random(5)
    share = SheetRules(kerf=1, keep_drop=(8, 8), drop_value=Decimal("0.3"), max_parts=3)
    for _ in range(4):
        rows: list[Row] = [
            (rng.randint(5, 20), rng.randint(4, 12), rng.randint(1, 5), False, Edge.NONE)
            for _ in range(4)
        ]
        plan = plan_of(day_of(rows, [Board(30, 20, 60, 2), Board(26, 16, 40)], share))
        assert not plan.unplanned
        assert plan.bound <= plan.objective


def test_fewer_set_ups_keep_narrow_rips() -> None:
    # The same parts fit the sheet unturned as well, ripped to 3.
    rows: list[Row] = [
        (3, 6, 3, True, Edge.NONE),
        (3, 8, 1, False, Edge.NONE),
        (9, 18, 1, False, Edge.NONE),
    ]
    boards = [Board(17, 20, 35), Board(19, 11, 27), Board(22, 17, 40, 2)]
    rules = SheetRules(kerf=0, first_cut=FirstCut.RIP, keep_drop=(8, 8), least_rip=6, max_parts=2)
    assert plan_of(day_of(rows, boards, rules)).objective == least_cost(rows, boards, rules)


@pytest.mark.parametrize("seed", range(1, 5))
def test_set_ups_change_while_they_are_looked_through(seed: int) -> None:
    sizes = [(4, 3, 5), (5, 4, 12), (5, 3, 4), (4, 3, 4), (5, 3, 1), (3, 3, 3)]
    rows: list[Row] = [(a, b, n, False, Edge.NONE) for a, b, n in sizes]
    boards = [Board(16, 10, 16), Board(28, 16, 52), Board(30, 13, 41, 1)]
    rules = SheetRules(kerf=1, stages=2, first_cut=FirstCut.RIP, keep_drop=(8, 8), stack=2)
    assert not plan_of(day_of(rows, boards, rules), seed=seed).unplanned


def test_runs_where_a_sheet_gives_few_parts() -> None:
    rules = SheetRules(kerf=0, max_parts=2)
    day = day_of([(40, 20, 3, False, Edge.NONE)], [Board(96, 48, 20)], rules)
    run = replace(
        day.parts[0],
        place=Place("cuts/a.csv", 3),
        mark="R",
        length=240,
        width=15,
        rule=Rule.JOINTED,
        joints=Joints(24, 24),
    )
    lumber = LumberRules(joint_min_piece=24)
    day = replace(day, parts=(*day.parts, run), rules=Rules(sheets=rules, lumber=lumber))
    plan = plan_of(day)
    assert not plan.unplanned
    # Three parts and three runs of three pieces, two from a sheet.
    assert sum(lay.count for lay in plan.layouts) == 6
    assert plan.bound == plan.objective == 120 + 3
