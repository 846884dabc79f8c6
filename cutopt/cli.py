"""The command: `cutopt plan`, `cutopt check`, `cutopt serve`.

Exit codes: 0 done; 2 input refused; 3 something can't be cut from the stock offered (the rest is
planned and written); 4 the plan does not check.
"""

from __future__ import annotations

import argparse
import os
import sys
from collections.abc import Sequence
from concurrent.futures import Executor
from fractions import Fraction
from importlib.metadata import entry_points
from pathlib import Path
from typing import TextIO

from tqdm import tqdm

from cutopt import __version__
from cutopt.files import outputs, read_days, read_document, read_tables, write_outputs
from cutopt.measure import rounded, show_length
from cutopt.plan import Plan, Problem, Source, Stop, Unplanned
from cutopt.plan.check import check_plan
from cutopt.records import CutoptError, InputRefused, PlanFaulty
from cutopt.solve import Progress, Settings, solve
from cutopt.yields import yields

__all__ = ["main"]

PLANNED, REFUSED, NOT_CUTTABLE, DOES_NOT_CHECK = 0, 2, 3, 4


def main(arguments: Sequence[str] | None = None) -> int:
    """Run the command and return its exit code."""
    words = _parser().parse_args(arguments)
    try:
        return int(words.run(words))
    except InputRefused as error:
        for fault in error.faults:
            print(fault, file=sys.stderr)
        for warning in error.warnings:
            print(f"warning: {warning}", file=sys.stderr)
        count = len(error.faults)
        print(f"{count} fault{'s' * (count > 1)}; nothing was planned", file=sys.stderr)
        return REFUSED
    except PlanFaulty as error:
        for line in error.faults:
            print(line, file=sys.stderr)
        print("the plan does not check; nothing was written", file=sys.stderr)
        return DOES_NOT_CHECK
    except (CutoptError, OSError) as error:
        print(f"cutopt: {error}", file=sys.stderr)
        return REFUSED


def _parser() -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(
        prog="cutopt",
        description="Plan what to buy and how to cut it, with proof of how good the plan is. "
        "The tool cuts to approved drawings: it chooses no size, grade, spacing, header or joint.",
    )
    parser.add_argument("--version", action="version", version=f"cutopt {__version__}")
    commands = parser.add_subparsers(required=True, metavar="COMMAND")

    plan = commands.add_parser("plan", help="plan one day or several together")
    plan.add_argument("days", nargs="+", type=Path, metavar="DAY", help="a day folder or workbook")
    plan.add_argument("--out", required=True, type=Path, help="folder for the plan's files")
    plan.add_argument(
        "--seconds", type=_seconds, default=60.0, help="most time to search (default 60)"
    )
    plan.add_argument("--seed", type=_count, default=1, help="same seed, same plan (default 1)")
    plan.add_argument(
        "--workers", type=_count, default=0, help="processes side by side (default: the cores)"
    )
    plan.add_argument("--scheduler", metavar="ADDRESS", help="solve on a cluster instead")
    plan.set_defaults(run=_plan)

    check = commands.add_parser("check", help="check a plan against its day folders alone")
    check.add_argument("days", nargs="+", type=Path, metavar="DAY")
    check.add_argument("--plan", required=True, type=Path, help="the plan.json to check")
    check.set_defaults(run=_check)

    serve = commands.add_parser("serve", help="start the service for the saw stations")
    serve.add_argument("--demo", action="store_true", help="on this machine only, with demo days")
    serve.add_argument("--host", default="127.0.0.1")
    serve.add_argument("--port", type=_count, default=8080)
    serve.set_defaults(run=_serve)
    return parser


def _seconds(text: str) -> float:
    try:
        value = float(text)
    except ValueError as error:
        raise argparse.ArgumentTypeError(f"'{text}' is no number of seconds") from error
    if not 0 < value <= 86_400:
        raise argparse.ArgumentTypeError("seconds above 0 and at most 86400")
    return value


def _count(text: str) -> int:
    try:
        value = int(text)
    except ValueError as error:
        raise argparse.ArgumentTypeError(f"'{text}' is no whole number") from error
    if not 0 <= value < 2**31:
        raise argparse.ArgumentTypeError("a whole number, zero or more")
    return value


def _problem(days: Sequence[Path]) -> Problem:
    reading = read_days(days)
    return Problem(reading.days, reading.warnings)


def _print_warnings(problem: Problem) -> None:
    """Last, so that no progress scrolls them away."""
    for warning in problem.warnings:
        print(f"warning: {warning}", file=sys.stderr)


