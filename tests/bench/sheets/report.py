"""The table as it is printed, and the page of results with its plots."""

from __future__ import annotations

import os
import platform
from collections.abc import Mapping, Sequence
from pathlib import Path
from statistics import mean, median

from tests.bench.sheets.chart import COLOURS, distance_plot, growth_plot, share_plot
from tests.bench.sheets.level import MOST_VARIABLES
from tests.bench.sheets.measure import FIELDS, PARTS, Row
from tests.bench.sheets.models import MODELS
from tests.bench.sheets.promises import Check
from tests.bench.sheets.sets import SETS

__all__ = ["head", "line_of", "page", "plots", "write_page"]

_GROWTH = {
    "types": lambda r: r.instance.types,
    "pieces": lambda r: r.instance.pieces,
    "remnants": lambda r: sum(o.limit == 0 for o in r.instance.day.offers),
    "sizes": lambda r: sum(o.limit is None for o in r.instance.day.offers),
    "ceilings": lambda r: r.instance.pieces,
}
_ON_AXIS = {"remnants": "single remnants", "sizes": "sheet sizes", "ceilings": "sections"}


def _heuristics(rows: Sequence[Row]) -> list[str]:
    """What a shop does, as far as one of the rows has it."""
    return [n for n in (*PARTS, *FIELDS) if any(n in r.costs or n in r.why for r in rows)]


def head(names: Sequence[str]) -> str:
    """The table's first line; `names` of the comparisons."""
    return (
        f"{'instance':<38}{'types':>6}{'pieces':>7}{'stock':>6}{'objective':>12}{'bound':>12}"
        f"{'gap %':>9}{'CPU s':>7}{'wall s':>7}  {'stop':<9}"
        + "".join(f"{name:>19}" for name in names)
    ).rstrip()


