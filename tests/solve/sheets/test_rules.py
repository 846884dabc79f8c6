"""What the trade needs of sheets: kerf, trim, turning, alternates, limits, drops, runs, words."""

from __future__ import annotations

import random
from dataclasses import replace
from decimal import Decimal
from fractions import Fraction
from itertools import pairwise

import numpy as np
import pytest

from cutopt.materials import FirstCut, LumberRules, Rules, SheetRules
from cutopt.measure import INCH
from cutopt.plan import Group, Stop
from cutopt.plan.guillotine import Axis
from cutopt.solve.demand import Piece, items_of
from cutopt.solve.search import Watch
from cutopt.solve.sheets import solve_sheets
from cutopt.solve.sheets.model import model_of, want_of
from cutopt.solve.sheets.points import Points, chunks
from cutopt.solve.sheets.pricing import StackPricer, StripPricer
from tests.solve.sheets.shop import check, cost_of, fits, least_cost, make, run


def _solve(group: Group, seed: int = 1):  # type: ignore[no-untyped-def]
    outcome = solve_sheets(group, Watch(30), seed)
    check(group, outcome)
    return outcome


def test_full_sheets_take_no_cut() -> None:
    outcome = _solve(make([(96, 48, 7, False)], [(96, 48, 22, None)], SheetRules(kerf=1)))
    assert [(u.count, len(u.spots), u.drops) for u in outcome.uses] == [(7, 1, ())]
    assert outcome.stop is Stop.PROVED


