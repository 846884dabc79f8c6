"""The command: measure, print as it goes, write the page, exit 1 where a figure falls short."""

from __future__ import annotations

import argparse
import time
from collections.abc import Sequence
from pathlib import Path

from tests.bench.lumber.measure import Row, measure
from tests.bench.lumber.models import MODELS
from tests.bench.lumber.others import clocked, same_plans, small_bounds
from tests.bench.lumber.plant import plant
from tests.bench.lumber.promises import Check, checks_of_clock, checks_of_rows
from tests.bench.lumber.report import HEAD, line_of, write_page
from tests.bench.lumber.sets import SETS

__all__ = ["main"]

_OTHERS = ("clock", "same", "bounds")
_RESULTS = Path(__file__).resolve().parents[1] / "results"
_SECONDS = 60.0
#: (full, sample): seconds of a general-purpose model, small instances against an exact model.
_MODEL_SECONDS = (60.0, 3.0)
_SMALL = (2000, 60)
#: Pieces up to which the models see an instance in a sample.
_SMALL_MODEL = 60


def main(arguments: Sequence[str]) -> int:
    """0 where every promise was kept, 1 where one falls short."""
    parser = argparse.ArgumentParser(prog="python -m tests.bench lumber", description=__doc__)
    parser.add_argument("--quick", action="store_true", help="a sample in under two minutes")
    parser.add_argument(
        "--only", nargs="+", metavar="NAME", choices=[*SETS, *_OTHERS], help="these sets alone"
    )
    parser.add_argument(
        "--no-baselines", action="store_true", help="cutopt alone, without any comparison"
    )
    parser.add_argument(
        "--no-models", action="store_true", help="without the general-purpose models"
    )
    parser.add_argument(
        "--out",
        type=Path,
        help="folder for the page and plots (a full run writes tests/bench/results)",
    )
    words = parser.parse_args(arguments)
    names = words.only or [*SETS, *_OTHERS]
    started = time.perf_counter()
    if words.quick:
        print("a sample: a few instances of each set, models with 3 s instead of 60")
    models = () if words.no_models or words.no_baselines else tuple(MODELS)
    rows = _rows(names, words.quick, not words.no_baselines, models)
    checks = checks_of_rows(rows) if rows else []
    for name, check in (("clock", _clock), ("same", _same), ("bounds", _bounds)):
        if name in names:
            checks += check(words.quick)
    minutes = (time.perf_counter() - started) / 60
    print()
    for c in checks:
        word = "ok   " if c.kept else "SHORT"
        print(f"{word} {c.name}: {c.measured} (required: {c.required})")
    print(f"{minutes:.1f} minutes" + (", a sample" if words.quick else ""))
    full = not (words.quick or words.only or words.no_baselines or words.no_models)
    folder = words.out or (_RESULTS if full else None)
    if folder is not None and rows:
        told = {
            "Plans of cutopt": f"at most {_SECONDS:.0f} s, seed 1, one process where not said",
            "General-purpose models": (
                f"{_MODEL_SECONDS[words.quick]:.0f} s each, one thread (CP-SAT two)"
                if models
                else "left out of this run"
            ),
            "The run": f"{minutes:.0f} minutes"
            + (", a sample only" if words.quick else "")
            + (f", only {', '.join(names)}" if words.only else ""),
        }
        write_page(folder, rows, checks, told)
    return 0 if all(c.kept for c in checks) else 1


def _rows(names: Sequence[str], quick: bool, baselines: bool, models: Sequence[str]) -> list[Row]:
    measure(plant("warm-up", 10, 50, 1), "warm-up")  # modules are read, libraries loaded
    rows: list[Row] = []
    for name in names:
        if name not in SETS:
            continue
        own = SETS[name]
        print(f"\n{name}: {own.about}\n{HEAD}", flush=True)
        for instance in own.make(quick):
            seen = models if instance.name in own.modelled else ()
            if quick and instance.pieces > _SMALL_MODEL:
                seen = ()
            row = measure(
                instance,
                name,
                _SECONDS,
                own.workers,
                heuristics=baselines,
                models=seen,
                model_seconds=_MODEL_SECONDS[quick],
            )
            rows.append(row)
            print(line_of(row), flush=True)
            for solver, why in row.why.items():
                print(f"    {solver}: {why}")
            for fault in row.ours.faults[:3]:
                print(f"    does not check: {fault}")
    return rows


def _clock(quick: bool) -> list[Check]:
    print("\nclock: seconds given and taken")
    found = clocked(quick)
    for c in found:
        late = f"  {c.over:.2f} s too late" if c.over > 0 else ""
        print(f"{c.name:<34}{c.given:>6.1f}{c.wall:>8.2f}  workers {c.workers}{late}", flush=True)
    return checks_of_clock(found)


def _same(quick: bool) -> list[Check]:
    same, days = same_plans(quick)
    said = f"{same} of {days} days"
    return [Check("same seed, one and two workers: same plan.json", said, "all", same == days)]


def _bounds(quick: bool) -> list[Check]:
    count = _SMALL[quick]
    print(f"\nbounds: {count} small instances against an exact outside model", flush=True)
    wrong = small_bounds(count)
    for word in wrong:
        print("   ", word)
    said = f"{len(wrong)} wrong of {count}"
    return [Check("small instances against an exact model", said, "none wrong", not wrong)]
