"""The command: what is measured of sticks."""

from __future__ import annotations

import argparse
from collections.abc import Iterable, Mapping, Sequence
from pathlib import Path
from typing import ClassVar

from tests.bench.common.command import Bench, run, show_clock, show_wrong
from tests.bench.common.measure import Row
from tests.bench.common.promises import Check
from tests.bench.lumber.instance import Instance
from tests.bench.lumber.measure import measure
from tests.bench.lumber.others import clocked, same_plans, small_bounds
from tests.bench.lumber.plant import plant
from tests.bench.lumber.promises import checks_of_rows
from tests.bench.lumber.report import HEAD, line_of, write_page
from tests.bench.lumber.sets import SETS

__all__ = ["main"]

_SECONDS = 60.0
#: (full, sample): small instances against an exact model.
_SMALL = (2000, 60)


def _clock(words: argparse.Namespace) -> list[Check]:
    print("\nclock: seconds given and taken")
    return show_clock(clocked(words.quick), 34, workers=True)


def _same(words: argparse.Namespace) -> list[Check]:
    same, days = same_plans(words.quick)
    said = f"{same} of {days} days"
    return [Check("same seed, one and two workers: same plan.json", said, "all", same == days)]


def _bounds(words: argparse.Namespace) -> list[Check]:
    count = _SMALL[words.quick]
    print(f"\nbounds: {count} small instances against an exact outside model", flush=True)
    return show_wrong("small instances against an exact model", small_bounds(count), count)


class _Lumber(Bench):
    name = "lumber"
    sets = SETS
    others: ClassVar = {"clock": _clock, "same": _same, "bounds": _bounds}
    small_model = 60

    def warm_up(self) -> None:
        measure(plant("warm-up", 10, 50, 1), "warm-up")  # modules are read, libraries loaded

    def instances(self, name: str, words: argparse.Namespace) -> Iterable[Instance]:
        return SETS[name].make(words.quick)

    def columns(self, name: str, baselines: bool, models: Sequence[str]) -> list[str]:
        return []  # all sets show the same

    def head(self, columns: Sequence[str]) -> str:
        return HEAD

    def line(self, row: Row[Instance], columns: Sequence[str]) -> str:
        return line_of(row)

    def measured(
        self, instance: Instance, name: str, words: argparse.Namespace, models: Sequence[str]
    ) -> Row[Instance]:
        return measure(
            instance,
            name,
            _SECONDS,
            SETS[name].workers,
            heuristics=not words.no_baselines,
            models=models,
            model_seconds=self.model_seconds[words.quick],
        )

    def checks(self, rows: Sequence[Row[Instance]], words: argparse.Namespace) -> list[Check]:
        return checks_of_rows(rows)

    def guards(self, names: Sequence[str], words: argparse.Namespace) -> str:
        return f"at most {_SECONDS:.0f} s, seed 1, one process where not said"

    def write(
        self,
        folder: Path,
        rows: Sequence[Row[Instance]],
        checks: Sequence[Check],
        told: Mapping[str, str],
        cpu: bool,
    ) -> None:
        write_page(folder, rows, checks, told)


def main(arguments: Sequence[str]) -> int:
    """0 where every promise was kept, 1 where one falls short."""
    return run(_Lumber(), arguments)
