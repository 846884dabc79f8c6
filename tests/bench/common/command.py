"""The command: measure, print as it goes, write the page, exit 1 where a figure falls short."""

from __future__ import annotations

import argparse
import time
from abc import ABC, abstractmethod
from collections.abc import Callable, Iterable, Mapping, Sequence
from pathlib import Path
from typing import Any, ClassVar

from tests.bench.common.days import RESULTS, ROOT
from tests.bench.common.kept import Kept
from tests.bench.common.measure import Row
from tests.bench.common.models import MODELS
from tests.bench.common.promises import Check, Clocked, checks_of_clock

__all__ = ["Bench", "run", "show_clock", "show_wrong"]


class Bench(ABC):
    """What the command measures: sets of instances, and what is no table of plans.

    Attributes
    ----------
    name
        Of the command, and of its page.
    sets
        Each with what it shows (`about`) and which instances the slow models see (`modelled`).
    others
        Beside the sets; each gives checks.
    model_seconds
        Of a general-purpose model, in a full run and in a sample.
    small_model
        Pieces up to which the models see an instance in a sample.
    """

    name: ClassVar[str]
    sets: ClassVar[Mapping[str, Any]]
    others: ClassVar[Mapping[str, Callable[[argparse.Namespace], list[Check]]]]
    model_seconds: ClassVar[tuple[float, float]] = (60.0, 3.0)
    small_model: ClassVar[int]

    def options(self, parser: argparse.ArgumentParser) -> None:  # noqa: B027
        """Add what this command alone knows."""

    @abstractmethod
    def warm_up(self) -> None:
        """Whatever must not be part of the first row's seconds."""

    @abstractmethod
    def instances(self, name: str, words: argparse.Namespace) -> Iterable[Any]:
        """Those of a set."""

    @abstractmethod
    def columns(self, name: str, baselines: bool, models: Sequence[str]) -> list[str]:
        """The comparisons that a set's table shows."""

    @abstractmethod
    def head(self, columns: Sequence[str]) -> str:
        """The table's first line."""

    @abstractmethod
    def line(self, row: Row[Any], columns: Sequence[str]) -> str:
        """A line of the table."""

    @abstractmethod
    def measured(
        self, instance: Any, name: str, words: argparse.Namespace, models: Sequence[str]
    ) -> Row[Any]:
        """A row: an instance of a set, what the words say, the models that see it."""

    @abstractmethod
    def checks(self, rows: Sequence[Row[Any]], words: argparse.Namespace) -> list[Check]:
        """The promises of what was measured."""

    @abstractmethod
    def guards(self, names: Sequence[str], words: argparse.Namespace) -> str:
        """How cutopt's own plans were made, in words."""

    @abstractmethod
    def write(
        self,
        folder: Path,
        rows: Sequence[Row[Any]],
        checks: Sequence[Check],
        told: Mapping[str, str],
        cpu: bool,
    ) -> None:
        """The page and its plots."""


def run(bench: Bench, arguments: Sequence[str]) -> int:
    """0 where every promise was kept, 1 where one falls short."""
    words = _words(bench, arguments)
    names = words.only or [*bench.sets, *bench.others]
    in_turn = [*words.first, *(n for n in names if n in bench.sets), *bench.others]
    partly = words.quick or words.only or words.no_baselines or words.no_models
    full = not (partly or words.shift or words.like)
    kept = Kept(words.rows or (_kept_in(bench) if full or words.resume else None), _same(words))
    kept.begin(words.resume)
    if words.quick:
        print(
            "a sample: a few instances of each set, models with"
            f" {bench.model_seconds[1]:.0f} s instead of {bench.model_seconds[0]:.0f}"
        )
    bench.warm_up()
    found: dict[str, list[Row[Any]]] = {}
    told_by: dict[str, list[Check]] = {}
    for name in dict.fromkeys(n for n in in_turn if n in names):
        if name in bench.sets:
            found[name] = _rows(bench, name, words, kept)
        else:
            told_by[name] = _other(bench, name, words, kept)
    rows = [row for name in names for row in found.get(name, ())]
    checks = bench.checks(rows, words) if rows else []
    checks += [check for name in bench.others for check in told_by.get(name, ())]
    print()
    for c in checks:
        word = "ok   " if c.kept else "SHORT"
        print(f"{word} {c.name}: {c.measured} (required: {c.required})")
    minutes = f"{kept.seconds / 60:.1f} minutes"
    taken_up = f", {kept.taken_up} figures of them taken up" if kept.taken_up else ""
    print(minutes + (", a sample" if words.quick else "") + taken_up)
    folder = words.out or (RESULTS if full else None)
    if folder is not None and rows:
        bench.write(folder, rows, checks, _told(bench, words, names, kept), words.busy)
    return 0 if all(c.kept for c in checks) else 1


