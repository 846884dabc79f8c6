"""One material in the report: its figures, what to buy, where it goes, its layouts."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from fractions import Fraction

from cutopt.draw import stock_size
from cutopt.files.html import Column, Markup, el, join, table
from cutopt.files.report_layouts import layouts_html, scrolling
from cutopt.files.report_reasons import reasons_html
from cutopt.files.report_words import Shown
from cutopt.materials import FirstCut, Kind, Per
from cutopt.measure import percent, rounded
from cutopt.order import OrderLine
from cutopt.plan import MaterialPlan, Source, Status, Stop, Unplanned
from cutopt.yields import YieldLine

__all__ = [
    "bought",
    "gap_words",
    "material_html",
    "money_words",
    "order_html",
    "percent_words",
    "pieces",
    "unplanned_list",
    "yield_words",
]

_ENDED = {
    Stop.PROVED: "The search ended with the proof.",
    Stop.GAP: "The search ended when the gap was small enough.",
    Stop.WORK: "The search ended when its share of work was used up.",
    Stop.TIME: "The search was ended by the clock.",
    Stop.INTERRUPTED: "The search was stopped by a person.",
    Stop.NOTHING_TO_CUT: "There was nothing to cut.",
}
_PER = {
    Per.EACH: "each",
    Per.LF: "per LF",
    Per.MBF: "per MBF",
    Per.MSF: "per MSF",
}


def money_words(value: Fraction | int) -> str:
    """Dollars and cents."""
    return f"${rounded(value, 2):,}"


def percent_words(part: Fraction, whole: Fraction) -> str:
    """Percent to three places, and never nought where there is something."""
    value = percent(part, whole)
    if part > 0 and value < rounded(Fraction(1, 1000), 3):
        return "under 0.001 %"
    return f"{round(value, 3).normalize():f} %"


def _two(value: Fraction) -> str:
    return f"{rounded(value, 2):,}"


def pieces(material: MaterialPlan) -> int:
    """Sticks or sheets that are cut."""
    return sum(x.count for x in material.layouts)


def bought(order: Sequence[OrderLine]) -> int:
    """Pieces that the order asks for: with what goes beyond the cut ones, as its cost does."""
    return sum(line.pieces for line in order)


def gap_words(material: MaterialPlan) -> str:
    """The gap in percent of the objective; empty where nothing is planned."""
    if not material.layouts:
        return ""
    gap = material.objective - material.bound
    return "0, proved" if gap <= 0 else percent_words(gap, material.objective)


def yield_words(line: YieldLine | None) -> tuple[str, str]:
    """Yield and waste; empty where nothing went in."""
    if line is None or not line.input:
        return "", ""
    return f"{round(line.yield_percent, 2)} %", f"{round(line.waste_percent, 2)} %"


def unplanned_list(rows: Sequence[tuple[str, Unplanned]], shown: Shown) -> Markup:
    """The parts that can't be cut, by material, each with the reason in words."""
    lines = []
    for name, u in rows:
        size = shown.size(u.length, u.width)
        what = f"{u.qty:,} × {u.mark}, {u.section}, {size} of {name}"
        lines.append(el("li", el("b", what), Markup("<br>"), u.reason))
    return el("ul", *lines)


def material_html(
    material: MaterialPlan,
    index: int,
    order: Sequence[OrderLine],
    by_name: dict[str, YieldLine],
    shown: Shown,
) -> Markup:
    key = f"m{index}"
    line = by_name.get(material.material)
    missing = [(material.material, u) for u in material.unplanned]
    return el(
        "section",
        el("h2", material.material, id=key),
        el(
            "div",
            el("h3", "Not in this plan"),
            unplanned_list(missing, shown),
            class_="alarm",
        )
        if missing
        else None,
        _figures(material, order, line, shown),
        *(el("p", words) for words in _how_good(material, shown)),
        reasons_html(material, shown),
        _stock(material, order, shown),
        _amounts(material, line),
        _kept(material, shown),
        el("h3", "Layouts") if material.layouts else None,
        layouts_html(material, key, shown),
        el("p", el("a", "Back to the contents", href="#contents"), class_="back"),
        class_="material",
        aria_labelledby=key,
    )


