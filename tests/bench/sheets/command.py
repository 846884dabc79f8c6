"""The command: what is measured of sheets and ceilings."""

from __future__ import annotations

import argparse
from collections.abc import Iterable, Mapping, Sequence
from pathlib import Path
from typing import ClassVar

from tests.bench.common.command import Bench, run, show_clock, show_wrong
from tests.bench.common.measure import Row
from tests.bench.common.models import MODELS
from tests.bench.common.promises import Check
from tests.bench.sheets.instance import Instance
from tests.bench.sheets.measure import FIELDS, PARTS, measure
from tests.bench.sheets.others import clocked, single_widths, small_bounds
from tests.bench.sheets.plant import order
from tests.bench.sheets.promises import checks_of_rows
from tests.bench.sheets.report import head, line_of, write_page
from tests.bench.sheets.sets import SETS

__all__ = ["main"]

#: (full, sample): small days against enumeration; ceilings against an integer model.
_SMALL = (300, 20)
_SINGLE = (50, 10)


def _single(words: argparse.Namespace) -> list[Check]:
    count = _SINGLE[words.quick]
    print(f"\nsingle: {count} ceilings of one width against an integer model", flush=True)
    wrong = single_widths(count, 81 + words.shift)
    return show_wrong("ceilings of one width equal to a MIP", wrong, count)


def _clock(words: argparse.Namespace) -> list[Check]:
    print("\nclock: seconds given and taken")
    return show_clock(clocked(words.quick, words.shift), 38)


def _bounds(words: argparse.Namespace) -> list[Check]:
    count = _SMALL[words.quick]
    print(f"\nbounds: {count} small days against every pattern that can be cut", flush=True)
    wrong = small_bounds(count, 7 + words.shift)
    return show_wrong("small days against enumeration", wrong, count)


class _Sheets(Bench):
    name = "sheets"
    sets = SETS
    others: ClassVar = {"single": _single, "clock": _clock, "bounds": _bounds}
    small_model = 30

    def options(self, parser: argparse.ArgumentParser) -> None:
        parser.add_argument("--shift", type=int, default=0, help="make instances from other seeds")
        parser.add_argument(
            "--busy", action="store_true", help="thrice the time, and CPU seconds are judged"
        )

    def warm_up(self) -> None:
        measure(order("warm-up", "warm-up", "sheathing", 6, 20, 1), "warm-up")  # libraries loaded

    def instances(self, name: str, words: argparse.Namespace) -> Iterable[Instance]:
        return SETS[name].make(words.quick, words.shift)

    def columns(self, name: str, baselines: bool, models: Sequence[str]) -> list[str]:
        shop = [*(FIELDS if name == "ceilings" else PARTS)] if baselines else []
        return shop + [MODELS[m] for m in models if SETS[name].modelled]

    def head(self, columns: Sequence[str]) -> str:
        return head(columns)

    def line(self, row: Row[Instance], columns: Sequence[str]) -> str:
        return line_of(row, columns)

    def measured(
        self, instance: Instance, name: str, words: argparse.Namespace, models: Sequence[str]
    ) -> Row[Instance]:
        return measure(
            instance,
            name,
            SETS[name].seconds * (3 if words.busy else 1),
            heuristics=not words.no_baselines,
            models=models,
            model_seconds=self.model_seconds[words.quick],
        )

    def checks(self, rows: Sequence[Row[Instance]], words: argparse.Namespace) -> list[Check]:
        return checks_of_rows(rows, words.busy)

    def guards(self, names: Sequence[str], words: argparse.Namespace) -> str:
        guards = sorted({SETS[n].seconds for n in names if n in SETS})
        return f"seed 1, one process, a guard of {guards[0]:g} to {guards[-1]:g} s by set" + (
            ", thrice that on a busy machine" if words.busy else ""
        )

    def write(
        self,
        folder: Path,
        rows: Sequence[Row[Instance]],
        checks: Sequence[Check],
        told: Mapping[str, str],
        cpu: bool,
    ) -> None:
        write_page(folder, rows, checks, told, cpu)


def main(arguments: Sequence[str]) -> int:
    """0 where every promise was kept, 1 where one falls short."""
    return run(_Sheets(), arguments)
