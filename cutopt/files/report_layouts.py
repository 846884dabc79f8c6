"""The layouts of one material in the report: a drawing for each pattern, and where parts go."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from cutopt.draw import (
    in_order,
    letter,
    mark_of,
    sheet_cuts,
    sheet_drawing,
    size_of,
    stick_drawing,
    stock_size,
)
from cutopt.files.html import Column, Markup, el, join, kind_of, table
from cutopt.materials import Kind, Rules
from cutopt.measure import Unit, show_length
from cutopt.plan import Layout, MaterialPlan, Placed, Source
from cutopt.plan.guillotine import Axis

__all__ = ["Shown", "counted", "layouts_html", "scrolling", "source_words"]


@dataclass(frozen=True, slots=True)
class Shown:
    """How the plant reads lengths, and its rules."""

    unit: Unit
    feet: bool
    rules: Rules

    def length(self, length: int) -> str:
        """A length for a person."""
        return show_length(length, self.unit, self.feet)

    def size(self, length: int, width: int | None) -> str:
        """A length, or a length and a width."""
        return size_of(length, width, self.unit, self.feet)

    def stock(self, layout: Layout) -> str:
        """The size of a layout's stock."""
        return stock_size(layout.offer.length, layout.offer.width, self.unit, self.feet)


def counted(count: int, word: str) -> str:
    """`1 stick`, `12 sticks`."""
    return f"{count:,} {word}" if count == 1 else f"{count:,} {word}s"


def source_words(layout: Layout) -> str:
    """Where the stock comes from, with its lot where it has one."""
    if layout.source is Source.BUY:
        return "bought"
    return f"from the yard, lot {layout.offer.lot}" if layout.offer.lot else "from the yard"


def scrolling(name: str, inner: Markup) -> Markup:
    """A frame in which a wide table can be moved sideways, by keyboard as well."""
    return el("div", inner, class_="scroll", role="group", aria_label=name, tabindex="0")


def layouts_html(material: MaterialPlan, key: str, shown: Shown) -> Markup:
    """Every layout of the material, one drawing to a pattern. `key` starts all ids."""
    patterns: dict[str, list[Layout]] = {}
    for layout in material.layouts:
        patterns.setdefault(layout.pattern, []).append(layout)
    return join(
        *(
            _pattern(material, layouts, f"{key}-{index}", shown)
            for index, layouts in enumerate(patterns.values(), start=1)
        )
    )


def _pattern(material: MaterialPlan, layouts: Sequence[Layout], ident: str, shown: Shown) -> Markup:
    first = layouts[0]
    lumber = material.kind is Kind.LUMBER
    word = "stick" if lumber else "sheet"
    total = sum(layout.count for layout in layouts)
    heading = f"Cut {counted(total, word)} of {material.material}, {shown.stock(first)}"
    if lumber:
        drawing = stick_drawing(
            first, material, shown.unit, shown.feet, ident=ident, alike=layouts[1:]
        )
    else:
        rules = shown.rules.for_sheets(first.offer.material)
        drawing = sheet_drawing(
            first, material, rules, shown.unit, shown.feet, ident=ident, alike=layouts[1:]
        )
    sources = _listed(dict.fromkeys(source_words(layout) for layout in layouts))
    names = "Layout" if len(layouts) == 1 else "Layouts"
    which = _listed(layout.id for layout in layouts)
    if len(layouts) > 6:
        which = f"{layouts[0].id} to {layouts[-1].id}, {len(layouts)} of them"
    return el(
        "article",
        el("h4", heading, id=f"{ident}-n"),
        el("p", f"{names} {which}. Pattern {first.pattern}. {_capital(sources)}.", class_="from"),
        el("figure", Markup(drawing)),
        None if lumber else _cuts(first, shown),
        el("div", _parts(layouts, shown), class_="scroll")
        if len(layouts) == 1 or not lumber
        else None,
        el("div", _sets(layouts, word, shown), class_="scroll") if len(layouts) > 1 else None,
        class_="layout",
        aria_labelledby=f"{ident}-n",
    )


def _listed(words: Iterable[str]) -> str:
    return ", ".join(words)


def _capital(text: str) -> str:
    return text[:1].upper() + text[1:]


