"""`cutopt plan` and `cutopt check`."""

from __future__ import annotations

import argparse
import sys
from collections import Counter
from concurrent.futures import Executor
from fractions import Fraction
from importlib.metadata import entry_points
from pathlib import Path

from cutopt.cli.common import (
    DOES_NOT_CHECK,
    NOT_CUTTABLE,
    PLANNED,
    Teller,
    add_search,
    can_be_written,
    print_rows,
    print_warnings,
    problem_of,
)
from cutopt.cli.order import add_saws, in_order, print_orders, saws_of
from cutopt.files import outputs, parse_document, read_document, read_tables, write_outputs
from cutopt.files.running import order_files
from cutopt.measure import rounded, show_length
from cutopt.order import stock_order
from cutopt.plan import Plan, Problem, Stop, Unplanned
from cutopt.plan.check import check_plan
from cutopt.records import CutoptError
from cutopt.saw.running import Order
from cutopt.solve import Settings, solve
from cutopt.yields import yields

__all__ = ["add_check", "add_plan"]


def add_plan(plan: argparse.ArgumentParser) -> None:
    """The words of `plan`."""
    add_search(plan)
    plan.add_argument("--out", required=True, type=Path, help="folder for the plan's files")
    plan.add_argument("--scheduler", metavar="ADDRESS", help="solve on a cluster instead")
    add_saws(plan)
    plan.set_defaults(run=_plan)


def add_check(check: argparse.ArgumentParser) -> None:
    """The words of `check`."""
    check.add_argument("days", nargs="+", type=Path, metavar="DAY")
    check.add_argument("--plan", required=True, type=Path, help="the plan.json to check")
    check.set_defaults(run=_check)


def _plan(words: argparse.Namespace) -> int:
    problem = problem_of(words.days)
    can_be_written("--out", words.out, folder=True)
    saws = saws_of(words.saws, problem) if words.saws else ()
    if problem.warnings:
        print(f"{len(problem.warnings)} to look at, listed at the end", file=sys.stderr)
    settings = Settings(seconds=words.seconds, seed=words.seed, workers=words.workers)
    executor = _scheduler(words.scheduler) if words.scheduler else None
    with Teller(len(problem.groups), sys.stderr) as teller:
        plan = solve(problem, settings, teller, executor=executor)
    orders: tuple[Order, ...] = ()
    if any(m.stop is Stop.INTERRUPTED for m in plan.materials):
        print("interrupted: this is the best plan so far", file=sys.stderr)
    elif saws:
        ordered = in_order(problem, plan, saws, settings)
        plan, orders = ordered.plan, ordered.orders
    files = outputs(problem, plan)
    if orders:
        files |= order_files(orders, parse_document(files["plan.json"])["unit"])
    write_outputs(files, words.out)
    _print_figures(problem, plan)
    if orders:
        print_orders(orders, plan)
    print(f"\nwritten to {words.out}: {', '.join(files)}")
    print_warnings(problem)
    return _print_unplanned(plan)


def _print_figures(problem: Problem, plan: Plan) -> None:
    head = (
        "material",
        "parts",
        "pieces",
        "bought",
        "cost",
        "objective",
        "bound",
        "gap %",
        "yield %",
        "waste %",
        "s",
    )
    order = stock_order(plan)
    bought: Counter[str] = Counter()
    for ordered in order:
        bought[ordered.offer.material] += ordered.pieces
    rows = []
    for material, line in zip(plan.materials, yields(plan, problem.rules), strict=True):
        layouts = material.layouts
        rows.append(
            (
                material.material,
                str(sum(len(lay.parts) * lay.count for lay in layouts)),
                str(sum(lay.count for lay in layouts)),
                str(bought[material.material]),
                f"{rounded(material.cost, 2)}",
                f"{rounded(material.objective, 2)}",
                f"{rounded(material.bound, 2)}",
                f"{rounded(100 * material.gap, 4)}",
                f"{rounded(Fraction(line.yield_percent), 2)}",
                f"{rounded(Fraction(line.waste_percent), 2)}",
                f"{material.seconds:.1f}",
            )
        )
    print_rows(head, rows)
    total = sum((m.objective for m in plan.materials), start=Fraction(0))
    print(
        f"objective in all {rounded(total, 2)}: the cost of the pieces of stock, "
        "less the worth of kept drops, plus joints"
    )
    if order:
        pieces = bought.total()
        cost = sum((ordered.extension for ordered in order), start=Fraction(0))
        print(f"to buy {pieces} {'piece' if pieces == 1 else 'pieces'}, {rounded(cost, 2)}")
    else:
        print("nothing is to be bought")


def _print_unplanned(plan: Plan) -> int:
    code = PLANNED
    for material in plan.materials:
        for missing in material.unplanned:
            code = NOT_CUTTABLE
            print(f"not cut: {_unplanned(material.material, missing, plan)}", file=sys.stderr)
    return code


def _unplanned(material: str, missing: Unplanned, plan: Plan) -> str:
    # In the unit of the reason behind it and of the cut lists, never feet beside inches.
    size = show_length(missing.length, plan.unit)
    if missing.width is not None:
        size += f" x {show_length(missing.width, plan.unit)}"
    return (
        f"{missing.qty} of {missing.mark} for {missing.section}, {material}, {size}: "
        f"{missing.reason}"
    )


def _check(words: argparse.Namespace) -> int:
    problem = problem_of(words.days)
    print_warnings(problem)
    tables = read_tables(words.plan.parent)
    faults = check_plan(problem.days, read_document(words.plan), tables)
    for fault in faults:
        print(fault)
    if faults:
        print(f"{words.plan} does not check: {len(faults)} fault{'s' * (len(faults) > 1)}")
        return DOES_NOT_CHECK
    beside = f", with {', '.join(tables)} beside it" if tables else ", no tables beside it"
    print(f"{words.plan} checks: every promise kept{beside}; its bounds are taken as stated")
    return PLANNED


def _scheduler(address: str) -> Executor:
    for entry in entry_points(group="cutopt.schedulers"):
        executor: Executor = entry.load()(address)
        return executor
    raise CutoptError("no scheduler client is installed; install cutopt[cluster]")
