"""The table as it is printed, and the page of results with its plots."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import Path
from statistics import median

from tests.bench.common import report
from tests.bench.common.chart import COLOURS, distance_plot, growth_plot, share_plot
from tests.bench.common.measure import Ours, Row
from tests.bench.common.promises import Check, Clock, by_set
from tests.bench.sheets.instance import Instance
from tests.bench.sheets.level import MOST_VARIABLES
from tests.bench.sheets.measure import FIELDS, PARTS
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


def _heuristics(rows: Sequence[Row[Instance]]) -> list[str]:
    """What a shop does, as far as one of the rows has it."""
    return [n for n in (*PARTS, *FIELDS) if any(n in r.costs or n in r.why for r in rows)]


_TABLE = report.Table(
    name=38,
    counts={
        "types": (6, lambda i: i.types),
        "pieces": (7, lambda i: i.pieces),
        "stock": (6, lambda i: i.sizes),
    },
    money=12,
    ratio=19,
)
_COLOURS = {
    "cutopt": COLOURS["cutopt"],
    "first fit, sorted": "#c2711b",
    "first fit": "#d9a441",
    "next fit, sorted": "#b04a4a",
    "next fit": "#d08a8a",
    "one size": "#b04a4a",
    "mix first": "#c2711b",
    **COLOURS,
}


def head(names: Sequence[str]) -> str:
    """The table's first line; `names` of the comparisons."""
    return _TABLE.head(names).rstrip()


def line_of(row: Row[Instance], names: Sequence[str] = ()) -> str:
    """A line of the table: dollars, then every comparison's ratio to our bound."""
    return _TABLE.line(row, names).rstrip()


def page(
    rows: Sequence[Row[Instance]],
    checks: Sequence[Check],
    told: Mapping[str, str],
    cpu: bool = False,
) -> str:
    """The page of results in Markdown.

    `told`: settings of the run, by name; `cpu`: CPU seconds in the place of wall seconds.
    """
    sets = by_set(rows)

    def clock(ours: Ours) -> float:
        return ours.cpu if cpu else ours.wall

    words = (", stages included", "by the day's cutting rule ")
    text = report.opening("Sheets and ceilings, measured", "sheets", words, checks, told)
    text += ["## Sets", "", "![cost above the proved bound](sheets_distance.svg)", ""]
    text += _sets(sets, clock)
    seconds = "CPU" if cpu else "wall"
    text += [f"Seconds are {seconds} seconds; the last columns are mean ratios to the bound.", ""]
    text += _small(sets, clock)
    about = (
        "The level model of Lodi, Martello and Monaci (two stages, rips first, extended to kerfs"
        " and many sizes; for ceilings boards per field and size)"
    )
    text += report.models_table(rows, about, MOST_VARIABLES, clock)
    if any(name in sets for name in _GROWTH):
        text += ["## Growth", "", "![seconds as the order grows](sheets_growth.svg)", ""]
    text += ["## Every instance", ""]
    for name, own in sets.items():
        text += [f"### {name}: {SETS[name].about}", ""]
        text += [*_TABLE.on_page(own, _heuristics(own)), ""]
    return "\n".join(text)


def _sets(sets: Mapping[str, Sequence[Row[Instance]]], clock: Clock) -> list[str]:
    """Parts and ceilings apart: they are compared with other things."""
    text = []
    abouts = {name: own.about for name, own in SETS.items()}
    for kind, names in (("Parts", list(PARTS)), ("Ceilings", list(FIELDS))):
        of_kind = {name: [r for r in rows if _of_kind(r) == kind] for name, rows in sets.items()}
        shown = {name: rows for name, rows in of_kind.items() if rows}
        if shown:
            text += [f"{kind}:", "", *report.sets_table(shown, abouts, names, clock), ""]
    return text


def _of_kind(row: Row[Instance]) -> str:
    return (
        "Ceilings" if any(p.rule.value == "full-span" for p in row.instance.day.parts) else "Parts"
    )


def _small(sets: Mapping[str, Sequence[Row[Instance]]], clock: Clock) -> list[str]:
    """Small orders cell by cell."""
    text: list[str] = []
    for name in ("small", "dense"):
        own = sets.get(name, ())
        if not own:
            continue
        grouped: dict[tuple[str, str, str], list[Row[Instance]]] = {}
        for r in own:
            _, _, stages, drops, _ = r.instance.name.split("-")
            key = (r.instance.cell, stages.removesuffix("st"), drops.removesuffix("rem"))
            grouped.setdefault(key, []).append(r)
        columns = ["order", "stages", "remnants", "proved", "median s", "worst s", "worst gap"]
        text += [f"### {SETS[name].about.capitalize()}", "", report.cells(columns)]
        text += [report.ruler(1, len(columns) - 1)]
        for (cell, stages, drops), rows in grouped.items():
            seconds = [clock(r.ours) for r in rows]
            text.append(
                report.cells(
                    [
                        cell,
                        stages,
                        drops,
                        f"{sum(r.ours.optimal for r in rows)} of {len(rows)}",
                        f"{median(seconds):.2f}",
                        f"{max(seconds):.2f}",
                        f"{max(100 * float(r.ours.gap) for r in rows):.4f} %",
                    ]
                )
            )
        text.append("")
    if text:
        text = ["## Small orders", "", "![proved within](sheets_small.svg)", "", *text]
    return text


def plots(rows: Sequence[Row[Instance]]) -> dict[str, str]:
    """The plots by file name."""
    sets = by_set(rows)
    found = {
        "sheets_distance.svg": distance_plot(report.distances(rows, _COLOURS), _COLOURS, low=-3)
    }
    panels: dict[str, dict[str, list[tuple[float, float]]]] = {}
    for name, size in _GROWTH.items():
        for r in sets.get(name, ()):
            series = panels.setdefault(_ON_AXIS.get(name, name), {})
            series.setdefault(r.instance.cell, []).append((size(r), r.ours.cpu))
    if panels:
        found["sheets_growth.svg"] = growth_plot(panels, 1.0, "Seconds as the order grows")
    lines: dict[str, tuple[list[float], int]] = {}
    for name in ("small", "dense"):
        for pieces in (15, 30, 60):
            own = [r for r in sets.get(name, ()) if r.instance.cell.startswith(f"{pieces} ")]
            if own:
                proved = [r.ours.cpu for r in own if r.ours.optimal]
                word = f"{pieces} pieces" + (", large" if name == "dense" else "")
                lines[word] = (proved, len(own))
    if lines:
        found["sheets_small.svg"] = share_plot(
            lines, 10, "Small orders proved optimal within so long"
        )
    return found


def write_page(
    folder: Path,
    rows: Sequence[Row[Instance]],
    checks: Sequence[Check],
    told: Mapping[str, str],
    cpu: bool = False,
) -> None:
    """The page and its plots into a folder."""
    report.write(folder, {"sheets.md": page(rows, checks, told, cpu), **plots(rows)})
