"""The running order of each saw: runs, figures and bounds, and the plan as it is then cut."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from enum import StrEnum

import numpy as np

from cutopt.plan import Layout, Plan, Source
from cutopt.saw.running.assign import layouts_of_runs, plan_of_runs
from cutopt.saw.running.judge import Judge, Judged, Runs
from cutopt.saw.running.limits import needs_of, setup_bound_within
from cutopt.saw.running.search import Effort, Step, no_step, search
from cutopt.saw.running.sticks import Caution, long_first, short_ends
from cutopt.saw.running.work import Cart, Ints, Work, work_of
from cutopt.saw.saws import Saw, materials_of
from cutopt.saw.stacks import Verdict, can_hold

__all__ = [
    "CartTimes",
    "Figures",
    "Order",
    "Ordered",
    "Run",
    "Setup",
    "figures_of",
    "judge_listed",
    "running_order",
]


class Setup(StrEnum):
    """What is set up before a run."""

    MATERIAL = "material"
    STOCK = "stock"
    STOP = "stop"
    NONE = "none"


_SETUPS = (Setup.MATERIAL, Setup.STOCK, Setup.STOP, Setup.NONE)


@dataclass(frozen=True, slots=True)
class Figures:
    """What an order comes to, in milliseconds.

    `setup_bound` no order can do without; `setup_bound_within` none that keeps the limit on carts.
    `late` adds up by how much each cart is full after it is due.
    """

    peak: int
    materials: int
    stocks: int
    stops: int
    setup_time: int
    setup_bound: int
    setup_bound_within: int
    end: int
    late: int


@dataclass(frozen=True, slots=True)
class Run:
    """Sticks cut to one pattern, one behind the other.

    `layouts` are those of the assigned plan, in order; `begin` and `end` in milliseconds from the
    start of the saw's work, set-up included.
    """

    material: str
    pattern: str
    stock_row: int
    source: Source
    count: int
    setup: Setup
    begin: int
    end: int
    layouts: tuple[Layout, ...]


@dataclass(frozen=True, slots=True)
class CartTimes:
    """The numbers of a cart's first and last stick, from 0, and when it is full and was due, ms."""

    cart: Cart
    first: int
    last: int
    full: int
    due: int


@dataclass(frozen=True)
class Order:
    """The running order of one saw.

    `verdict` tells of the limit on carts: met by this order, proved impossible, with carts in
    `blocking` whose own parts make it so, or undecided.
    """

    saw: Saw
    runs: tuple[Run, ...]
    carts: tuple[CartTimes, ...]
    figures: Figures
    verdict: Verdict
    blocking: tuple[Cart, ...]
    cautions: tuple[Caution, ...]
    judged: int
    broken_off: bool


@dataclass(frozen=True)
class Ordered:
    """The plan with its final sections, layouts as they are cut, and an order for each saw."""

    plan: Plan
    orders: tuple[Order, ...]


def _never() -> bool:
    return False


def running_order(
    plan: Plan,
    saws: Sequence[Saw],
    effort: Effort | None = None,
    report: Callable[[Step], None] = no_step,
    cancelled: Callable[[], bool] = _never,
) -> Ordered:
    """Order what each saw cuts, then give the pieces to sections.

    Parameters
    ----------
    plan
        Any plan; its money, bounds and patterns' numbers stay.
    saws
        The plant's saws; what none of them cuts stays as it is.
    effort
        How long to search for each saw, and the seed.
    report
        Told where each search stands.
    cancelled
        Asked now and then; True ends the search with the best order so far.
    """
    effort = effort or Effort()
    kinds = [(m.material, m.kind) for m in plan.materials]
    orders = []
    for saw in saws:
        materials = materials_of(saw, saws, kinds)
        plan = long_first(plan, saw, materials)
        work = work_of(plan, saw, materials)
        if not work.jobs:
            continue
        judge = Judge(work)
        found = search(judge, effort, report, cancelled)
        layouts = layouts_of_runs(plan, work, found.order, judge.ranking)
        judged = judge_listed(judge, found.order)
        verdict, blocking = _verdict(work, int(judged.peak[0]))
        plan = plan_of_runs(plan, work, layouts)
        orders.append(
            Order(
                saw=saw,
                runs=_runs(judge, found.order, layouts),
                carts=_carts(work, judged),
                figures=figures_of(work, judged),
                verdict=verdict,
                blocking=blocking,
                cautions=short_ends(plan, saw, materials),
                judged=found.judged,
                broken_off=found.broken_off,
            )
        )
    return Ordered(plan, tuple(orders))


def judge_listed(judge: Judge, order: Sequence[tuple[int, int]]) -> Judged:
    """Figures of one order given as (job, sticks)."""
    jobs = np.array([j for j, _ in order], np.int64)
    judge.take(Runs(jobs, np.array([n for _, n in order], np.int64)))
    return judge.judge(np.arange(len(order))[None])


def figures_of(work: Work, judged: Judged) -> Figures:
    """The figures of the first order judged, with the bounds."""
    materials, stocks, stops = (int(n) for n in judged.changes[0])
    return Figures(
        peak=int(judged.peak[0]),
        materials=materials,
        stocks=stocks,
        stops=stops,
        setup_time=int(judged.setup_time[0]),
        setup_bound=work.setup_bound,
        setup_bound_within=setup_bound_within(work, work.saw.carts),
        end=int(judged.end[0]),
        late=int(judged.late[0]),
    )


def _verdict(work: Work, peak: int) -> tuple[Verdict, tuple[Cart, ...]]:
    limit = work.saw.carts
    if not limit or peak <= limit:
        return Verdict.MET, ()
    held = can_hold(needs_of(work), limit)
    if held.verdict is Verdict.IMPOSSIBLE:
        return held.verdict, tuple(work.carts[c] for c in held.blocking)
    # An order of sticks may yet need more carts than one of what they must serve.
    return Verdict.UNDECIDED, ()


def _runs(
    judge: Judge, order: Sequence[tuple[int, int]], layouts: Sequence[Sequence[Layout]]
) -> tuple[Run, ...]:
    kinds, setups = judge.setups(np.arange(len(order))[None])
    sticks: Ints = judge.work.stick_time
    found = []
    now = 0
    for (index, count), made, kind, setup in zip(
        order, layouts, kinds[0].tolist(), setups[0].tolist(), strict=True
    ):
        job = judge.work.jobs[index]
        end = now + setup + count * int(sticks[index])
        found.append(
            Run(
                material=job.material,
                pattern=job.pattern,
                stock_row=job.offer.row,
                source=job.source,
                count=count,
                setup=_SETUPS[kind],
                begin=now,
                end=end,
                layouts=tuple(made),
            )
        )
        now = end
    return tuple(found)


def _carts(work: Work, judged: Judged) -> tuple[CartTimes, ...]:
    return tuple(
        CartTimes(cart, first, last, full, due)
        for cart, first, last, full, due in zip(
            work.carts,
            judged.opens[0].tolist(),
            judged.closes[0].tolist(),
            judged.full[0].tolist(),
            work.due.tolist(),
            strict=True,
        )
    )
