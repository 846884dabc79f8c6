"""`python -m tests.bench floor order [--quick]`: the running order at the saw, measured.

On each demo day by its saws.toml, on 20 made days of 20 to 24 carts (8 at most) and on made days of
40 (10 at most), planned in windows: ours beside plan order, longest first, by stock and section by
section. Each line: most open carts; set-up minutes; per cent over what no order can do without, by
counting and, for ours, with the limit on carts kept; the day's end; cart-minutes late; CPU seconds
of ordering. Every figure of ours is counted again from the assigned plan, stick by stick.

Exits 1 where a promise is missed: 8 carts suffice on 95 % of the days, set-ups at most 15 % over
their bound, lateness at most a third of plan order's, 5 s; of 40 carts 10, 20 %, 15 s; every
assigned plan passes the checker. `--seed N` makes other days, `--mixed` days on which every cart
takes two materials, `--window N` other windows; `--only` and `--days` take a part.
"""

from __future__ import annotations

import argparse
import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from cutopt.files import read_days
from cutopt.files.results import document_text, parse_document
from cutopt.files.saws import read_saws_file
from cutopt.plan import Plan, Problem
from cutopt.plan.check import check_plan
from cutopt.plan.document import plan_document
from cutopt.saw.running import Order, plan_by_windows, running_order, work_of
from cutopt.saw.running.judge import Judge
from cutopt.saw.running.order import Figures, figures_of, judge_listed
from cutopt.saw.running.starts import (
    Listed,
    by_stock,
    longest_first,
    plan_order,
    section_by_section,
)
from cutopt.saw.running.work import Work
from cutopt.saw.saws import Saw, materials_of
from cutopt.solve import Settings, solve
from tests.bench.common.promises import Check
from tests.bench.floor.days import made_day
from tests.saw.running.recount import recount

__all__ = ["Measured", "checks_of", "main", "measure"]

ROOT = Path(__file__).resolve().parents[3]
PLAIN: dict[str, Callable[[Work], Listed]] = {
    "plan order": plan_order,
    "longest first": longest_first,
    "by stock": by_stock,
    "section by section": section_by_section,
}


@dataclass(frozen=True)
class Measured:
    """One saw's day: figures of ours and of the plain orders, CPU seconds, faults."""

    name: str
    order: Order
    plain: dict[str, Figures]
    cpu: float
    faults: tuple[str, ...]

    @property
    def over(self) -> float:
        """The share by which set-ups lie over the bound by counting."""
        f = self.order.figures
        return f.setup_time / f.setup_bound - 1 if f.setup_bound else 0.0

    @property
    def over_within(self) -> float:
        """The same over what the limit on carts needs too."""
        f = self.order.figures
        return f.setup_time / f.setup_bound_within - 1 if f.setup_bound_within else 0.0

    @property
    def lateness(self) -> float:
        """Ours as a share of plan order's."""
        theirs = self.plain["plan order"].late
        return self.order.figures.late / theirs if theirs else 0.0


def measure(name: str, problem: Problem, plan: Plan, saws: Sequence[Saw]) -> list[Measured]:
    """Order what every saw cuts, and the plain orders of the same plan."""
    kinds = [(m.material, m.kind) for m in plan.materials]
    found = []
    for saw in saws:
        others = tuple(s for s in saws if s is not saw)
        materials = materials_of(saw, saws, kinds)
        if not materials:
            continue
        alone = (replace(saw, materials=materials),)
        begin = time.process_time()
        ordered = running_order(plan, alone)
        cpu = time.process_time() - begin
        order = ordered.orders[0]
        work = work_of(plan, saw, materials)
        judge = Judge(work)
        plain = {n: figures_of(work, judge_listed(judge, of(work))) for n, of in PLAIN.items()}
        faults = check_plan(
            problem.days, parse_document(document_text(plan_document(ordered.plan)))
        )
        faults += recount(order, work)
        said = f"{name}, {saw.name}" if others else name
        found.append(Measured(said, order, plain, cpu, tuple(faults)))
    return found


def _line(name: str, f: Figures, cpu: str = "", more: str = "") -> str:
    over = 100 * (f.setup_time / f.setup_bound - 1) if f.setup_bound else 0
    return (
        f"  {name:<20}{f.peak:>5}{f.setup_time / 60_000:>8.1f}{over:>8.1f}{more:>8}"
        f"{f.end / 60_000:>8.0f}{f.late / 60_000:>9.0f}{cpu:>7}"
    )


