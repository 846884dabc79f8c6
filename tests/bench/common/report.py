"""The table as it is printed, and what the pages of results have in common."""

from __future__ import annotations

import os
import platform
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from statistics import mean, median
from typing import Any

from tests.bench.common.measure import Row
from tests.bench.common.models import MODELS
from tests.bench.common.promises import Check, Clock, by_set

__all__ = [
    "Table",
    "cells",
    "distances",
    "models_table",
    "opening",
    "ratio_of",
    "ruler",
    "sets_table",
    "write",
]


def cells(words: Iterable[str]) -> str:
    """A line of a table."""
    return "| " + " | ".join(words) + " |"


def ruler(texts: int, figures: int = 0) -> str:
    """The line below a table's head."""
    return cells(["---"] * texts + ["---:"] * figures)


def ratio_of(row: Row[Any], name: str) -> str:
    """What a comparison costs beside our bound, in words."""
    ratio = row.ratio(name)
    if ratio is not None:
        return f"{ratio:.4f}"
    return "nothing" if name in row.why else ""


@dataclass(frozen=True)
class Table:
    """The table of instances, on the screen and on the page.

    Attributes
    ----------
    name, money, ratio
        Widths on the screen.
    counts
        What tells how large an instance is: width and figure by heading.
    """

    name: int
    counts: Mapping[str, tuple[int, Callable[[Any], int]]]
    money: int
    ratio: int

    def head(self, names: Iterable[str]) -> str:
        """The first line; `names` of the comparisons."""
        return (
            f"{'instance':<{self.name}}"
            + "".join(f"{word:>{wide}}" for word, (wide, _) in self.counts.items())
            + f"{'objective':>{self.money}}{'bound':>{self.money}}"
            f"{'gap %':>9}{'CPU s':>7}{'wall s':>7}  {'stop':<9}"
            + "".join(f"{name:>{self.ratio}}" for name in names)
        )

    def line(self, row: Row[Any], names: Iterable[str]) -> str:
        """A line: dollars, then every comparison's ratio to our bound."""
        ours, inst = row.ours, row.instance
        return (
            f"{inst.name[: self.name - 1]:<{self.name}}"
            + "".join(f"{of(inst):>{wide}}" for wide, of in self.counts.values())
            + f"{float(ours.objective):>{self.money}.2f}{float(ours.bound):>{self.money}.2f}"
            f"{100 * float(ours.gap):>9.4f}{ours.cpu:>7.2f}{ours.wall:>7.2f}  {ours.stop:<9}"
            + "".join(f"{ratio_of(row, name):>{self.ratio}}" for name in names)
        )

    def on_page(self, rows: Sequence[Row[Any]], names: Sequence[str]) -> list[str]:
        """The same as a table of the page."""
        figures = ["objective", "bound", "gap %", "CPU s", "wall s", "stop"]
        head = ["instance", *self.counts, *figures, *names]
        return [
            cells(head),
            ruler(1, len(head) - 1),
            *(
                cells(
                    [
                        r.instance.name,
                        *(str(of(r.instance)) for _, of in self.counts.values()),
                        f"{float(r.ours.objective):.2f}",
                        f"{float(r.ours.bound):.2f}",
                        f"{100 * float(r.ours.gap):.4f}",
                        f"{r.ours.cpu:.2f}",
                        f"{r.ours.wall:.2f}",
                        r.ours.stop,
                        *(ratio_of(r, name) for name in names),
                    ]
                )
                for r in rows
            ),
        ]