def _figures(
    material: MaterialPlan, order: Sequence[OrderLine], line: YieldLine | None, shown: Shown
) -> Markup:
    shares = yield_words(line)
    figures = [
        ("Pieces", f"{pieces(material):,}"),
        ("Bought", f"{bought(order):,}"),
        ("Cost", money_words(material.cost)),
    ]
    if material.drop_credit:
        figures.append(("Credit for kept drops", money_words(material.drop_credit)))
    if material.joints:
        words = f"{material.joints:,}, {money_words(material.joint_cost)}"
        figures.append(("Joints", words))
    if material.objective != material.cost:
        figures.append(("Objective", money_words(material.objective)))
    figures += [
        ("Bound", money_words(material.bound)),
        ("Gap", gap_words(material)),
        ("Yield", shares[0]),
        ("Waste", shares[1]),
        ("Kerf", shown.length(material.kerf)),
    ]
    if material.head_trim:
        figures.append(("Head trim", shown.length(material.head_trim)))
    return el(
        "dl",
        *(el("div", el("dt", name), el("dd", value)) for name, value in figures if value),
        class_="figures",
    )


def _how_good(material: MaterialPlan, shown: Shown) -> list[str]:
    """How good the plan is, why the search ended, by what rule it is cut: in sentences."""
    good = {
        Status.OPTIMAL: "Proved: no plan for this input has a lower objective.",
        Status.BEST_FOUND: f"Best found: no plan for this input has an objective below"
        f" {money_words(material.bound)}, and this one's is {money_words(material.objective)}:"
        " stock, less the worth of kept drops, plus joints.",
        Status.INFEASIBLE: "Nothing of this material can be cut from the stock offered.",
    }[material.status]
    words = [f"{good} {_ENDED[material.stop]}"]
    if material.joint_with:
        words.append(
            f"Planned together with {', '.join(material.joint_with)}, since drawings allow parts"
            " to be cut from either: the bound is proved for the sum, and each holds its share."
        )
    rule = material.cutting_rule or _rule(material, shown)
    if rule:
        words.append(f"Cutting rule: {rule.rstrip('.')}.")
    return words


def _rule(material: MaterialPlan, shown: Shown) -> str:
    if material.kind is Kind.LUMBER:
        return ""
    rules = shown.rules.for_sheets(material.material)
    first = {
        FirstCut.RIP: "rips first",
        FirstCut.CROSS: "crosscuts first",
        FirstCut.EITHER: "rips or crosscuts first",
    }[rules.first_cut]
    return f"edge-to-edge cuts in at most {rules.stages} stages, {first}; a last trimming is free"


def order_html(order: Sequence[OrderLine], shown: Shown) -> Markup:
    """All that must be bought, material by material, with its total: one list to order from."""
    heading = el("h2", "What to buy", id="order")
    if not order:
        return el("section", heading, el("p", "Nothing is to be bought."), aria_labelledby="order")
    columns = (Column("Material"), *_order_columns("Board or square feet"))
    rows = [(line.offer.material, *_order_cells(line, shown)) for line in order]
    total = money_words(sum((line.extension for line in order), Fraction(0)))
    foot = ("All", "", f"{bought(order):,}", "", "", "", total)
    return el(
        "section",
        heading,
        scrolling("What to buy", table("Stock order", columns, rows, foot)),
        el(
            "p",
            "The extension is what the pieces cost at the prices of the stock file, not whole"
            " bundles where a part of one would do.",
        ),
        class_="order",
        aria_labelledby="order",
    )


def _order_columns(amount: str) -> tuple[Column, ...]:
    return (
        Column("Size", "m"),
        Column("Pieces", "n"),
        Column("Bundles", "n"),
        Column(amount, "n"),
        Column("Price", "n"),
        Column("Extension", "n"),
    )


