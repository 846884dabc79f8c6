"""The command: measure, print as it goes, exit 1 where a figure falls short."""

from __future__ import annotations

import argparse
import time
from collections.abc import Sequence

from tests.bench.sheets.measure import Row, measure
from tests.bench.sheets.plant import order
from tests.bench.sheets.promises import Check, checks_of_rows
from tests.bench.sheets.report import HEAD, line_of
from tests.bench.sheets.sets import SETS

__all__ = ["main"]


def main(arguments: Sequence[str]) -> int:
    """0 where every promise was kept, 1 where one falls short."""
    parser = argparse.ArgumentParser(prog="python -m tests.bench sheets", description=__doc__)
    parser.add_argument("--quick", action="store_true", help="a sample")
    parser.add_argument(
        "--only", nargs="+", metavar="NAME", choices=[*SETS], help="these sets alone"
    )
    parser.add_argument("--no-baselines", action="store_true", help="cutopt alone")
    parser.add_argument(
        "--no-models", action="store_true", help="without the general-purpose models"
    )
    parser.add_argument("--shift", type=int, default=0, help="make instances from other seeds")
    parser.add_argument("--like", default="", help="instances alone whose name holds this word")
    parser.add_argument(
        "--busy", action="store_true", help="thrice the time, and CPU seconds are judged"
    )
    words = parser.parse_args(arguments)
    names = words.only or [*SETS]
    started = time.perf_counter()
    rows = _rows(names, words)
    checks = checks_of_rows(rows, words.busy) if rows else []
    _told(checks)
    print(f"{(time.perf_counter() - started) / 60:.1f} minutes")
    return 0 if all(c.kept for c in checks) else 1


def _told(checks: Sequence[Check]) -> None:
    print()
    for c in checks:
        word = "ok   " if c.kept else "SHORT"
        print(f"{word} {c.name}: {c.measured} (required: {c.required})")


def _rows(names: Sequence[str], words: argparse.Namespace) -> list[Row]:
    measure(order("warm-up", "warm-up", "sheathing", 6, 20, 1), "warm-up")  # libraries loaded
    rows: list[Row] = []
    for name in names:
        if name not in SETS:
            continue
        own = SETS[name]
        print(f"\n{name}: {own.about}\n{HEAD}", flush=True)
        for instance in own.make(words.quick, words.shift):
            if words.like not in instance.name:
                continue
            row = measure(instance, name, own.seconds * (3 if words.busy else 1))
            rows.append(row)
            print(line_of(row), flush=True)
            for fault in row.ours.faults[:3]:
                print(f"    does not check: {fault}")
    return rows
