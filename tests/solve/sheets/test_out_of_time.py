"""A search that is stopped at any moment: soon ended, the plan whole, the bound proved."""

from __future__ import annotations

import random
from dataclasses import replace
from decimal import Decimal

import numpy as np
import pytest

from cutopt.materials import Edge, LumberRules, SheetRules
from cutopt.plan import Group, Stop
from cutopt.solve.demand import Piece, items_of
from cutopt.solve.search import Watch
from cutopt.solve.sheets import solve_sheets
from cutopt.solve.sheets.bound import area_bound
from cutopt.solve.sheets.columns import Generator
from cutopt.solve.sheets.jointed import Jointed
from cutopt.solve.sheets.master import Master
from cutopt.solve.sheets.model import model_of, want_of
from cutopt.solve.sheets.points import Ints, Knapsack, Points
from tests.solve.sheets.shop import Asked, check, cost_of, least_cost, make, run

#: Looks after which the watch says that time is up.
_MOMENTS = (0, 1, 7, 60, 1500)
#: What may still be done then: things offered to a table, linear programmes.
_TABLES, _PROGRAMMES = 400, 12


class _Trips(Watch):
    """Time is up after so many looks; what is done from then on is counted."""

    def __init__(self, looks: int) -> None:
        super().__init__(60.0)
        self.looks = looks
        self.tables = self.programmes = 0

    def stop(self, ahead: float = 0.0) -> Stop | None:
        self.looks -= 1
        return Stop.TIME if self.looks < 0 else None

    def left(self) -> float:
        return 60.0 if self.looks >= 0 else 0.0


def _counting(watch: _Trips, monkeypatch: pytest.MonkeyPatch) -> None:
    add, solve = Knapsack.add, Master.solve

    def counted_add(self: Knapsack, tag: int, size: int, values: Ints, copies: int) -> bool:
        watch.tables += watch.looks < 0
        return add(self, tag, size, values, copies)

    def counted_solve(self: Master) -> None:
        watch.programmes += watch.looks < 0
        solve(self)

    monkeypatch.setattr(Knapsack, "add", counted_add)
    monkeypatch.setattr(Master, "solve", counted_solve)


def _order(rules: SheetRules, kinds: int = 40, seed: int = 3) -> Group:
    """Forty kinds in sixteenths, three sizes to buy and five single remnants."""
    rng = random.Random(seed)
    parts: list[Asked] = [
        (rng.randint(120, 1500), rng.randint(80, 740), rng.randint(1, 20), rng.random() < 0.3)
        for _ in range(kinds)
    ]
    sheets = [(1536, 768, 22, None), (1920, 768, 27, None), (1536, 864, 25, None)]
    racks = [(rng.randint(300, 1500), rng.randint(200, 760), 3, 1) for _ in range(5)]
    return make(parts, [*sheets, *racks], rules)


def _with_edges(group: Group) -> Group:
    edges = (Edge.ONE, Edge.BOTH)
    parts = tuple(
        replace(p, edge=edges[n % 2] if p.width == 768 or n % 2 == 0 else Edge.NONE)
        if n % 4 == 0
        else p
        for n, p in enumerate(group.parts)
    )
    return replace(group, parts=parts)


_SHOPS = {
    "two stages": SheetRules(kerf=2, stages=2),
    "three stages": SheetRules(kerf=2, stages=3),
    "few parts": SheetRules(kerf=2, stages=3, max_parts=5),
    "drops": SheetRules(kerf=2, stages=3, drop_value=Decimal("0.5"), keep_drop=(200, 200)),
}


