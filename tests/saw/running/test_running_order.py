"""The running order against every order there is, against the checker, and against itself."""

from __future__ import annotations

import itertools
import random
from collections import Counter
from dataclasses import replace
from datetime import date
from decimal import Decimal

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from cutopt.cutlist import Day, Part
from cutopt.files.results import document_text, parse_document
from cutopt.materials import Kind, Offer, Per, Rules
from cutopt.measure import INCH
from cutopt.plan import Problem
from cutopt.plan.check import check_plan
from cutopt.plan.document import plan_document
from cutopt.records import Place
from cutopt.saw.running import (
    Effort,
    Setup,
    plan_by_windows,
    running_order,
    window_curve,
    work_of,
)
from cutopt.saw.running.judge import Judge, Runs
from cutopt.saw.running.limits import needs_of, setup_bound_within
from cutopt.saw.running.order import judge_listed
from cutopt.saw.running.search import search
from cutopt.saw.running.starts import by_stock, longest_first, plan_order, waves
from cutopt.saw.running.windows import windows_of
from cutopt.saw.saws import Saw, Weights
from cutopt.saw.stacks import Verdict, fewest_open
from cutopt.solve import Settings, solve
from tests.bench.floor.days import made_day
from tests.saw.running.recount import recount

SAW = Saw("Saw", carts=3)
MATERIALS = ("2x4", "2x6")


def problem_of(rows: list[tuple[str, str, str, float, int, int | None]]) -> Problem:
    """A day of (section, jig, material, inches, qty, need) with three lengths of each material."""
    parts = tuple(
        Part(
            place=Place("cuts.csv", i + 2),
            section=section,
            jig=jig,
            mark=f"M{i}",
            material=material,
            length=round(inches * 16) * INCH // 16,
            width=None,
            qty=qty,
            need=need,
        )
        for i, (section, jig, material, inches, qty, need) in enumerate(rows)
    )
    offers = tuple(
        Offer(
            row=row,
            material=material,
            kind=Kind.LUMBER,
            nominal=(2, int(material[2:])),
            length=feet * 12 * INCH,
            width=None,
            price=Decimal(600 + row),
            per=Per.MBF,
        )
        for row, (material, feet) in enumerate(
            ((m, f) for m in ("2x4", "2x6") for f in (8, 12, 16)), start=2
        )
        if any(p.material == material for p in parts)
    )
    day = Day("day", "Plant", date(2026, 1, 5), "in", Rules(), offers, parts)
    return Problem((day,))


def small(seed: int, carts: int = 4) -> Problem:
    """A few carts, few layouts."""
    chance = random.Random(seed)
    rows = []
    for c in range(carts):
        for _ in range(chance.randint(1, 2)):
            material = chance.choice(("2x4", "2x6"))
            inches = chance.choice((92.625, 14.5, 60, 71.25, 100 + c))
            rows.append((f"S{c}", "Wall", material, inches, chance.randint(1, 4), c + 1))
    return problem_of(rows)


def planned(problem: Problem):  # type: ignore[no-untyped-def]
    return solve(problem, Settings(seconds=20, workers=1))


def checked(problem: Problem, plan) -> list[str]:  # type: ignore[no-untyped-def]
    return check_plan(problem.days, parse_document(document_text(plan_document(plan))))


def every_order(judge: Judge):  # type: ignore[no-untyped-def]
    """All orders of the jobs, each run whole, judged at once."""
    jobs = judge.work.jobs
    judge.take(Runs(np.arange(len(jobs)), np.array([j.count for j in jobs])))
    return judge.judge(np.array(list(itertools.permutations(range(len(jobs)))), np.int64))


@pytest.mark.parametrize("seed", range(12))
def test_no_order_of_whole_runs_is_better(seed: int) -> None:
    problem = small(seed)
    work = work_of(planned(problem), SAW, ("2x4", "2x6"))
    assert 1 <= len(work.jobs) <= 7
    judge = Judge(work)
    every = every_order(judge)
    found = search(judge, Effort(judged=3_000))
    assert found.cost <= int(every.cost.min())
    alone = Judge(
        work_of(planned(problem), replace(SAW, weights=Weights(jigs=0, picking=0)), MATERIALS)
    )
    least = search(alone, Effort(judged=3_000))
    ours = judge_listed(alone, least.order)
    every = every_order(alone)
    met = every.peak <= SAW.carts
    if met.any():
        assert int(ours.peak[0]) <= SAW.carts
        assert int(ours.setup_time[0]) <= int(every.setup_time[met].min())


