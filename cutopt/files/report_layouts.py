"""The layouts of one material in the report: a drawing for each pattern, and where parts go."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from cutopt.draw import in_order, letter, named, sheet_drawing, stick_drawing
from cutopt.files.html import Column, Markup, el, join, kind_of, table
from cutopt.files.report_sheets import figure_room, sheet_tables
from cutopt.files.report_words import Shown, counted, goes_to, names_of, source_words, whole
from cutopt.materials import Kind
from cutopt.plan import Layout, MaterialPlan, Placed

__all__ = ["layouts_html", "scrolling"]


def scrolling(name: str, inner: Markup) -> Markup:
    """A frame in which a wide table can be moved sideways, by keyboard as well."""
    return el("div", inner, class_="scroll", role="group", aria_label=name, tabindex="0")


def layouts_html(material: MaterialPlan, key: str, shown: Shown) -> Markup:
    """Every layout of the material, one drawing to a pattern. `key` starts all ids.

    Sheets cut alike are drawn apart where they have other factory edges, or a part is turned or
    keeps an edge on some of them only: the drawing says so of all.
    """
    patterns: dict[tuple[object, ...], list[Layout]] = {}
    for layout in material.layouts:
        parts = tuple((p.turned, p.edge) for p in in_order(layout))
        patterns.setdefault((layout.pattern, layout.offer.edges, parts), []).append(layout)
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
    told = f"{names} {which}. Pattern {first.pattern}. {_capital(sources)}."
    if not lumber:
        told += _books(total, shown.rules.for_sheets(first.offer.material).stack)
    tables = _stick_stops(layouts, shown) if lumber else sheet_tables(layouts, shown)
    # What belongs on one page stands in one block; what goes where may run on behind it.
    block = el(
        "div",
        el("h4", heading, id=f"{ident}-n"),
        el("p", told, class_="from"),
        el("figure", Markup(drawing), style=None if lumber else figure_room(tables)),
        tables,
        class_="block",
    )
    return el(
        "article",
        block,
        el("div", _sets(layouts, word, shown), class_="scroll") if len(layouts) > 1 else None,
        class_="layout",
        aria_labelledby=f"{ident}-n",
    )


def _books(sheets: int, stack: int) -> str:
    """How equal sheets are laid on each other to be cut at once; nothing where each is alone."""
    whole_books, rest = divmod(sheets, stack)
    if min(stack, sheets) < 2:
        return ""
    words = [f"{counted(whole_books, 'book')} of {stack} sheets"] if whole_books else []
    if rest:
        words.append(f"1 of {counted(rest, 'sheet')}" if words else f"1 book of {rest} sheets")
    return f" Cut as {', '.join(words)}: every cut goes through the whole book."


def _listed(words: Iterable[str]) -> str:
    return ", ".join(words)


def _capital(text: str) -> str:
    return text[:1].upper() + text[1:]


def _stick_stops(layouts: Sequence[Layout], shown: Shown) -> Markup:
    """A row for each part of a stick; who gets it only where one layout is all there is."""
    alone = len(layouts) == 1
    columns = [Column("Part"), Column("Stop", "m"), Column("Length", "m")]
    if alone:
        columns += [Column("Section"), Column("Jig"), Column("Mark", "k")]
    rows = []
    for index, part in enumerate(in_order(layouts[0])):
        cells = [letter(index), shown.length(part.x + part.along), shown.length(part.length)]
        if alone:
            cells += goes_to(part, layouts[0], shown)
        rows.append(cells)
    caption = "Stops, and where each part goes" if alone else "Stops, the same on each"
    return el("div", table(caption, columns, rows), class_="scroll")


def _sets(layouts: Sequence[Layout], word: str, shown: Shown) -> Markup:
    """Layout by layout, which parts go where; neighbours for the same place in one row."""
    lumber = layouts[0].offer.width is None
    columns = [Column(f"{_capital(word)}s"), Column("Parts")]
    if lumber:
        columns += [Column("Stops", "l"), Column("Length", "m")]
    columns += [Column("Section"), Column("Jig"), Column("Mark", "k")]
    mixed = len({source_words(layout) for layout in layouts}) > 1
    bodies = []
    names, orders = _ordered(layouts, shown)
    for layout, parts in zip(layouts, orders, strict=True):
        which: str = counted(layout.count, word)
        if mixed:
            which = join(which, ",", Markup("<br>"), source_words(layout))
        runs = _together(layout, parts, shown)
        head = el("th", which, scope="rowgroup", rowspan=str(len(runs)))
        rows = []
        for number, (indices, members, goes) in enumerate(runs):
            cells = [names_of(indices, names)]
            if lumber:
                cells.append(whole(shown.length(p.x + p.length) for p in members))
                cells.append(shown.length(members[0].length))
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


def _together(
    layout: Layout, parts: Sequence[Placed], shown: Shown
) -> list[tuple[list[int], list[Placed], list[str]]]:
    """Neighbours of one length for the same place: their indices, themselves, where they go."""
    runs: list[tuple[list[int], list[Placed], list[str]]] = []
    for index, part in enumerate(parts):
        goes = goes_to(part, layout, shown)
        if runs and runs[-1][2] == goes and runs[-1][1][0].length == part.length:
            runs[-1][0].append(index)
            runs[-1][1].append(part)
        else:
            runs.append(([index], [part], goes))
    return runs


def _ordered(layouts: Sequence[Layout], shown: Shown) -> tuple[list[str], list[list[Placed]]]:
    """The names of the parts of layouts cut alike, and each layout's parts in their order."""
    first = layouts[0]
    if first.offer.width is None:
        orders = [list(in_order(layout)) for layout in layouts]
        return [letter(i) for i in range(len(first.parts))], orders
    rules = shown.rules.for_sheets(first.offer.material)
    parts = named(layouts, rules, shown.unit, shown.feet)
    rank = {(part.x, part.y): i for i, (part, _) in enumerate(parts)}
    orders = [sorted(layout.parts, key=lambda p: rank[p.x, p.y]) for layout in layouts]
    return [label.name for _, label in parts], orders