def line_of(row: Row, names: Sequence[str] = ()) -> str:
    """A line of the table: dollars, then every comparison's ratio to our bound."""
    ours, inst = row.ours, row.instance
    return (
        f"{inst.name[:37]:<38}{inst.types:>6}{inst.pieces:>7}{inst.sizes:>6}"
        f"{float(ours.objective):>12.2f}{float(ours.bound):>12.2f}{100 * float(ours.gap):>9.4f}"
        f"{ours.cpu:>7.2f}{ours.wall:>7.2f}  {_stop(row):<9}"
        + "".join(f"{_ratio(row, name):>19}" for name in names)
    ).rstrip()


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
    text = ["# Sheets and ceilings, measured", ""]
    text += [
        "`python -m tests.bench sheets` writes this page: every figure of one run, on"
        f" {os.cpu_count()} cores, Python {platform.python_version()}. Every plan of cutopt passes"
        " the checker, stages included; every plan of a comparison is checked and costed anew,"
        " exactly, by a small check of its own (`task.py`). Ratios are to the proved bound of"
        " cutopt: 1 is the least that any plan by the day's cutting rule can cost. "
        + " ".join(f"{k}: {v}." for k, v in told.items()),
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
    text += ["", "## Sets", "", "![cost above the proved bound](sheets_distance.svg)", ""]
    text += _sets(sets)
    text += _small(sets)
    text += _models(rows)
    if any(name in sets for name in _GROWTH):
        text += ["## Growth", "", "![seconds as the order grows](sheets_growth.svg)", ""]
    text += ["## Every instance", ""]
    for name, own in sets.items():
        names = _heuristics(own)
        columns = [*_COLUMNS, *names]
        text += [f"### {name}: {SETS[name].about}", "", _cells(columns)]
        text += [_cells(["---"] + ["---:"] * (len(columns) - 1))]
        text += [_cells(_row(r, names)) for r in own]
        text.append("")
    return "\n".join(text)


def _sets(sets: Mapping[str, Sequence[Row]]) -> list[str]:
    heads = ["set", "n", "proved", "median gap", "worst gap", "median s", "worst s", "cutopt"]
    text = []
    for kind, names in (("Parts", list(PARTS)), ("Ceilings", list(FIELDS))):
        columns = [*heads, *names]
        lines = []
        for name, rows in sets.items():
            own = [r for r in rows if _of_kind(r) == kind]
            if not own:
                continue
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
            for method in names:
                ratios = [x for r in own if (x := r.ratio(method)) is not None]
                none = len(own) - len(ratios)
                more = f" ({none} without a plan)" if none and ratios else ""
                cells.append(f"{mean(ratios):.4f}{more}" if ratios else "none")
            lines.append(_cells(cells))
        if lines:
            text += [f"{kind}:", "", _cells(columns), _cells(["---"] * len(columns)), *lines, ""]
    return [*text, "Seconds are wall seconds; the last columns are mean ratios to the bound.", ""]


def _of_kind(row: Row) -> str:
    return (
        "Ceilings" if any(p.rule.value == "full-span" for p in row.instance.day.parts) else "Parts"
    )


def _small(sets: Mapping[str, Sequence[Row]]) -> list[str]:
    """Small orders cell by cell."""
    text: list[str] = []
    for name in ("small", "dense"):
        own = sets.get(name, ())
        if not own:
            continue
        cells: dict[tuple[str, str, str], list[Row]] = {}
        for r in own:
            _, _, stages, drops, _ = r.instance.name.split("-")
            key = (r.instance.cell, stages.removesuffix("st"), drops.removesuffix("rem"))
            cells.setdefault(key, []).append(r)
        columns = ["order", "stages", "remnants", "proved", "median s", "worst s", "worst gap"]
        text += [f"### {SETS[name].about.capitalize()}", "", _cells(columns)]
        text += [_cells(["---"] + ["---:"] * (len(columns) - 1))]
        for (cell, stages, drops), rows in cells.items():
            walls = [r.ours.wall for r in rows]
            text.append(
                _cells(
                    [
                        cell,
                        stages,
                        drops,
                        f"{sum(r.ours.optimal for r in rows)} of {len(rows)}",
                        f"{median(walls):.2f}",
                        f"{max(walls):.2f}",
                        f"{max(100 * float(r.ours.gap) for r in rows):.4f} %",
                    ]
                )
            )
        text.append("")
    if text:
        text = ["## Small orders", "", "![proved within](sheets_small.svg)", "", *text]
    return text


_COLUMNS = [
    "instance",
    "types",
    "pieces",
    "stock",
    "objective",
    "bound",
    "gap %",
    "CPU s",
    "wall s",
    "stop",
]


def _row(row: Row, names: Sequence[str]) -> list[str]:
    ours, inst = row.ours, row.instance
    return [
        inst.name,
        str(inst.types),
        str(inst.pieces),
        str(inst.sizes),
        f"{float(ours.objective):.2f}",
        f"{float(ours.bound):.2f}",
        f"{100 * float(ours.gap):.4f}",
        f"{ours.cpu:.2f}",
        f"{ours.wall:.2f}",
        _stop(row),
        *(_ratio(row, name) for name in names),
    ]


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
        "The level model of Lodi, Martello and Monaci (two stages, rips first, extended to kerfs"
        " and many sizes; for ceilings boards per field and size), the same for all three; ratios"
        f" to our bound. A model of more than {MOST_VARIABLES:,} variables is not built and counts"
        " as nothing found, as does one that has said nothing half a minute after its time"
        " (building it is not counted).",
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
    sets = _by_set(rows)
    distances: dict[str, dict[str, list[float]]] = {}
    for name, own in sets.items():
        methods: dict[str, list[float]] = {"cutopt": [r.ours_ratio for r in own]}
        for method in COLOURS:
            ratios = [x for r in own if (x := r.ratio(method)) is not None]
            if ratios:
                methods[method] = ratios
        distances[name] = methods
    found = {"sheets_distance.svg": distance_plot(distances)}
    panels: dict[str, dict[str, list[tuple[float, float]]]] = {}
    for name, size in _GROWTH.items():
        for r in sets.get(name, ()):
            series = panels.setdefault(_ON_AXIS.get(name, name), {})
            series.setdefault(r.instance.cell, []).append((size(r), r.ours.cpu))
    if panels:
        found["sheets_growth.svg"] = growth_plot(panels)
    lines: dict[str, tuple[list[float], int]] = {}
    for name in ("small", "dense"):
        for pieces in (15, 30, 60):
            own = [r for r in sets.get(name, ()) if r.instance.cell.startswith(f"{pieces} ")]
            if own:
                proved = [r.ours.cpu for r in own if r.ours.optimal]
                word = f"{pieces} pieces" + (", large" if name == "dense" else "")
                lines[word] = (proved, len(own))
    if lines:
        found["sheets_small.svg"] = share_plot(lines, 10)
    return found


def write_page(
    folder: Path, rows: Sequence[Row], checks: Sequence[Check], told: Mapping[str, str]
) -> None:
    """The page and its plots into a folder."""
    folder.mkdir(parents=True, exist_ok=True)
    (folder / "sheets.md").write_text(page(rows, checks, told), encoding="utf-8")
    for name, text in plots(rows).items():
        (folder / name).write_text(text, encoding="utf-8")
