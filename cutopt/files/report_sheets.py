"""The tables of a sheet in the report: its cuts in the order to be made, its parts and where to.

The drawing shows where; these say the same line by line, for one page with it.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from itertools import groupby
from math import ceil

from cutopt.draw import Label, named, piece_words, stage_words, way_words
from cutopt.files.html import Column, Markup, el, join, kind_of, table
from cutopt.files.report_words import Shown, goes_to, names_of, whole
from cutopt.plan import Layout
from cutopt.plan.sequence import SawCut, cut_sequence

__all__ = ["beside", "figure_room", "sheet_tables"]

#: Tables of cuts with more rows are printed in two columns; of more parts, those alike in one row.
_LONG, _LONG_PARTS = 14, 8
#: Millimetres of a page below the heading, of a row in a table, and of the least drawing.
_PAGE, _ROW, _LEAST_TALL = 216, 5, 80
#: Sheets with so few rows in their tables are printed beside them, several to a page, where the
#: drawing's units are then at least so many millimetres: its smallest words are 13 units, 5 pt.
_FEW, _BESIDE_WIDE, _LEAST_UNIT = 14, 114, 5 / 13 * 25.4 / 72
#: No larger than this, so that another layout may have room on the page.
_GOOD_UNIT = 0.18
_SIZE = re.compile(r' viewBox="0 \S+ (\S+) (\S+)"')


def sheet_tables(layouts: Sequence[Layout], shown: Shown) -> Markup:
    """The cuts in order, and beside them the parts; who gets them only where one layout is all."""
    first = layouts[0]
    rules = shown.rules.for_sheets(first.offer.material)
    parts = named(layouts, rules, shown.unit, shown.feet)
    alone = len(layouts) == 1
    columns = [Column("Part"), Column("Size", "l")]
    if alone:
        columns += [Column("Section"), Column("Jig"), Column("Mark", "k")]
    # A long list holds those of one size for one jig together: their marks stand at the cuts.
    together = len(parts) > _LONG_PARTS
    groups: dict[tuple[str, ...], tuple[list[int], list[str]]] = {}
    for index, (part, _) in enumerate(parts):
        size = whole((shown.length(part.length), shown.length(part.width or 0)), " × ")
        cells: list[str] = [join(size, ", turned" if part.turned else None)]
        section, jig, mark = goes_to(part, first, shown)
        if alone:
            cells += [section, jig]
        key = (part.asked if together else str(index), *cells)
        indices, marks = groups.setdefault(key, ([], []))
        indices.append(index)
        marks.append(mark)
    names = [label.name for _, label in parts]
    rows: list[list[str]] = []
    for (asked, *cells), (indices, marks) in groups.items():
        mark = marks[0] if len(set(marks)) == 1 else "at the cuts"
        if len(set(marks)) > 1 and asked != first.offer.material:
            mark += f" (asked for in {asked})"
        rows.append([names_of(indices, names), *cells, *([mark] if alone else [])])
    caption = "Finished sizes, and where each part goes" if alone else "Finished sizes"
    sizes = el("div", table(caption, columns, rows), class_="scroll")
    return el("div", _cuts(layouts, shown), sizes, class_="tables")


def _cuts(layouts: Sequence[Layout], shown: Shown) -> Markup:
    """The cuts by the numbers in the drawing's rings, stage by stage."""
    rules = shown.rules.for_sheets(layouts[0].offer.material)
    sequence = cut_sequence(layouts[0], rules)
    if sequence is None or not sequence.cuts:
        return el("p", "No cut: each sheet is a part as it is.")
    labels = {x.name: x for _, x in named(layouts, rules, shown.unit, shown.feet)}
    columns = (
        *(Column("Cut"), Column("On", "k"), Column("Measure", "m"), Column("Fence", "m")),
        Column("Comes off"),
    )
    bodies = []
    for (stage, way, datum), cuts in groupby(
        sequence.cuts, lambda c: (stage_words(c), way_words(c), c.datum.value)
    ):
        heading = f"{stage.capitalize()}: {way} from the {datum}"
        head = el("th", heading, scope="rowgroup", colspan=str(len(columns)))
        rows = []
        for cut in cuts:
            cells = (
                str(cut.piece),
                shown.length(cut.measure),
                shown.length(cut.fence),
                _comes_off(cut, labels, shown),
            )
            made = (
                el("td", cell, class_=kind_of(column, cell))
                for column, cell in zip(columns[1:], cells, strict=True)
            )
            rows.append(el("tr", el("th", str(cut.number), scope="row"), *made))
        bodies.append(el("tbody", el("tr", head), *rows))
    cut_table = el(
        "table",
        el("caption", "Cuts in order"),
        el("thead", el("tr", *(el("th", c.head, scope="col") for c in columns))),
        *bodies,
        class_="cuts",
    )
    long = " long" if len(sequence.cuts) + len(bodies) > _LONG else ""
    return el("div", cut_table, class_=f"scroll{long}")


def _comes_off(cut: SawCut, labels: dict[str, Label], shown: Shown) -> str:
    if not cut.stage and not cut.yields:
        return "trim"
    return ", ".join(piece_words(p, labels, shown.unit, shown.feet) for p in cut.yields)


def _size(drawing: str) -> tuple[float, float]:
    """How wide and high a drawing is, in its own units."""
    size = _SIZE.search(drawing)
    if size is None:
        raise ValueError("a drawing without its size")
    return float(size[1]), float(size[2])


def beside(drawing: str, tables: Markup) -> bool:
    """Whether a sheet's tables are few and its drawing plain enough to be printed side by side."""
    if " long" in tables or tables.count("<tr>") > _FEW:
        return False
    wide, high = _size(drawing)
    return min(_BESIDE_WIDE / wide, _LEAST_TALL / high) >= _LEAST_UNIT


def figure_room(drawing: str, tables: Markup) -> str:
    """How high the drawing may be on paper, so that it and its tables fit on one page."""
    if beside(drawing, tables):
        return f"--tall:{_LEAST_TALL}mm"
    rows = tables.count("<tr>")
    if " long" in tables:
        cuts = tables[: tables.rindex("<table>")].count("<tr>")
        rows -= cuts - (cuts + 5) // 2
    enough = ceil(_GOOD_UNIT * _size(drawing)[1])
    return f"--tall:{max(_LEAST_TALL, min(enough, _PAGE - rows * _ROW))}mm"