def _order_cells(line: OrderLine, shown: Shown) -> tuple[str, ...]:
    offer = line.offer
    amounts = line.board_feet if offer.width is None else line.square_feet
    return (
        stock_size(offer.length, offer.width, shown.unit, shown.feet),
        f"{line.pieces:,}",
        "" if line.bundles is None else f"{line.bundles:,}",
        "" if amounts is None else _two(amounts),
        f"${offer.price:,f} {_PER[offer.per]}",
        money_words(line.extension),
    )


def _stock(material: MaterialPlan, order: Sequence[OrderLine], shown: Shown) -> Markup:
    """What to buy, and what is taken from the yard."""
    lumber = material.kind is Kind.LUMBER
    columns = _order_columns("Board feet" if lumber else "Square feet")
    rows = [_order_cells(line, shown) for line in order]
    total = money_words(sum((line.extension for line in order), Fraction(0)))
    foot = ("All", f"{bought(order):,}", "", "", "", total)
    buy = (
        scrolling(f"To buy, {material.material}", table("To buy", columns, rows, foot))
        if rows
        else el("p", "Nothing is to be bought.")
    )
    yard: Counter[tuple[int, str, str]] = Counter()
    for layout in material.layouts:
        if layout.source is Source.ON_HAND:
            yard[layout.offer.row, shown.stock(layout), layout.offer.lot or ""] += layout.count
    taken = [(size, f"{count:,}", lot) for (_, size, lot), count in sorted(yard.items())]
    heads = (Column("Size", "m"), Column("Pieces", "n"), Column("Lot"))
    return join(
        el("h3", "Stock order"),
        buy,
        *(
            el(
                "p",
                f"{n:,} of {stock_size(o.length, o.width, shown.unit, shown.feet)} are bought "
                f"beyond what is cut, since the mill sells no fewer than {o.min_order:,} at once. "
                "They stay whole.",
            )
            for o, n in material.surplus
        ),
        scrolling(f"From the yard, {material.material}", table("From the yard", heads, taken))
        if taken
        else None,
    )


def _amounts(material: MaterialPlan, line: YieldLine | None) -> Markup | None:
    if line is None or not line.input:
        return None
    what = "feet" if material.kind is Kind.LUMBER else "square feet"
    named = (
        ("Input", line.input),
        ("Parts", line.parts),
        ("Kerf", line.kerf),
        ("Trim", line.trim),
        ("Kept drops", line.kept_drop),
        ("Waste drops", line.waste_drop),
        ("Scrap", line.scrap),
    )
    columns = (Column("In"), *(Column(name, "n") for name, _ in named))
    row = (what, *(_two(value) for _, value in named))
    return join(
        el("h3", "Where the material goes", class_="told"),
        scrolling(
            f"Where the material goes, {material.material}",
            table(f"Where the material goes, in {what}", columns, [row]),
        ),
    )


def _kept(material: MaterialPlan, shown: Shown) -> Markup | None:
    """Drops for the rack by size, and the layouts that leave them."""
    counts: Counter[tuple[int, int]] = Counter()
    layouts: dict[tuple[int, int], list[str]] = {}
    for layout in material.layouts:
        for drop in layout.drops:
            if drop.kept:
                size = (-drop.length, -(drop.width or 0))
                counts[size] += layout.count
                layouts.setdefault(size, []).append(layout.id)
    if not counts:
        return None
    rows = [
        (
            shown.size(-size[0], -size[1] or None),
            f"{counts[size]:,}",
            ", ".join(dict.fromkeys(layouts[size])),
        )
        for size in sorted(counts)
    ]
    columns = (Column("Size", "m"), Column("Pieces", "n"), Column("Layouts"))
    return join(
        el("h3", "Kept drops", class_="told"),
        scrolling(f"Kept drops, {material.material}", table("For the rack", columns, rows)),
    )