def opening(
    title: str, name: str, words: tuple[str, str], checks: Sequence[Check], told: Mapping[str, str]
) -> list[str]:
    """The beginning of a page: how it was made, what must be shown.

    `name` of the bench; `words`: what the checker sees beyond the rest, and what a ratio of 1 is;
    `told`: settings of the run by name.
    """
    return [
        f"# {title}",
        "",
        f"`python -m tests.bench {name}` writes this page: every figure of one run, on"
        f" {os.cpu_count()} cores, Python {platform.python_version()}. Every plan of cutopt passes"
        f" the checker{words[0]}; every plan of a comparison is checked and costed anew, exactly,"
        " by a small check of its own (`task.py`). Ratios are to the proved bound of cutopt: 1 is"
        f" the least that any plan {words[1]}can cost. "
        + " ".join(f"{k}: {v}." for k, v in told.items()),
        "",
        "## What must be shown",
        "",
        "| figure | measured | required | |",
        "| --- | --- | --- | --- |",
        *(
            cells([c.name, c.measured, c.required, "ok" if c.kept else "**falls short**"])
            for c in checks
        ),
        "",
    ]


def sets_table(
    sets: Mapping[str, Sequence[Row[Any]]],
    abouts: Mapping[str, str],
    names: Sequence[str],
    clock: Clock,
) -> list[str]:
    """A line per set: what was proved, gaps, seconds, mean ratios to the bound."""
    head = ["set", "n", "proved", "median gap", "worst gap", "median s", "worst s", "cutopt"]
    text = [cells([*head, *names]), ruler(len(head) + len(names))]
    for name, rows in sets.items():
        gaps = [100 * float(r.ours.gap) for r in rows]
        seconds = [clock(r.ours) for r in rows]
        line = [
            f"{name}: {abouts[name]}",
            str(len(rows)),
            str(sum(r.ours.optimal for r in rows)),
            f"{median(gaps):.4f} %",
            f"{max(gaps):.4f} %",
            f"{median(seconds):.2f}",
            f"{max(seconds):.2f}",
            f"{mean(r.ours_ratio for r in rows):.5f}",
        ]
        for method in names:
            ratios = [x for r in rows if (x := r.ratio(method)) is not None]
            none = len(rows) - len(ratios)
            more = f" ({none} without a plan)" if none else ""
            line.append(f"{mean(ratios):.4f}{more}" if ratios else "none")
        text.append(cells(line))
    return text


def models_table(rows: Sequence[Row[Any]], about: str, most: int, clock: Clock) -> list[str]:
    """What general-purpose models made of some instances, and why some found nothing.

    `about` the model; `most` variables with which it is built.
    """
    names = list(MODELS.values())
    seen = [r for r in rows if any(n in r.costs or n in r.why for n in names)]
    if not seen:
        return []
    text = [
        "## General-purpose models",
        "",
        f"{about}, the same for all three; ratios to our bound. A model of more than {most:,}"
        " variables is not built and counts as nothing found, as does one that has said nothing"
        " half a minute after its time (building it is not counted).",
        "",
        cells(["instance", "pieces", "cutopt", "cutopt s", *names]),
        ruler(1, 3 + len(names)),
    ]
    for r in seen:
        line = [r.instance.name, str(r.instance.pieces), f"{r.ours_ratio:.5f}"]
        line.append(f"{clock(r.ours):.2f}")
        line += [
            ratio_of(r, n) if n in r.costs else r.why.get(n, "").partition(":")[0] for n in names
        ]
        text.append(cells(line))
    return [*text, ""]


def distances(
    rows: Sequence[Row[Any]], methods: Iterable[str]
) -> dict[str, dict[str, list[float]]]:
    """Per set, per method, ratios to the bound, cutopt's own first."""
    found: dict[str, dict[str, list[float]]] = {}
    for name, own in by_set(rows).items():
        found[name] = {"cutopt": [r.ours_ratio for r in own]}
        for method in methods:
            if ratios := [x for r in own if (x := r.ratio(method)) is not None]:
                found[name][method] = ratios
    return found


def write(folder: Path, files: Mapping[str, str]) -> None:
    """A page and its plots into a folder."""
    folder.mkdir(parents=True, exist_ok=True)
    for name, text in files.items():
        (folder / name).write_text(text, encoding="utf-8")