def _words(bench: Bench, arguments: Sequence[str]) -> argparse.Namespace:
    parser = argparse.ArgumentParser(prog=f"python -m tests.bench {bench.name}")
    parser.description = __doc__
    parser.set_defaults(shift=0, busy=False)
    known = [*bench.sets, *bench.others]
    parser.add_argument("--quick", action="store_true", help="a sample")
    parser.add_argument("--only", nargs="+", metavar="NAME", choices=known, help="these sets alone")
    parser.add_argument(
        "--first",
        nargs="+",
        metavar="NAME",
        choices=known,
        default=[],
        help="these sets before all others, in this order; the page is the same",
    )
    parser.add_argument("--like", default="", help="instances alone whose name holds this word")
    parser.add_argument("--no-baselines", action="store_true", help="without any comparison")
    parser.add_argument(
        "--no-models", action="store_true", help="without the general-purpose models"
    )
    bench.options(parser)
    parser.add_argument(
        "--rows",
        type=Path,
        metavar="FILE",
        help="keep each figure here as it comes, a JSON line each (a full run keeps them in"
        f" {_kept_in(bench).relative_to(ROOT)})",
    )
    parser.add_argument(
        "--resume", action="store_true", help="take up what a run of these settings has kept"
    )
    parser.add_argument(
        "--out",
        type=Path,
        help=f"folder for the page and plots (a full run writes {RESULTS.relative_to(ROOT)})",
    )
    return parser.parse_args(arguments)


def _kept_in(bench: Bench) -> Path:
    return ROOT / "out" / "bench" / f"{bench.name}.jsonl"


def _same(words: argparse.Namespace) -> dict[str, Any]:
    """What must be equal for a figure to be taken up."""
    names = ("quick", "shift", "busy", "no_baselines", "no_models")
    return {name: getattr(words, name) for name in names}


def _models(words: argparse.Namespace) -> tuple[str, ...]:
    return () if words.no_models or words.no_baselines else tuple(MODELS)


def _rows(bench: Bench, name: str, words: argparse.Namespace, kept: Kept) -> list[Row[Any]]:
    own = bench.sets[name]
    models = _models(words)
    columns = bench.columns(name, not words.no_baselines, models)
    print(f"\n{name}: {own.about}\n{bench.head(columns)}", flush=True)
    rows = []
    for instance in bench.instances(name, words):
        if words.like not in instance.name:
            continue
        row = kept.row(instance, name)
        if row is None:
            seen = models if instance.name in own.modelled else ()
            if words.quick and instance.pieces > bench.small_model:
                seen = ()
            started = time.perf_counter()
            row = bench.measured(instance, name, words, seen)
            kept.keep_row(row, time.perf_counter() - started)
        rows.append(row)
        print(bench.line(row, columns), flush=True)
        for method, why in row.why.items():
            print(f"    {method}: {why}")
        for fault in row.ours.faults[:3]:
            print(f"    does not check: {fault}")
    return rows


def _other(bench: Bench, name: str, words: argparse.Namespace, kept: Kept) -> list[Check]:
    checks = kept.checks(name)
    if checks is not None:
        print(f"\n{name}: taken up", flush=True)
        return checks
    started = time.perf_counter()
    checks = bench.others[name](words)
    kept.keep_checks(name, checks, time.perf_counter() - started)
    return checks


def _told(
    bench: Bench, words: argparse.Namespace, names: Sequence[str], kept: Kept
) -> dict[str, str]:
    """The settings of a run, for its page."""
    told = {
        "Plans of cutopt": bench.guards(names, words),
        "General-purpose models": (
            f"{bench.model_seconds[words.quick]:.0f} s each, one thread (CP-SAT two)"
            if _models(words)
            else "left out of this run"
        ),
        "The run": f"{kept.seconds / 60:.0f} minutes"
        + (", a sample only" if words.quick else "")
        + (f", only {', '.join(names)}" if words.only else "")
        + (f", only names with {words.like}" if words.like else "")
        + (f", in parts: {kept.taken_up} figures were taken up" if kept.taken_up else "")
        + (
            f", the code edited in between ({len(kept.codes)} states of it)"
            if len(kept.codes) > 1
            else ""
        ),
    }
    if words.shift:
        told["Seeds"] = f"shifted by {words.shift}"
    if words.busy:
        told["Other work"] = (
            "ran beside it on the same cores, so CPU seconds are judged, not wall seconds; time"
            " limits and general-purpose models went by the wall clock all the same"
        )
    return told


def show_clock(clocked: Sequence[Clocked], wide: int, workers: bool = False) -> list[Check]:
    """Print what plans took of the seconds that they were given.

    `wide`: columns of a name; `workers`: say how many processes planned each.
    """
    for c in clocked:
        late = f"  {c.over:.2f} s too late" if c.over > 0 else ""
        many = f"  workers {c.workers}" if workers else ""
        print(f"{c.name:<{wide}}{c.given:>6.1f}{c.wall:>8.2f}{many}{late}", flush=True)
    return checks_of_clock(clocked)


def show_wrong(name: str, wrong: Sequence[str], count: int) -> list[Check]:
    """Print what an outside model found wrong, of so many."""
    for word in wrong:
        print("   ", word)
    return [Check(name, f"{len(wrong)} wrong of {count}", "none wrong", not wrong)]