def show(m: Measured) -> None:
    """A block per saw and day."""
    order = m.order
    sticks = sum(r.count for r in order.runs)
    print(
        f"\n{m.name}: {len(order.carts)} carts, {order.saw.carts} at most"
        f" ({order.verdict.value}), {sticks} sticks"
    )
    head = (
        f"  {'':<20}{'open':>5}{'set-up':>8}{'over %':>8}{'within':>8}{'end':>8}{'late':>9}{'s':>7}"
    )
    print(head)
    print(_line("ours", order.figures, f"{m.cpu:.1f}", f"{100 * m.over_within:.1f}"))
    for name, figures in m.plain.items():
        print(_line(name, figures))
    for fault in m.faults[:5]:
        print("  FAULT", fault)


def checks_of(
    name: str, days: Sequence[Measured], carts: int, over: float, seconds: float
) -> list[Check]:
    """The promises on made days of one size."""
    met = sum(m.order.figures.peak <= carts for m in days)
    mean = sum(m.over for m in days) / len(days)
    within = sum(m.over_within for m in days) / len(days)
    worst = max(m.over for m in days)
    most = max(m.lateness for m in days)
    late = sum(m.lateness for m in days) / len(days)
    slow = max(m.cpu for m in days)
    faults = sum(bool(m.faults) for m in days)
    kept = sum(m.over <= over for m in days)
    return [
        Check(
            f"{name}: {carts} carts suffice",
            f"{met} of {len(days)}",
            "95 %",
            met >= 0.95 * len(days),
        ),
        Check(
            f"{name}: set-ups over their bound",
            f"{kept} of {len(days)} within;"
            f" mean {100 * mean:.1f} %, worst {100 * worst:.1f} %;"
            f" over the bound within the limit, mean {100 * within:.1f} %",
            f"at most {100 * over:.0f} %",
            worst <= over,
        ),
        Check(
            f"{name}: lateness to plan order's",
            f"mean {late:.2f}, worst {most:.2f}",
            "at most 0.33",
            most <= 1 / 3,
        ),
        Check(f"{name}: CPU s", f"worst {slow:.1f}", f"at most {seconds:g}", slow <= seconds),
        Check(f"{name}: plans that do not check", f"{faults}", "none", not faults),
    ]


def _made(
    count: int, sizes: Sequence[int], seed: int, carts: int, window: int, mixed: bool
) -> list[Measured]:
    found = []
    for n in range(count):
        size = sizes[n % len(sizes)]
        problem = made_day(seed + n, size, mixed=mixed)
        saw = Saw("Saw", carts=carts, window=window)
        begin = time.process_time()
        windowed = plan_by_windows(problem, (saw,), Settings(workers=1))
        cpu = time.process_time() - begin
        cost = [sum(m.objective for m in p.materials) for p in (windowed.plan, windowed.whole)]
        m = measure(f"made day {seed + n}", problem, windowed.plan, (saw,))[0]
        show(m)
        dearer = 100 * float(cost[0] / cost[1] - 1)
        print(f"  windows of {window}: {dearer:.2f} % dearer, {cpu:.1f} s for both plans")
        found.append(m)
    return found


def _demo() -> list[Measured]:
    found = []
    for folder in sorted((ROOT / "demo_orders").glob("20*")):
        problem = Problem(read_days([folder]).days)
        saws = read_saws_file(ROOT / "demo_orders" / "saws.toml", problem.unit)
        plan = solve(problem, Settings(workers=1))
        for m in measure(folder.name, problem, plan, saws):
            show(m)
            found.append(m)
    return found


def main(arguments: Sequence[str]) -> int:
    """0 where every promise was kept."""
    parser = argparse.ArgumentParser(prog="python -m tests.bench floor order")
    parser.add_argument("--quick", action="store_true", help="three days and one, no demo days")
    parser.add_argument("--seed", type=int, default=7_000)
    parser.add_argument("--mixed", action="store_true")
    parser.add_argument(
        "--window", type=int, default=0, help="carts planned together; the limit if not given"
    )
    parser.add_argument("--only", choices=("demo", "small", "large"), help="one part alone")
    parser.add_argument("--days", type=int, default=0, help="made days of 20 to 24 carts")
    words = parser.parse_args(arguments)
    checks = []
    if words.only == "demo" or not (words.only or words.quick):
        faults = sum(bool(m.faults) for m in _demo())
        checks.append(Check("demo days: plans that do not check", f"{faults}", "none", not faults))
    if words.only in (None, "small"):
        count = words.days or (3 if words.quick else 20)
        sizes = (20, 21, 22, 23, 24)
        small = _made(count, sizes, words.seed, 8, words.window or 8, words.mixed)
        checks += checks_of("20 to 24 carts", small, 8, 0.15, 5)
    if words.only in (None, "large"):
        count = 1 if words.quick else 5
        large = _made(count, (40,), words.seed, 10, words.window or 10, words.mixed)
        checks += checks_of("40 carts", large, 10, 0.20, 15)
    print()
    for check in checks:
        said = "ok" if check.kept else "SHORT"
        print(f"{check.name}: {check.measured} ({check.required}) {said}")
    return 0 if all(c.kept for c in checks) else 1