@pytest.mark.parametrize("seed", range(20))
def test_bounds_are_never_above_what_an_order_needs(seed: int) -> None:
    # As many carts as leave few enough orders to try all of them.
    made = (work_of(planned(small(seed, n)), SAW, MATERIALS) for n in (5, 4, 3))
    work = next(work for work in made if len(work.jobs) <= 7)
    judge = Judge(work)
    every = every_order(judge)
    assert work.setup_bound <= int(every.setup_time.min())
    assert fewest_open(needs_of(work)).lower <= int(every.peak.min())
    for limit in range(1, 6):
        within = every.setup_time[every.peak <= limit]
        if len(within):
            assert setup_bound_within(work, limit) <= int(within.min())


def test_a_limit_on_carts_makes_materials_come_back() -> None:
    """Four carts with both materials, one at a time: five changes at least, by hand."""
    rows = [(f"S{c}", "Wall", m, 60 + c * 3, 1, c + 1) for c in range(4) for m in ("2x4", "2x6")]
    windowed = plan_by_windows(problem_of(rows), (replace(SAW, carts=1, window=1),))
    work = work_of(windowed.plan, replace(SAW, carts=1), MATERIALS)
    seconds = SAW.seconds
    assert setup_bound_within(work, 1) - work.setup_bound >= 3 * (seconds.material - seconds.stop)


def test_an_impossible_limit_names_carts_that_make_it_so() -> None:
    # One stick of 16 ft holds three lengths that one cart each needs.
    rows = [(f"S{c}", "Wall", "2x4", 60 + c, 1, c + 1) for c in range(3)]
    plan = planned(problem_of(rows))
    (order,) = running_order(plan, (replace(SAW, carts=1),), Effort(judged=100)).orders
    assert order.figures.peak > 1
    assert order.verdict is Verdict.IMPOSSIBLE
    assert len(order.blocking) > 1
    assert running_order(plan, (SAW,), Effort(judged=100)).orders[0].verdict is Verdict.MET


@pytest.mark.parametrize("mixed", [False, True])
def test_a_made_day_ordered_counts_and_checks(mixed: bool) -> None:
    problem = made_day(31, 8, mixed=mixed)
    plan = planned(problem)
    saw = replace(SAW, carts=4)
    ordered = running_order(plan, (saw,), Effort(judged=1_500))
    (order,) = ordered.orders
    names = tuple(m.material for m in plan.materials)
    work = work_of(plan, saw, names)
    assert recount(order, work) == []
    assert checked(problem, ordered.plan) == []
    judge = Judge(work)
    for plain in (plan_order, longest_first, by_stock):
        assert int(judge_listed(judge, plain(work)).cost[0]) >= judge_cost(judge, ordered, work)
    assert [m.objective for m in ordered.plan.materials] == [m.objective for m in plan.materials]


def judge_cost(judge: Judge, ordered, work) -> int:  # type: ignore[no-untyped-def]
    again = work_of(ordered.plan, work.saw, {j.material for j in work.jobs})
    index = {(j.material, j.pattern, j.offer.row, j.source): i for i, j in enumerate(again.jobs)}
    runs = [
        (index[r.material, r.pattern, r.stock_row, r.source], r.count)
        for r in ordered.orders[0].runs
    ]
    return int(judge_listed(Judge(again), runs).cost[0])


def test_the_same_seed_gives_the_same_order() -> None:
    plan = planned(made_day(32, 6))
    first, again, other = (
        running_order(plan, (SAW,), Effort(judged=1_000, seed=s)) for s in (1, 1, 2)
    )
    assert first == again
    assert first.orders[0].judged >= 1_000
    assert first.orders[0].runs != other.orders[0].runs


def test_progress_is_told_and_a_caller_can_end_it() -> None:
    plan = planned(made_day(33, 6))
    steps = []
    order = running_order(
        plan, (SAW,), Effort(judged=50_000), steps.append, lambda: len(steps) >= 2
    ).orders[0]
    assert order.broken_off
    assert order.judged < 50_000
    assert all(a.judged < b.judged for a, b in itertools.pairwise(steps))


def test_pieces_given_after_the_order_never_need_more_carts() -> None:
    """The same runs with the labels that the plan came with are no better than dealt out anew."""
    for seed in range(4):
        plan = planned(made_day(40 + seed, 8))
        work = work_of(plan, SAW, [m.material for m in plan.materials])
        judge = Judge(work)
        order = plan_order(work)
        free = int(judge_listed(judge, order).peak[0])
        left = {c: int(n) for c, n in enumerate(work.demand.sum(axis=1))}
        index = {(c.section, c.jig): i for i, c in enumerate(work.carts)}
        opened: set[int] = set()
        fixed = 0
        for m in plan.materials:
            for lay in m.layouts:
                for _ in range(lay.count):
                    served = [index[p.section, p.jig] for p in lay.parts]
                    opened |= set(served)
                    fixed = max(fixed, len(opened))
                    for c in served:
                        left[c] -= 1
                    opened = {c for c in opened if left[c]}
        assert free <= fixed


