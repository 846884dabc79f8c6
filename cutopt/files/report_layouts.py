"""The layouts of one material in the report: a drawing for each pattern, and where parts go."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from cutopt.draw import in_order, letter, named, safe, sheet_drawing, stick_drawing
from cutopt.files.html import Column, Markup, el, join, kind_of, table
from cutopt.files.report_sheets import beside, figure_room, sheet_tables
from cutopt.files.report_words import Shown, counted, goes_to, names_of, source_words, whole
from cutopt.materials import Kind
from cutopt.plan import Layout, MaterialPlan, Placed
from cutopt.plan.books import books

__all__ = ["layouts_html", "scrolling"]

#: Tables of parts with more rows are printed in two columns.
_LONG = 4


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
    told += _at_once(total, material.stack, lumber)
    if lumber:
        tables = _stick_stops(layouts, shown, _tells_all(drawing, first, shown))
    else:
        tables = sheet_tables(layouts, shown)
    # What belongs on one page stands in one block; what goes where may run on behind it.
    block = el(
        "div",
        el("h4", heading, id=f"{ident}-n"),
        el("p", told, class_="from"),
        el("figure", Markup(drawing), style=None if lumber else figure_room(drawing, tables)),
        tables,
        class_="block beside" if not lumber and beside(drawing, tables) else "block",
    )
    return el(
        "article",
        block,
        _sets(layouts, word, shown) if len(layouts) > 1 else None,
        class_=f"layout of-{word}s",
        aria_labelledby=f"{ident}-n",
    )


def _at_once(count: int, stack: int, lumber: bool) -> str:
    """How equal pieces of stock are cut at once; nothing where each is cut alone."""
    if min(stack, count) < 2:
        return ""
    one, piece = ("stack", "stick") if lumber else ("book", "sheet")
    words: list[str] = []
    for number, size in books(count, stack):
        laid = counted(size, piece)
        words.append(f"{number:,} of {laid}" if words else f"{counted(number, one)} of {laid}")
    return f" Cut as {', '.join(words)}: every cut goes through the whole {one}."


def _listed(words: Iterable[str]) -> str:
    return ", ".join(words)


def _capital(text: str) -> str:
    return text[:1].upper() + text[1:]


def _tells_all(drawing: str, layout: Layout, shown: Shown) -> bool:
    """Whether no word of a stick's drawing is cut short, and no stop or length left out."""
    words = drawing[drawing.index("</desc>") :]
    lengths = (x for part in layout.parts for x in (part.x + part.along, part.length))
    return "…" not in words and all(safe(shown.length(x)) in words for x in lengths)


def _stick_stops(layouts: Sequence[Layout], shown: Shown, told: bool) -> Markup:
    """A row for each part of a stick; who gets it only where one layout is all there is.

    Left out on paper where all is `told` in the drawing over it.
    """
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
    more = " told" if told else " long" if len(rows) > _LONG else ""
    return el("div", table(caption, columns, rows), class_=f"scroll{more}")


def _sets(layouts: Sequence[Layout], word: str, shown: Shown) -> Markup:
    """Layout by layout, which parts go where; neighbours for the same place in one row."""
    lumber = layouts[0].offer.width is None
    columns = [Column(f"{_capital(word)}s"), Column("Parts")]
    if lumber:
        # On paper these two are left out: drawing and stops stand right above.
        columns += [Column("Stops", "l screen"), Column("Length", "m screen")]
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
    heads = (el("th", c.head, scope="col", class_=c.kind or None) for c in columns)
    whole_table = el(
        "table",
        el("caption", f"Where the parts go, in this order of {word}s"),
        el("thead", el("tr", *heads)),
        *bodies,
    )
    long = " long" if sum(body.count("<tr>") for body in bodies) > _LONG else ""
    return el("div", whole_table, class_=f"scroll sets{long}")


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
