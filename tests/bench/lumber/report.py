"""The table as it is printed, and the page of results with its plots."""

from __future__ import annotations

import os
import platform
from collections.abc import Mapping, Sequence
from pathlib import Path
from statistics import mean, median

from tests.bench.lumber.assignment import MOST_VARIABLES
from tests.bench.lumber.chart import COLOURS, distance_plot, growth_plot
from tests.bench.lumber.measure import HEURISTICS, Row
from tests.bench.lumber.models import MODELS
from tests.bench.lumber.promises import Check
from tests.bench.lumber.sets import SETS

__all__ = ["HEAD", "line_of", "page", "plots", "write_page"]

_NAMES = (*HEURISTICS, *MODELS.values())
HEAD = (
    f"{'instance':<34}{'lengths':>8}{'pieces':>9}{'stock':>6}{'objective':>13}{'bound':>13}"
    f"{'gap %':>9}{'CPU s':>7}{'wall s':>7}  {'stop':<9}"
    + "".join(f"{name:>11}" for name in _NAMES)
)


def line_of(row: Row) -> str:
    """A line of the table: dollars, then every comparison's ratio to our bound."""
    ours, inst = row.ours, row.instance
    ratios = "".join(f"{_ratio(row, name):>11}" for name in _NAMES)
    return (
        f"{inst.name[:33]:<34}{inst.lengths:>8}{inst.pieces:>9}{inst.sizes:>6}"
        f"{float(ours.objective):>13.2f}{float(ours.bound):>13.2f}{100 * float(ours.gap):>9.4f}"
        f"{ours.cpu:>7.2f}{ours.wall:>7.2f}  {_stop(row):<9}{ratios}"
    )


def _stop(row: Row) -> str:
    return "proved" if row.ours.optimal else "+".join(row.ours.stops)


def _ratio(row: Row, name: str) -> str:
    ratio = row.ratio(name)
    if ratio is not None:
        return f"{ratio:.4f}"
    return "nothing" if name in row.why else ""


def _by_set(rows: Sequence[Row]) -> dict[str, list[Row]]:
    found: dict[str, list[Row]] = {}
    for row in rows:
        found.setdefault(row.family, []).append(row)
    return found


def page(rows: Sequence[Row], checks: Sequence[Check], told: Mapping[str, str]) -> str:
    """The page of results in Markdown. `told`: settings of the run, by name."""
    sets = _by_set(rows)
    text = ["# Lumber, measured", ""]
    text += [
        "`python -m tests.bench lumber` writes this page: every figure of one run, on"
        f" {os.cpu_count()} cores, Python {platform.python_version()}. Every plan of cutopt passes"
        " the checker; every plan of a comparison is checked and costed anew, exactly, by a small"
        " check of its own (`task.py`). Ratios are to the proved bound of cutopt: 1 is the least"
        " that any plan can cost. " + " ".join(f"{k}: {v}." for k, v in told.items()),
        "",
        "## What must be shown",
        "",
        "| figure | measured | required | |",
        "| --- | --- | --- | --- |",
    ]
    text += [
        f"| {c.name} | {c.measured} | {c.required} | {'ok' if c.kept else '**falls short**'} |"
        for c in checks
    ]
    text += ["", "## Sets", "", "![cost above the proved bound](distance.svg)", ""]
    heads = ["set", "n", "proved", "median gap", "worst gap", "median s", "worst s", "cutopt"]
    text += [_cells([*heads, *HEURISTICS]), _cells(["---"] * (len(heads) + len(HEURISTICS)))]
    for name, own in sets.items():
        gaps = [100 * float(r.ours.gap) for r in own]
        walls = [r.ours.wall for r in own]
        cells = [
            f"{name}: {SETS[name].about}",
            str(len(own)),
            str(sum(r.ours.optimal for r in own)),
            f"{median(gaps):.4f} %",
            f"{max(gaps):.4f} %",
            f"{median(walls):.2f}",
            f"{max(walls):.2f}",
            f"{mean(r.ours_ratio for r in own):.5f}",
        ]
        for method in HEURISTICS:
            ratios = [x for r in own if (x := r.ratio(method)) is not None]
            cells.append(f"{mean(ratios):.4f}" + _none_of(own, ratios) if ratios else "none")
        text.append(_cells(cells))
    text += ["", "Seconds are wall seconds; the last columns are mean ratios to the bound.", ""]
    text += _models(rows)
    text += ["## Growth", "", "![seconds as the material grows](growth.svg)", ""]
    text += ["## Every instance", ""]
    for name, own in sets.items():
        text += [f"### {name}: {SETS[name].about}", "", _cells(_COLUMNS)]
        text += [_cells(["---"] + ["---:"] * (len(_COLUMNS) - 1))]
        text += [_cells(_row(r)) for r in own]
        text.append("")
    return "\n".join(text)