@pytest.mark.parametrize("shop", _SHOPS)
@pytest.mark.parametrize("moment", _MOMENTS)
def test_whatever_the_moment_the_plan_is_whole_and_soon_there(
    shop: str, moment: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    group = _order(_SHOPS[shop])
    watch = _Trips(moment)
    _counting(watch, monkeypatch)
    outcome = solve_sheets(group, watch, 1)
    check(group, outcome)
    assert not outcome.unplanned
    assert outcome.bound > 0
    assert outcome.stop is not Stop.WORK or watch.looks >= 0
    assert watch.tables <= _TABLES
    assert watch.programmes <= _PROGRAMMES


@pytest.mark.parametrize("moment", [0, 30, 400])
def test_parts_with_factory_edges_are_all_planned(
    moment: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    group = _with_edges(_order(SheetRules(kerf=2, stages=3), kinds=20))
    watch = _Trips(moment)
    _counting(watch, monkeypatch)
    outcome = solve_sheets(group, watch, 1)
    check(group, outcome)
    assert not outcome.unplanned


@pytest.mark.parametrize("moment", [0, 30, 400])
def test_jointed_runs_are_made(moment: int) -> None:
    group = _order(SheetRules(kerf=2, stages=2), kinds=12)
    runs = run("R1", 4000, 300, 400, 400, qty=2)
    rules = replace(group.rules, lumber=LumberRules(joint_min_piece=200))
    group = replace(group, parts=(*group.parts, runs), rules=rules)
    outcome = solve_sheets(group, _Trips(moment), 1)
    check(group, outcome)
    assert not outcome.unplanned


def test_the_same_moment_gives_the_same_plan() -> None:
    group = _order(_SHOPS["three stages"])
    one, two = (solve_sheets(group, _Trips(300), 1) for _ in range(2))
    assert one.uses == two.uses
    assert one.bound == two.bound


def test_scarce_sheets_are_filled_and_what_is_left_out_is_named() -> None:
    # Two sheets hold four of five halves.
    group = make([(96, 48, 5, False)], [(96, 96, 10, 2)])
    outcome = solve_sheets(group, _Trips(0), 1)
    check(group, outcome)
    assert sum(u.qty for _, u in outcome.unplanned) == 1


def test_a_plan_at_once_is_not_far_from_a_searched_one() -> None:
    # First fit by falling height lies 3 to 10 % above the bound on such orders (measured).
    group = _order(_SHOPS["two stages"])
    at_once = cost_of(group, solve_sheets(group, _Trips(0), 1))
    searched = solve_sheets(group, Watch(60), 1)
    assert searched.bound <= at_once <= searched.bound * 115 / 100


def _generator(group: Group) -> Generator:
    pieces = [Piece(p, p.length, p.width, p.qty, p.materials) for p in group.parts]
    model = model_of(group, {want_of(i): i.demand for i in items_of(pieces)}, {})
    jointed = Jointed([], group.rules)
    jointed.bind(model.kind_of, len(model.kinds))
    return Generator(model, jointed, group.rules, Watch(60))


def test_no_plan_is_below_the_bound_by_area() -> None:
    # Against every way to part a handful of pieces among sheets.
    rng = random.Random(11)
    met = 0
    for _ in range(60):
        rules = SheetRules(kerf=rng.randint(0, 2), edge_trim=rng.randint(0, 1))
        parts: list[Asked] = [
            (rng.randint(2, 12), rng.randint(2, 9), rng.randint(1, 2), rng.random() < 0.5)
            for _ in range(rng.randint(1, 3))
        ]
        sheets = [
            (rng.randint(13, 20), rng.randint(11, 14), rng.randint(3, 9), rng.choice((None, 1, 2)))
            for _ in range(rng.randint(1, 3))
        ]
        least = least_cost(parts, sheets, rules)
        if least is None:
            continue
        generator = _generator(make(parts, sheets, rules))
        generator.by_area()
        assert generator.bound <= least
        met += generator.bound > 0
    assert met > 20


def test_the_bound_by_area_is_met_where_parts_tile_sheets() -> None:
    # Ten quarters of a sheet of 8 dollars, one sheet of 4 dollars to be had: 4 + 8 × 6 / 4.
    group = make([(48, 24, 10, False)], [(96, 48, 8, None), (96, 48, 4, 1)], SheetRules(kerf=0))
    generator = _generator(group)
    found = area_bound(generator.model, generator.scale, {})
    assert float(found.bound) == pytest.approx(16, abs=1e-6)
    assert found.bound <= 16


def test_points_that_lie_evenly_hold_the_same_values() -> None:
    # Against trying every number of copies of every thing.
    rng = random.Random(5)
    evenly = 0
    for _ in range(200):
        sizes = sorted(rng.randint(2, 9) for _ in range(rng.randint(2, 5)))
        copies = [rng.randint(1, 3) for _ in sizes]
        cap = rng.randint(10, 30)
        apart, even = (Points(sizes, copies, cap, even=e) for e in (False, True))
        evenly += len(even) > len(apart)
        tables = [Knapsack(points, 2) for points in (apart, even)]
        best = np.zeros((2, cap + 1), dtype=np.int64)
        for tag, (size, n) in enumerate(zip(sizes, copies, strict=True)):
            values = np.array([rng.randint(0, 20), rng.randint(0, 20)], dtype=np.int64)
            before = best.copy()
            for k in range(1, n + 1):
                if k * size <= cap:
                    np.maximum(
                        best[:, k * size :],
                        before[:, : cap + 1 - k * size] + k * values[:, None],
                        out=best[:, k * size :],
                    )
            for table in tables:
                table.add(tag, size, values, n)
        for table in tables:
            for place in range(cap + 1):
                at = table.points.floor(place)
                assert table.table[:, at].tolist() == best[:, place].tolist()
        for place in range(cap + 1):
            one, two = (t.read(t.points.floor(place), 1) for t in tables)
            assert one == two
    assert evenly
