"""What `plan --saws` adds: the running order of each saw, and its figures on the terminal."""

from __future__ import annotations

import argparse
import sys
from pathlib import Path

from cutopt.cli.common import print_rows
from cutopt.files.rows import minutes
from cutopt.files.saws import read_saws_file
from cutopt.measure import show_length
from cutopt.plan import Plan, Problem
from cutopt.saw.running import Effort, Order, Ordered, plan_by_windows, running_order
from cutopt.saw.saws import Saw
from cutopt.saw.stacks import Verdict
from cutopt.solve import Settings

__all__ = ["add_saws", "in_order", "print_orders", "saws_of"]


def add_saws(plan: argparse.ArgumentParser) -> None:
    """The words that ask for a running order."""
    plan.add_argument(
        "--saws",
        type=Path,
        metavar="FILE",
        help="the plant's saws.toml: choose in what order each saw cuts, then give the pieces to "
        "sections",
    )


def saws_of(path: Path, problem: Problem) -> tuple[Saw, ...]:
    """The saws of a file. Raises InputRefused with every fault."""
    return read_saws_file(path, problem.unit, {o.material: o.kind for o in problem.offers})


def in_order(problem: Problem, plan: Plan, saws: tuple[Saw, ...], settings: Settings) -> Ordered:
    """The plan as the saws cut it, made window by window where a saw asks for that."""
    if any(saw.window for saw in saws):
        print("planning by windows", file=sys.stderr)
        windowed = plan_by_windows(problem, saws, settings, plan)
        plan = windowed.plan
        for material, why in windowed.kept_whole:
            print(f"{material}: planned at once: {why}", file=sys.stderr)
    print("choosing the running order", file=sys.stderr)
    return running_order(plan, saws, Effort(seed=settings.seed, seconds=settings.seconds))


def print_orders(orders: tuple[Order, ...], plan: Plan) -> None:
    """A line for each saw, then what a person should know of it."""
    head = ("saw", "pieces", "runs", "carts", "set-up min", "at least", "end min", "late cart-min")
    rows = [
        (
            order.saw.name,
            str(sum(run.count for run in order.runs)),
            str(len(order.runs)),
            _carts(order),
            minutes(order.figures.setup_time),
            minutes(order.figures.setup_bound_within),
            minutes(order.figures.end),
            minutes(order.figures.late),
        )
        for order in orders
    ]
    print()
    print_rows(head, rows)
    for order in orders:
        print(_limit(order))
        if order.cautions:
            least = min(caution.last for caution in order.cautions)
            many = len(order.cautions)
            print(
                f"{order.saw.name}: caution: {many} pattern{'s' * (many > 1)} end"
                f"{'s' * (many == 1)} with a part shorter than the safe hand distance of "
                f"{show_length(order.saw.safe_hand, plan.unit)}, the shortest "
                f"{show_length(least, plan.unit)} (short_end in running_order.csv): cut them as "
                "the shop's rules for short parts say"
            )


def _carts(order: Order) -> str:
    limit = order.saw.carts
    return f"{order.figures.peak} of {limit}" if limit else str(order.figures.peak)


def _limit(order: Order) -> str:
    """What is known of the limit on carts."""
    name, limit = order.saw.name, order.saw.carts
    if not limit:
        peak = order.figures.peak
        return f"{name}: at most {peak} cart{'s' * (peak != 1)} open, no limit is set"
    if order.verdict is Verdict.MET:
        return f"{name}: the limit of {limit} carts is met"
    if order.verdict is Verdict.IMPOSSIBLE:
        carts = ", ".join(f"{cart.section} for {cart.jig}" for cart in order.blocking)
        return f"{name}: no order of this plan keeps {limit} carts: {carts} need more"
    return (
        f"{name}: {order.figures.peak} carts are open at once; whether some order keeps {limit} is "
        "undecided"
    )
