"""The table as it is printed, and the page of results with its plots."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import Path

from tests.bench.common import chart, report
from tests.bench.common.measure import Row
from tests.bench.common.models import MODELS
from tests.bench.common.promises import Check, Clock, by_set
from tests.bench.lumber.assignment import MOST_VARIABLES
from tests.bench.lumber.instance import Instance
from tests.bench.lumber.measure import HEURISTICS
from tests.bench.lumber.sets import SETS

__all__ = ["HEAD", "line_of", "page", "plots", "write_page"]

_NAMES = (*HEURISTICS, *MODELS.values())
_TABLE = report.Table(
    name=34,
    counts={
        "lengths": (8, lambda i: i.lengths),
        "pieces": (9, lambda i: i.pieces),
        "stock": (6, lambda i: i.sizes),
    },
    money=13,
    ratio=11,
)
HEAD = _TABLE.head(_NAMES)
_COLOURS = {
    "cutopt": chart.COLOURS["cutopt"],
    "greedy": "#c2711b",
    "best fit": "#8a6fb0",
    "first fit": "#b04a4a",
    **chart.COLOURS,
}


def line_of(row: Row[Instance]) -> str:
    """A line of the table: dollars, then every comparison's ratio to our bound."""
    return _TABLE.line(row, _NAMES)


def page(
    rows: Sequence[Row[Instance]], checks: Sequence[Check], told: Mapping[str, str], clock: Clock
) -> str:
    """The page of results in Markdown. `told`: settings of the run, by name."""
    sets = by_set(rows)
    text = report.opening("Lumber, measured", "lumber", ("", ""), checks, told)
    text += ["## Sets", "", "![cost above the proved bound](distance.svg)", ""]
    abouts = {name: own.about for name, own in SETS.items()}
    text += report.sets_table(sets, abouts, list(HEURISTICS), clock)
    text += ["", "Seconds are wall seconds; the last columns are mean ratios to the bound.", ""]
    about = "A plain assignment model (which part lies on which stick) of one instance of a class"
    text += report.models_table(rows, about, MOST_VARIABLES, clock)
    text += ["## Growth", "", "![seconds as the material grows](growth.svg)", ""]
    text += ["## Every instance", ""]
    for name, own in sets.items():
        text += [f"### {name}: {abouts[name]}", "", *_TABLE.on_page(own, list(HEURISTICS)), ""]
    return "\n".join(text)


def plots(rows: Sequence[Row[Instance]]) -> dict[str, str]:
    """The plots by file name."""
    growth = {
        "lengths": [(r.instance.lengths, r.ours.cpu) for r in rows if r.family == "lengths"],
        "pieces": [(r.instance.pieces, r.ours.cpu) for r in rows if r.family == "pieces"],
        "stock rows": [(r.instance.sizes, r.ours.cpu) for r in rows if r.family == "remnants"],
    }
    panels = {name: {"cutopt": points} for name, points in growth.items() if points}
    found = {
        "distance.svg": chart.distance_plot(report.distances(rows, _COLOURS), _COLOURS, low=-5)
    }
    if panels:
        found["growth.svg"] = chart.growth_plot(panels, 10.0, "Seconds as the material grows")
    return found


def write_page(
    folder: Path,
    rows: Sequence[Row[Instance]],
    checks: Sequence[Check],
    told: Mapping[str, str],
) -> None:
    """The page and its plots into a folder."""
    text = page(rows, checks, told, lambda ours: ours.wall)
    report.write(folder, {"lumber.md": text, **plots(rows)})