def _plan(words: argparse.Namespace) -> int:
    problem = _problem(words.days)
    _can_be_written(words.out)
    if problem.warnings:
        print(f"{len(problem.warnings)} to look at, listed at the end", file=sys.stderr)
    settings = Settings(seconds=words.seconds, seed=words.seed, workers=words.workers)
    executor = _scheduler(words.scheduler) if words.scheduler else None
    with _Teller(len(problem.groups), sys.stderr) as teller:
        plan = solve(problem, settings, teller, executor=executor)
    if any(m.stop is Stop.INTERRUPTED for m in plan.materials):
        print("interrupted: this is the best plan so far", file=sys.stderr)
    files = outputs(problem, plan)
    write_outputs(files, words.out)
    _print_figures(problem, plan)
    print(f"\nwritten to {words.out}: {', '.join(files)}")
    _print_warnings(problem)
    return _print_unplanned(plan)


def _can_be_written(out: Path) -> None:
    """Say so before the search where the plan could not be written after it."""
    there = next(p for p in (out, *out.absolute().parents) if p.exists())
    if not there.is_dir():
        raise CutoptError(f"--out {out}: {there} is a file, a folder would be right")
    if not os.access(there, os.W_OK | os.X_OK):
        raise CutoptError(f"--out {out}: {there} may not be written to")


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
    rows = []
    for material, line in zip(plan.materials, yields(plan, problem.rules), strict=True):
        layouts = material.layouts
        rows.append(
            (
                material.material,
                str(sum(len(lay.parts) * lay.count for lay in layouts)),
                str(sum(lay.count for lay in layouts)),
                str(sum(lay.count for lay in layouts if lay.source is Source.BUY)),
                f"{rounded(material.cost, 2)}",
                f"{rounded(material.objective, 2)}",
                f"{rounded(material.bound, 2)}",
                f"{rounded(100 * material.gap, 4)}",
                f"{rounded(Fraction(line.yield_percent), 2)}",
                f"{rounded(Fraction(line.waste_percent), 2)}",
                f"{material.seconds:.1f}",
            )
        )
    widths = [max(len(r[i]) for r in [head, *rows]) for i in range(len(head))]
    for row in [head, *rows]:
        cells = [row[0].ljust(widths[0])]
        cells += [c.rjust(w) for c, w in zip(row[1:], widths[1:], strict=True)]
        print("  ".join(cells))
    total = sum((m.objective for m in plan.materials), start=Fraction(0))
    print(
        f"objective in all {rounded(total, 2)}: the cost of the pieces of stock, "
        "less the worth of kept drops, plus joints"
    )


def _print_unplanned(plan: Plan) -> int:
    code = PLANNED
    for material in plan.materials:
        for missing in material.unplanned:
            code = NOT_CUTTABLE
            print(f"not cut: {_unplanned(material.material, missing, plan)}", file=sys.stderr)
    return code


def _unplanned(material: str, missing: Unplanned, plan: Plan) -> str:
    size = show_length(missing.length, plan.unit, feet=plan.unit == "in")
    if missing.width is not None:
        size += f" x {show_length(missing.width, plan.unit)}"
    return (
        f"{missing.qty} of {missing.mark} for {missing.section}, {material}, {size}: "
        f"{missing.reason}"
    )


def _check(words: argparse.Namespace) -> int:
    problem = _problem(words.days)
    _print_warnings(problem)
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


def _serve(words: argparse.Namespace) -> int:
    found = entry_points(group="cutopt.commands", name="serve")
    for entry in found:
        return int(entry.load()(host=words.host, port=words.port, demo=words.demo))
    raise CutoptError("the service is not installed beside the library")


def _scheduler(address: str) -> Executor:
    for entry in entry_points(group="cutopt.schedulers"):
        executor: Executor = entry.load()(address)
        return executor
    raise CutoptError("no scheduler client is installed; install cutopt[cluster]")


class _Teller:
    """A bar on a terminal, plain lines otherwise."""

    def __init__(self, groups: int, stream: TextIO) -> None:
        self._bar = (
            tqdm(total=groups, unit="material", file=stream, leave=False)
            if stream.isatty()
            else None
        )
        self._groups = groups
        self._done = 0
        self._stream = stream

    def __enter__(self) -> _Teller:
        return self

    def __exit__(self, *exc: object) -> None:
        if self._bar is not None:
            self._bar.close()

    def __call__(self, progress: Progress) -> None:
        names = ", ".join(progress.materials)
        if progress.done:
            self._done += 1
        if self._bar is not None:
            self._bar.set_description_str(f"{names}: {progress.phase}")
            self._bar.update(self._done - self._bar.n)
        elif progress.done:
            figures = ""
            if progress.objective is not None and progress.bound is not None:
                figures = f", objective {progress.objective:.2f}, bound {progress.bound:.2f}"
            print(f"{self._done}/{self._groups} {names}{figures}", file=self._stream, flush=True)


if __name__ == "__main__":
    sys.exit(main())
