"""The command: measure, print as it goes, write the page, exit 1 where a figure falls short."""

from __future__ import annotations

import argparse
import time
from collections.abc import Sequence
from pathlib import Path

from tests.bench.sheets.measure import FIELDS, PARTS, Row, measure
from tests.bench.sheets.models import MODELS
from tests.bench.sheets.others import clocked, single_widths, small_bounds
from tests.bench.sheets.plant import order
from tests.bench.sheets.promises import Check, checks_of_clock, checks_of_rows
from tests.bench.sheets.report import head, line_of, write_page
from tests.bench.sheets.sets import SETS

__all__ = ["main"]

_OTHERS = ("single", "clock", "bounds")
_RESULTS = Path(__file__).resolve().parents[1] / "results"
#: (full, sample): seconds of a general-purpose model; small days against enumeration.
_MODEL_SECONDS = (60.0, 3.0)
_SMALL = (300, 20)
_SINGLE = (50, 10)
#: Pieces up to which the models see an instance in a sample.
_SMALL_MODEL = 30


def main(arguments: Sequence[str]) -> int:
    """0 where every promise was kept, 1 where one falls short."""
    parser = argparse.ArgumentParser(prog="python -m tests.bench sheets", description=__doc__)
    parser.add_argument("--quick", action="store_true", help="a sample")
    parser.add_argument(
        "--only", nargs="+", metavar="NAME", choices=[*SETS, *_OTHERS], help="these sets alone"
    )
    parser.add_argument("--no-baselines", action="store_true", help="without any comparison")
    parser.add_argument(
        "--no-models", action="store_true", help="without the general-purpose models"
    )
    parser.add_argument("--shift", type=int, default=0, help="make instances from other seeds")
    parser.add_argument("--like", default="", help="instances alone whose name holds this word")
    parser.add_argument(
        "--busy", action="store_true", help="thrice the time, and CPU seconds are judged"
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
    rows = _rows(names, words)
    checks = checks_of_rows(rows, words.busy) if rows else []
    for name, check in (("single", _single), ("clock", _clock), ("bounds", _bounds)):
        if name in names:
            checks += check(words.quick, words.shift)
    minutes = (time.perf_counter() - started) / 60
    print()
    for c in checks:
        word = "ok   " if c.kept else "SHORT"
        print(f"{word} {c.name}: {c.measured} (required: {c.required})")
    print(f"{minutes:.1f} minutes" + (", a sample" if words.quick else ""))
    partly = words.quick or words.only or words.no_baselines or words.no_models
    full = not (partly or words.shift or words.like or words.busy)
    folder = words.out or (_RESULTS if full else None)
    if folder is not None and rows:
        write_page(folder, rows, checks, _settings(words, names, minutes))
    return 0 if all(c.kept for c in checks) else 1


def _settings(words: argparse.Namespace, names: Sequence[str], minutes: float) -> dict[str, str]:
    models = not (words.no_models or words.no_baselines)
    guards = sorted({SETS[n].seconds for n in names if n in SETS})
    told = {
        "Plans of cutopt": (
            f"seed 1, one process, a guard of {guards[0]:g} to {guards[-1]:g} s by set"
            + (", thrice that on a busy machine" if words.busy else "")
        ),
        "General-purpose models": (
            f"{_MODEL_SECONDS[words.quick]:.0f} s each, one thread (CP-SAT two)"
            if models
            else "left out of this run"
        ),
        "The run": f"{minutes:.0f} minutes"
        + (", a sample only" if words.quick else "")
        + (f", only {', '.join(names)}" if words.only else ""),
    }
    if words.shift:
        told["Seeds"] = f"shifted by {words.shift}"
    return told


def _rows(names: Sequence[str], words: argparse.Namespace) -> list[Row]:
    measure(order("warm-up", "warm-up", "sheathing", 6, 20, 1), "warm-up")  # libraries loaded
    baselines = not words.no_baselines
    models = () if words.no_models or words.no_baselines else tuple(MODELS)
    rows: list[Row] = []
    for name in names:
        if name not in SETS:
            continue
        own = SETS[name]
        columns = [*(FIELDS if name == "ceilings" else PARTS)] if baselines else []
        columns += [MODELS[m] for m in models if own.modelled]
        print(f"\n{name}: {own.about}\n{head(columns)}", flush=True)
        for instance in own.make(words.quick, words.shift):
            if words.like not in instance.name:
                continue
            seen = models if instance.name in own.modelled else ()
            if words.quick and instance.pieces > _SMALL_MODEL:
                seen = ()
            row = measure(
                instance,
                name,
                own.seconds * (3 if words.busy else 1),
                heuristics=baselines,
                models=seen,
                model_seconds=_MODEL_SECONDS[words.quick],
            )
            rows.append(row)
            print(line_of(row, columns), flush=True)
            for method, why in row.why.items():
                print(f"    {method}: {why}")
            for fault in row.ours.faults[:3]:
                print(f"    does not check: {fault}")
    return rows


def _single(quick: bool, shift: int) -> list[Check]:
    count = _SINGLE[quick]
    print(f"\nsingle: {count} ceilings of one width against an integer model", flush=True)
    return [_wrong("ceilings of one width equal to a MIP", single_widths(count, 81 + shift), count)]


def _clock(quick: bool, shift: int) -> list[Check]:
    print("\nclock: seconds given and taken")
    found = clocked(quick, shift)
    for c in found:
        late = f"  {c.over:.2f} s too late" if c.over > 0 else ""
        print(f"{c.name:<38}{c.given:>6.1f}{c.wall:>8.2f}{late}", flush=True)
    return checks_of_clock(found)


def _bounds(quick: bool, shift: int) -> list[Check]:
    count = _SMALL[quick]
    print(f"\nbounds: {count} small days against every pattern that can be cut", flush=True)
    return [_wrong("small days against enumeration", small_bounds(count, 7 + shift), count)]


def _wrong(name: str, words: Sequence[str], count: int) -> Check:
    for word in words:
        print("   ", word)
    return Check(name, f"{len(words)} wrong of {count}", "none wrong", not words)