_COLUMNS = [
    "instance",
    "lengths",
    "pieces",
    "stock",
    "objective",
    "bound",
    "gap %",
    "CPU s",
    "wall s",
    "stop",
    *HEURISTICS,
]


def _row(row: Row) -> list[str]:
    ours, inst = row.ours, row.instance
    return [
        inst.name,
        str(inst.lengths),
        str(inst.pieces),
        str(inst.sizes),
        f"{float(ours.objective):.2f}",
        f"{float(ours.bound):.2f}",
        f"{100 * float(ours.gap):.4f}",
        f"{ours.cpu:.2f}",
        f"{ours.wall:.2f}",
        _stop(row),
        *(_ratio(row, name) for name in HEURISTICS),
    ]


def _none_of(own: Sequence[Row], ratios: Sequence[float]) -> str:
    none = len(own) - len(ratios)
    return f" ({none} without a plan)" if none else ""


def _cells(cells: Sequence[str]) -> str:
    return "| " + " | ".join(cells) + " |"


def _models(rows: Sequence[Row]) -> list[str]:
    """The table of the general-purpose models, and why some found nothing."""
    names = list(MODELS.values())
    seen = [r for r in rows if any(n in r.costs or n in r.why for n in names)]
    if not seen:
        return []
    text = [
        "## General-purpose models",
        "",
        "A plain assignment model (which part lies on which stick) of one instance of a class, the"
        " same for all three; ratios to our bound. A model of more than"
        f" {MOST_VARIABLES:,} variables is not built and counts as nothing found, as does one that"
        " has said nothing a minute after its time (building it is not counted).",
        "",
        _cells(["instance", "pieces", "cutopt", "cutopt s", *names]),
        _cells(["---"] + ["---:"] * (3 + len(names))),
    ]
    for r in seen:
        cells = [r.instance.name, str(r.instance.pieces), f"{r.ours_ratio:.5f}"]
        cells.append(f"{r.ours.wall:.2f}")
        cells += [
            _ratio(r, n) if n in r.costs else r.why.get(n, "").partition(":")[0] for n in names
        ]
        text.append(_cells(cells))
    return [*text, ""]


def plots(rows: Sequence[Row]) -> dict[str, str]:
    """The plots by file name."""
    distances: dict[str, dict[str, list[float]]] = {}
    for name, own in _by_set(rows).items():
        methods: dict[str, list[float]] = {"cutopt": [r.ours_ratio for r in own]}
        for method in COLOURS:
            ratios = [x for r in own if (x := r.ratio(method)) is not None]
            if ratios:
                methods[method] = ratios
        distances[name] = methods
    growth = {
        "lengths": [(r.instance.lengths, r.ours.cpu) for r in rows if r.family == "lengths"],
        "pieces": [(r.instance.pieces, r.ours.cpu) for r in rows if r.family == "pieces"],
        "stock rows": [(r.instance.sizes, r.ours.cpu) for r in rows if r.family == "remnants"],
    }
    panels = {name: points for name, points in growth.items() if points}
    found = {"distance.svg": distance_plot(distances)}
    if panels:
        found["growth.svg"] = growth_plot(panels)
    return found


def write_page(
    folder: Path, rows: Sequence[Row], checks: Sequence[Check], told: Mapping[str, str]
) -> None:
    """The page and its plots into a folder."""
    folder.mkdir(parents=True, exist_ok=True)
    (folder / "lumber.md").write_text(page(rows, checks, told), encoding="utf-8")
    for name, text in plots(rows).items():
        (folder / name).write_text(text, encoding="utf-8")