def test_kerf_traps() -> None:
    # Two 48s of one sheet fail on 96 with a kerf between them; four 24s leave the last one short.
    for size, length, sheets in ((48, 96, 2), (48, 97, 1), (24, 96, 2), (24, 99, 1)):
        parts = [(size, 48, 96 // size, False)]
        group = make(parts, [(length, 48, 22, None)], SheetRules(kerf=1))
        assert cost_of(group, _solve(group)) == 22 * sheets


def test_edge_trim_is_taken_off_every_edge() -> None:
    rules = SheetRules(kerf=0, edge_trim=2)
    fitting = make([(92, 44, 1, False)], [(96, 48, 22, None)], rules)
    assert not _solve(fitting).unplanned
    outcome = _solve(make([(93, 44, 1, False)], [(96, 48, 22, None)], rules))
    assert "trimmed off every edge" in outcome.unplanned[0][1].reason


def test_a_part_is_turned_only_where_its_row_allows_it() -> None:
    turned = _solve(make([(40, 90, 1, True)], [(96, 48, 22, None)]))
    assert turned.uses[0].spots[0].turned
    outcome = _solve(make([(40, 90, 1, False)], [(96, 48, 22, None)]))
    ((_, out),) = outcome.unplanned
    assert "leave to turn" in out.reason
    assert out.qty == 1


def test_turned_twins_share_a_sheet() -> None:
    group = make([(40, 20, 3, True), (20, 40, 3, True)], [(120, 40, 10, None)])
    outcome = _solve(group)
    assert cost_of(group, outcome) == 10


def test_a_part_too_large_is_named_and_the_rest_is_planned() -> None:
    group = make([(200, 50, 2, False), (90, 40, 1, False)], [(96, 48, 22, None)])
    outcome = _solve(group)
    ((material, out),) = outcome.unplanned
    assert (material, out.mark, out.qty) == ("OSB-7/16", "P0", 2)
    assert "fits no sheet" in out.reason
    assert "would do" in out.reason
    assert cost_of(group, outcome) == outcome.bound == 22


def test_too_few_sheets_are_named_and_as_much_as_can_be_is_planned() -> None:
    group = make([(48, 48, 5, False)], [(96, 48, 22, 2)])
    outcome = _solve(group)
    ((_, out),) = outcome.unplanned
    assert out.qty == 1
    assert "row 2" in out.reason
    assert sum(u.count for u in outcome.uses) == 2
    assert cost_of(group, outcome) == outcome.bound == 44


def test_what_lies_in_the_yard_is_used_by_row() -> None:
    group = make([(48, 48, 6, False)], [(96, 48, 22, 1), (96, 48, 22, None)])
    offers = (replace(group.offers[0], on_hand=1, limit=0), group.offers[1])
    outcome = _solve(replace(group, offers=offers))
    assert {u.offer.row: u.count for u in outcome.uses} == {2: 1, 3: 2}


def test_alternates_are_planned_in_one_master() -> None:
    one = make([(48, 48, 1, False)], [(96, 48, 22, None)], material="OSB-7/16")
    two = make([(48, 48, 1, False)], [(96, 48, 30, None)], material="PLY-1/2")
    allowed = replace(one.parts[0], alt=("PLY-1/2",))
    offers = (one.offers[0], replace(two.offers[0], row=3))
    group = replace(
        one, materials=("OSB-7/16", "PLY-1/2"), parts=(allowed, two.parts[0]), offers=offers
    )
    outcome = solve_sheets(group, Watch(30), 1)
    assert sum((u.offer.cost * u.count for u in outcome.uses), Fraction(0)) == 30
    assert outcome.bound == 30


def test_drop_credit_lowers_the_objective_and_never_below_the_bound() -> None:
    rules = SheetRules(kerf=0, keep_drop=(24, 24), drop_value=Decimal("0.5"))
    group = make([(48, 48, 1, False)], [(96, 48, 20, None)], rules)
    outcome = _solve(group)
    assert cost_of(group, outcome) == 15
    assert outcome.bound <= 15
    rng = random.Random(4)
    for _ in range(6):
        parts = [(rng.randint(10, 60), rng.randint(10, 48), rng.randint(1, 4), True)] * 1
        parts += [(rng.randint(10, 96), rng.randint(10, 48), rng.randint(1, 4), False)]
        share = SheetRules(kerf=1, keep_drop=(20, 12), drop_value=Decimal("0.3"))
        _solve(make(parts, [(96, 48, 20, None), (120, 48, 26, 2)], share))


@pytest.mark.parametrize("first", list(FirstCut))
@pytest.mark.parametrize("stages", [2, 3])
def test_every_layout_keeps_its_cutting_rule(first: FirstCut, stages: int) -> None:
    rng = random.Random(stages)
    rules = SheetRules(kerf=2, edge_trim=1, stages=stages, first_cut=first, keep_drop=(24, 24))
    parts = [
        (rng.randint(8, 90), rng.randint(6, 44), rng.randint(1, 9), rng.random() < 0.4)
        for _ in range(14)
    ]
    group = make(parts, [(98, 50, 22, None), (122, 50, 29, None), (60, 50, 9, 3)], rules)
    outcome = _solve(group)
    assert not outcome.unplanned
    words = {"rip": "rips first", "cross": "crosscuts first", "either": "rips or crosscuts first"}
    assert f"{stages} stages" in outcome.cutting_rule
    assert words[first.value] in outcome.cutting_rule


def test_wider_rules_never_bound_higher() -> None:
    rng = random.Random(9)
    for _ in range(4):
        parts = [
            (rng.randint(8, 60), rng.randint(6, 44), rng.randint(1, 5), False) for _ in range(6)
        ]
        bounds = {}
        for stages in (2, 3):
            for first in FirstCut:
                rules = SheetRules(kerf=1, stages=stages, first_cut=first)
                group = make(parts, [(96, 48, 22, None)], rules)
                bounds[stages, first] = cost_of(group, _solve(group))
        assert bounds[3, FirstCut.EITHER] <= bounds[2, FirstCut.EITHER]
        assert bounds[2, FirstCut.EITHER] <= bounds[2, FirstCut.RIP]
        assert bounds[3, FirstCut.RIP] <= bounds[2, FirstCut.RIP]


def test_the_same_seed_gives_the_same_plan() -> None:
    rng = random.Random(3)
    parts = [(rng.randint(8, 90), rng.randint(6, 44), rng.randint(1, 9), False) for _ in range(15)]
    group = make(parts, [(96, 48, 22, None), (120, 48, 27, None)], SheetRules(kerf=1))
    first, second = (_solve(group, 5) for _ in range(2))
    assert (first.items, first.uses, first.bound) == (second.items, second.uses, second.bound)


def test_a_stopped_search_still_gives_a_plan_and_a_bound() -> None:
    rng = random.Random(3)
    parts = [(rng.randint(8, 90), rng.randint(6, 44), rng.randint(1, 9), False) for _ in range(15)]
    group = make(parts, [(96, 48, 22, None), (120, 48, 27, None)], SheetRules(kerf=1))
    outcome = solve_sheets(group, Watch(0), 1)
    check(group, outcome)
    assert not outcome.unplanned
    assert outcome.stop is Stop.TIME
    halted = solve_sheets(group, Watch(30, lambda: True), 1)
    check(group, halted)
    assert halted.stop is Stop.INTERRUPTED


def test_pieces_of_jointed_runs_are_chosen_with_what_they_are_cut_from() -> None:
    # 240 of a strip 15 wide, joints every 24: pieces of 80 do not fall on places; 96 + 96 + 48 do,
    # and the 48 shares a sheet with the part.
    lumber = LumberRules(joint_price=Decimal("0.50"), joint_min_piece=32)
    rules = Rules(sheets=SheetRules(kerf=0), lumber=lumber)
    group = make([(48, 48, 1, False)], [(96, 48, 20, None)])
    group = replace(group, parts=(*group.parts, run("RIDGE", 240, 15, 24, 24)), rules=rules)
    outcome = _solve(group)
    pieces = sorted(
        (p.run_at or 0, p.length) for i in outcome.items for p in i.pieces if p.run == "RIDGE"
    )
    assert sum(length for _, length in pieces) == 240
    assert all(at % 24 == 0 for at, _ in pieces)
    assert all(length >= 32 for _, length in pieces)
    assert cost_of(group, outcome) == 41
    assert outcome.bound <= 41


@pytest.mark.parametrize("seed", range(6))
def test_runs_cost_the_least_over_all_ways_to_joint_them(seed: int) -> None:
    """Against trying every set of joints, each with an exact search (`shop.least_cost`)."""
    rng = random.Random(seed)
    rule = SheetRules(kerf=rng.choice([0, 1]), stages=2, keep_drop=(99, 99))
    price, least = rng.choice([0, 1, 3]), 4
    length, width, step = rng.randint(20, 34), rng.randint(3, 6), rng.choice([3, 4, 5])
    sheets = [(16, 12, 20, None), (12, 12, 13, None)]
    parts = [(rng.randint(4, 12), rng.randint(3, 8), rng.randint(1, 2), False)]
    lumber = LumberRules(joint_price=Decimal(price), joint_min_piece=least)
    group = make(parts, sheets, rule)
    group = replace(
        group,
        parts=(*group.parts, run("RIDGE", length, width, step, step)),
        rules=Rules(sheets=rule, lumber=lumber),
    )
    outcome = _solve(group)
    places = list(range(step, length, step))
    best: Fraction | None = None
    for mask in range(1 << len(places)):
        ends = [0, *(x for i, x in enumerate(places) if mask >> i & 1), length]
        pieces = [b - a for a, b in pairwise(ends)]
        if len(pieces) > 4 or max(pieces) > 16 or min(pieces) < least:
            continue
        found = least_cost([*parts, *((n, width, 1, False) for n in pieces)], sheets, rule)
        if found is not None:
            total = found + price * (len(pieces) - 1)
            best = total if best is None else min(best, total)
    assert best is not None
    assert outcome.bound <= best
    assert cost_of(group, outcome) >= best
    # The search for runs is not exhaustive: within one sheet of the least.
    assert cost_of(group, outcome) <= best + 20


def test_a_run_that_cannot_be_jointed_is_named() -> None:
    group = make([(48, 48, 1, False)], [(96, 48, 20, None)])
    group = replace(
        group, parts=(*group.parts, run("RIDGE", 720 * INCH, 15, 200 * INCH, 200 * INCH))
    )
    outcome = _solve(group)
    ((_, out),) = outcome.unplanned
    assert out.mark == "RIDGE"
    assert out.reason


@pytest.mark.parametrize("seed", range(8))
def test_pricing_bounds_every_pattern_of_the_rule(seed: int) -> None:
    """The table's value is no less than that of any pieces that a sheet can hold (`shop.fits`)."""
    rng = random.Random(seed)
    stages = rng.choice([2, 3])
    axis = rng.choice(list(Axis))
    rules = SheetRules(kerf=rng.choice([0, 1]), stages=stages, first_cut=FirstCut(axis.value))
    parts = [
        (rng.randint(3, 14), rng.randint(3, 9), rng.randint(1, 3), rng.random() < 0.3)
        for _ in range(3)
    ]
    group = make(parts, [(20, 14, 10, None)], rules)
    items = items_of([Piece(p, p.length, p.width, p.qty, p.materials) for p in group.parts])
    model = model_of(group, {want_of(i): i.demand for i in items}, {})
    pricer = (StripPricer if stages == 2 else StackPricer)(model, model.benches[0], axis)
    worth = np.array([rng.randint(1, 50) for _ in model.kinds], dtype=np.int64)
    (priced,) = pricer.price(worth, np.array(model.most, dtype=np.int64), [True])
    pool = [
        (k.length, k.width, k.turn, int(worth[n]))
        for n, k in enumerate(model.kinds)
        for _ in range(k.need)
    ]
    best = 0
    for mask in range(1, 1 << len(pool)):
        chosen = [pool[i] for i in range(len(pool)) if mask >> i & 1]
        value = sum(c[3] for c in chosen)
        if value > best and fits(
            tuple(sorted(c[:3] for c in chosen)), 20, 14, axis, stages, rules.kerf
        ):
            best = value
    assert priced.value >= best


def test_points_are_the_sums_that_the_copies_allow() -> None:
    rng = random.Random(1)
    for _ in range(30):
        sizes = [rng.randint(2, 12) for _ in range(3)]
        copies = [rng.randint(0, 3) for _ in range(3)]
        sums = {0}
        for size, n in zip(sizes, copies, strict=True):
            sums = {s + k * size for s in sums for k in range(n + 1)}
        assert Points(sizes, copies, 25).at.tolist() == sorted(s for s in sums if s <= 25)
    assert [sum(chunks(n)) for n in range(9)] == list(range(9))


def test_drops_that_earn_credit_in_two_stages() -> None:
    # The bound's table stacks parts, which two stages can't: none of that may become a layout.
    sizes = [(3, 10, 4), (10, 5, 6), (17, 3, 3), (3, 9, 3), (7, 4, 1), (17, 3, 4)]
    parts = [(a, b, n, True) for a, b, n in sizes] + [(7, 6, 6, False), (5, 5, 2, False)]
    share = {"keep_drop": (8, 8), "drop_value": Decimal("0.3")}
    rules = SheetRules(kerf=1, stages=2, first_cut=FirstCut.CROSS, **share)  # type: ignore[arg-type]
    group = make(parts, [(20, 18, 42, None), (25, 16, 45, None)], rules)
    assert not _solve(group).unplanned