row = st.tuples(
    st.sampled_from(["A", "B", "C", "D"]),
    st.sampled_from(["Wall", "Roof"]),
    st.sampled_from(["2x4", "2x6"]),
    st.sampled_from([5.0, 14.5, 60.0, 71.25, 92.625]),
    st.integers(1, 4),
    st.one_of(st.none(), st.integers(1, 5)),
)


@settings(max_examples=25)
@given(st.lists(row, min_size=1, max_size=8), st.integers(0, 4), st.integers(0, 3))
def test_every_piece_goes_once_to_a_cart_that_needs_it(rows, carts, window) -> None:  # type: ignore[no-untyped-def]
    problem = problem_of(rows)
    saw = Saw("Saw", carts=carts, window=window)
    plan = plan_by_windows(problem, (saw,), Settings(seconds=20, workers=1)).plan
    assert checked(problem, plan) == []
    ordered = running_order(plan, (saw,), Effort(judged=200))
    assert checked(problem, ordered.plan) == []
    wanted = Counter[tuple[str, str, str, int]]()
    for p in problem.parts:
        wanted[p.section, p.jig, p.mark, p.length] += p.qty
    got = Counter[tuple[str, str, str, int]]()
    for run in ordered.orders[0].runs:
        for lay in run.layouts:
            for p in lay.parts:
                got[p.section, p.jig, p.mark, p.length] += lay.count
    assert got == wanted
    work = work_of(plan, saw, MATERIALS)
    assert recount(ordered.orders[0], work) == []
    assert ordered.orders[0].runs[0].setup is Setup.MATERIAL


def test_long_parts_first_and_no_short_one_last() -> None:
    rows: list[tuple[str, str, str, float, int, int | None]] = [
        ("A", "Wall", "2x4", 100, 1, 1),
        ("A", "Wall", "2x4", 50, 1, 1),
        ("A", "Wall", "2x4", 6, 1, 1),
    ]
    ordered = running_order(planned(problem_of(rows)), (SAW,), Effort(judged=50))
    (layout,) = ordered.orders[0].runs[0].layouts
    assert [p.length // INCH for p in layout.parts] == [100, 6, 50]
    assert ordered.orders[0].cautions == ()
    short = problem_of([("A", "Wall", "2x4", 6, 3, 1)])
    ordered = running_order(planned(short), (SAW,), Effort(judged=50))
    assert checked(short, ordered.plan) == []
    (caution,) = ordered.orders[0].cautions
    assert (caution.last, caution.safe_hand) == (6 * INCH, SAW.safe_hand)


def test_windows_keep_the_order_wanted_and_mates_together() -> None:
    parts = problem_of(
        [(s, "Wall", "2x4", 60, 1, n) for s, n in (("C", 1), ("B", 2), ("A", 3), ("D", None))]
    ).parts
    names = [[s for s, _ in w] for w in windows_of(parts, 2)]
    assert names == [["C", "B"], ["A", "D"]]
    assert len(windows_of(parts, 0)) == 1


def test_windows_share_what_lies_in_the_yard() -> None:
    problem = problem_of([(f"S{c}", "Wall", "2x4", 90, 2, c + 1) for c in range(4)])
    day = problem.days[0]
    offers = tuple(
        replace(o, on_hand=3, limit=None if o.length > 100 * INCH else 2) for o in day.offers
    )
    problem = Problem((replace(day, offers=offers),))
    windowed = plan_by_windows(problem, (replace(SAW, window=1),), Settings(workers=1))
    assert checked(problem, windowed.plan) == []
    assert len(windowed.windows["Saw"]) == 4


def test_waves_cut_every_stick_once() -> None:
    plan = planned(made_day(34, 6))
    work = work_of(plan, SAW, [m.material for m in plan.materials])
    for width in (1, 2, 6):
        cut = Counter[int]()
        for job, sticks in waves(work, width):
            cut[job] += sticks
        assert cut == {j: job.count for j, job in enumerate(work.jobs)}


def test_the_curve_of_cost_against_carts() -> None:
    problem = made_day(35, 8)
    saw = replace(SAW, carts=2)
    curve = window_curve(
        problem, (saw,), (0, 4, 2), settings=Settings(workers=1), effort=Effort(judged=1_000)
    )
    assert [p.window for p in curve.points] == [0, 4, 2]
    assert all(p.objective >= curve.bound > 0 for p in curve.points)
    # Carts planned apart share no stick: two at a time is an order of its own, by hand.
    assert curve.points[2].most <= 2 < curve.points[0].most
    for few, more in itertools.pairwise(curve.choices):
        assert few.most < more.most
        assert few.objective > more.objective
    ended = window_curve(problem, (saw,), (0,), cancelled=lambda: True)
    assert ended.points == ()