def _cuts(layout: Layout, shown: Shown) -> Markup | None:
    """The cuts by the numbers in the drawing's rings."""
    cuts = sheet_cuts(layout, shown.rules.for_sheets(layout.offer.material))
    if not cuts:
        return None
    lines = []
    for cut in cuts:
        rip = cut.axis is Axis.RIP
        lines.append(el("li", f"{'rip' if rip else 'crosscut'} at ", el("b", shown.length(cut.at))))
    return join(
        el("p", "Cuts in order; rips from the squared edge, crosscuts from the squared head:"),
        el("ol", *lines, class_="order"),
    )


def _parts(layouts: Sequence[Layout], shown: Shown) -> Markup:
    """A row for each part; who gets it only where one layout is all there is."""
    first = layouts[0]
    parts = in_order(first)
    alone = len(layouts) == 1
    lumber = first.offer.width is None
    columns = [Column("Part")]
    columns += (
        [Column("Stop", "m"), Column("Length", "m")]
        if lumber
        else [Column("Along", "m"), Column("Across", "m"), Column("Size", "l")]
    )
    if alone:
        columns += [Column("Section"), Column("Jig"), Column("Mark", "k")]
    rows = []
    for index, part in enumerate(parts):
        cells = [letter(index), shown.length(part.x + part.along)]
        if part.width is None:
            cells.append(shown.length(part.length))
        else:
            size = _whole((shown.length(part.length), shown.length(part.width)), " × ")
            turned = ", turned" if part.turned else None
            cells += [shown.length(part.y + part.across), join(size, turned)]
        if alone:
            cells += _goes(part, first, shown)
        rows.append(cells)
    stops = "Stops" if lumber else "Stops along the sheet and across it"
    caption = f"{stops}, and where each part goes" if alone else f"{stops}, the same on each"
    return table(caption, columns, rows)


def _goes(part: Placed, layout: Layout, shown: Shown) -> list[str]:
    mark = mark_of(part, shown.unit, shown.feet)
    if part.asked != layout.offer.material:
        mark += f" (asked for in {part.asked})"
    return [part.section, part.jig, mark]


def _sets(layouts: Sequence[Layout], word: str, shown: Shown) -> Markup:
    """Layout by layout, which parts go where; neighbours for the same place in one row."""
    lumber = layouts[0].offer.width is None
    columns = [Column(f"{_capital(word)}s"), Column("Parts")]
    if lumber:
        columns += [Column("Stops", "l"), Column("Length", "m")]
    columns += [Column("Section"), Column("Jig"), Column("Mark", "k")]
    mixed = len({source_words(layout) for layout in layouts}) > 1
    bodies = []
    for layout in layouts:
        which: str = counted(layout.count, word)
        if mixed:
            which = join(which, ",", Markup("<br>"), source_words(layout))
        runs = _together(layout, shown)
        head = el("th", which, scope="rowgroup", rowspan=str(len(runs)))
        rows = []
        for number, (indices, parts, goes) in enumerate(runs):
            cells = [_letters(indices)]
            if lumber:
                cells.append(_whole(shown.length(p.x + p.length) for p in parts))
                cells.append(shown.length(parts[0].length))
            cells += goes
            made = (
                el("td", cell, class_=kind_of(column, cell))
                for column, cell in zip(columns[1:], cells, strict=True)
            )
            rows.append(el("tr", head if number == 0 else None, *made))
        bodies.append(el("tbody", *rows))
    return el(
        "table",
        el("caption", f"Where the parts go, in this order of {word}s"),
        el("thead", el("tr", *(el("th", c.head, scope="col") for c in columns))),
        *bodies,
    )


def _together(layout: Layout, shown: Shown) -> list[tuple[list[int], list[Placed], list[str]]]:
    """Neighbours of one length for the same place: their indices, themselves, where they go."""
    runs: list[tuple[list[int], list[Placed], list[str]]] = []
    for index, part in enumerate(in_order(layout)):
        goes = _goes(part, layout, shown)
        if runs and runs[-1][2] == goes and runs[-1][1][0].length == part.length:
            runs[-1][0].append(index)
            runs[-1][1].append(part)
        else:
            runs.append(([index], [part], goes))
    return runs


def _whole(measures: Iterable[str], between: str = ", ") -> Markup:
    """Measures in a row, broken between two and never within one."""
    return Markup(between.join(el("span", measure, class_="whole") for measure in measures))


def _letters(indices: Sequence[int]) -> str:
    first, last = letter(indices[0]), letter(indices[-1])
    if len(indices) == 1:
        return first
    return f"{first} and {last}" if len(indices) == 2 else f"{first} to {last}"
