"""report.html: the plan on paper. One file, no script, no link out of it.

It reads the same on a screen in the yard, printed in black and white, and aloud: headings in
order, tables with captions, and every drawing with its words.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from fractions import Fraction
from importlib.resources import files

from cutopt.draw import COLOURS, DRAWING_STYLE
from cutopt.files.html import Column, Markup, el, join, table
from cutopt.files.report_layouts import scrolling
from cutopt.files.report_material import (
    bought,
    gap_words,
    material_html,
    money_words,
    order_html,
    percent_words,
    pieces,
    unplanned_list,
    yield_words,
)
from cutopt.files.report_words import Shown, counted
from cutopt.order import OrderLine
from cutopt.plan import MaterialPlan, Plan, Problem
from cutopt.yields import YieldLine

__all__ = ["report_html"]

_POLICY = "default-src 'none'; style-src 'unsafe-inline'; img-src data:"


def report_html(
    problem: Problem,
    plan: Plan,
    order: Sequence[OrderLine],
    amounts: Sequence[YieldLine],
    feet: bool = False,
) -> str:
    """Write the report of a plan.

    Parameters
    ----------
    problem
        The days that were planned, and their rules.
    plan
        What was found.
    order
        What must be bought, `cutopt.order.stock_order(plan)`.
    amounts
        Where the material goes, `cutopt.yields.yields(plan, rules)`.
    feet
        Whether measures in inches are shown as feet and inches.

    Returns
    -------
    str
        An HTML document, the same for the same input.
    """
    shown = Shown(plan.unit, feet, problem.rules)
    style = files("cutopt.files").joinpath("report.css").read_text(encoding="utf-8")
    heading = f"Cutting plan, {problem.days[0].plant}"
    days = sorted({day.date.isoformat() for day in problem.days})
    title = ", ".join((heading, *days))
    used = [m for m in plan.materials if m.layouts or m.unplanned]
    by_material: dict[str, list[OrderLine]] = defaultdict(list)
    for order_line in order:
        by_material[order_line.offer.material].append(order_line)
    by_name = {line.material: line for line in amounts}
    head = el(
        "head",
        Markup('<meta charset="utf-8">'),
        Markup(f'<meta http-equiv="Content-Security-Policy" content="{_POLICY}">'),
        Markup('<meta name="viewport" content="width=device-width,initial-scale=1">'),
        Markup('<link rel="icon" href="data:,">'),
        el("title", title),
        el("style", Markup(COLOURS + style + DRAWING_STYLE)),
    )
    body = el(
        "body",
        el("a", "To the materials", href="#materials", class_="skip"),
        el(
            "header",
            el("h1", heading, *(join(", ", el("span", d, class_="whole")) for d in days)),
            el("p", _lead(problem, plan, used), class_="lead"),
        ),
        _summary(used, by_material, by_name),
        el(
            "main",
            _all_unplanned(used, shown),
            _warnings(problem),
            _cautions(),
            order_html(order, shown),
            _key(),
            *(
                material_html(m, index, by_material[m.material], by_name, shown)
                for index, m in enumerate(used, start=1)
            ),
            id="materials",
        ),
        el(
            "footer",
            el(
                "p",
                "The same figures, line by line: plan.json, stock_order.csv, cut_list.csv,"
                " cuts.csv (the saw cuts of the sheets), yield.csv and rack.csv (kept drops, for"
                " tomorrow's stock.csv).",
            ),
            el("p", el("a", "Back to the contents", href="#contents"), class_="back"),
        ),
    )
    return "<!doctype html>\n" + el("html", head, "\n", body, lang="en") + "\n"


def _warnings(problem: Problem) -> Markup | None:
    """What a person should look at, as it was told when the days were read."""
    if not problem.warnings:
        return None
    return el(
        "section",
        el("h2", "To look at in what was sent"),
        el("ul", *(el("li", str(w)) for w in problem.warnings)),
    )


def _lead(problem: Problem, plan: Plan, used: Sequence[MaterialPlan]) -> str:
    parts = sum(lay.count * len(lay.parts) for m in used for lay in m.layouts)
    sections = {p.section for m in used for lay in m.layouts for p in lay.parts}
    cost = sum((m.cost for m in plan.materials), Fraction(0))
    return (
        f"What to buy and how each stick and sheet is cut: {counted(parts, 'part')} for"
        f" {counted(len(sections), 'section')}, out of {counted(len(used), 'material')}."
        f" The stock used costs {money_words(cost)} at the prices of the stock file."
    )


def _summary(
    used: Sequence[MaterialPlan],
    orders: dict[str, list[OrderLine]],
    by_name: dict[str, YieldLine],
) -> Markup:
    """The contents, with the figures of each material."""
    columns = (
        Column("Material"),
        Column("Pieces", "n"),
        Column("Bought", "n"),
        Column("Cost", "n"),
        Column("Gap", "n"),
        Column("Yield", "n"),
        Column("Waste", "n"),
    )
    rows = []
    for index, m in enumerate(used, start=1):
        line = by_name.get(m.material)
        rows.append(
            (
                _entry(m, index),
                f"{pieces(m):,}",
                f"{bought(orders[m.material]):,}",
                money_words(m.cost),
                gap_words(m),
                *yield_words(line),
            )
        )
    foot = (
        "All",
        f"{sum(pieces(m) for m in used):,}",
        f"{sum(bought(orders[m.material]) for m in used):,}",
        money_words(sum((m.cost for m in used), Fraction(0))),
        percent_words(
            sum((m.objective - m.bound for m in used), Fraction(0)),
            sum((m.objective for m in used), Fraction(0)),
        ),
        "",
        "",
    )
    return el(
        "nav",
        el("h2", "Contents and figures"),
        scrolling("Contents and figures", table("Material by material", columns, rows, foot)),
        el(
            "p",
            "Pieces are the sticks or sheets that are cut; bought is what the order asks for. The"
            " gap is how far the plan can at most lie above the least cost possible. Yield is parts"
            " over input less kept drops; waste is the rest. MBF is 1,000 board feet, MSF 1,000"
            " square feet, LF a foot.",
        ),
        aria_label="Contents",
        id="contents",
    )


def _entry(material: MaterialPlan, index: int) -> Markup:
    """The link to a material; it says so where parts of it are not planned."""
    missing = sum(u.qty for u in material.unplanned)
    link = el("a", material.material, href=f"#m{index}")
    note = join(Markup("<br>"), f"{missing:,} not planned") if missing else None
    return join(link, note)


def _all_unplanned(used: Sequence[MaterialPlan], shown: Shown) -> Markup | None:
    rows = [(m.material, u) for m in used for u in m.unplanned]
    if not rows:
        return None
    count = sum(u.qty for _, u in rows)
    return el(
        "section",
        el("h2", f"Not in this plan: {counted(count, 'part')}", id="unplanned"),
        el(
            "p",
            "These can't be cut from the stock offered. All else is planned without them.",
        ),
        unplanned_list(rows, shown),
        class_="alarm",
        aria_labelledby="unplanned",
    )


def _cautions() -> Markup:
    lines = (
        "Approved drawings rule. This plan chooses no size, grade, spacing, header, joint or load:"
        " where it and a released drawing differ, stop and ask.",
        "At the saw: square the head first, set every stop from the squared head, keep the guards"
        " on and the hands clear of the blade. Hold short pieces by a jig or clamp, not by hand.",
        "Sawing makes wood dust: run the extraction. Where fibre cement is sawn the dust holds"
        " silica: it needs its own assessment (29 CFR 1926.1153, 1910.1053).",
    )
    return el(
        "section",
        el("h2", "Before cutting", id="before"),
        el("ul", *(el("li", line) for line in lines)),
        class_="cautions",
        aria_labelledby="before",
    )


def _key() -> Markup:
    lines = (
        "A stick lies on a tape, its squared head at the left. The bold figure under each cut is"
        " the stop: the running measure from the squared head to the far end of the part.",
        "The figure in a part is its length. Over it stand the mark, the section and the jig; where"
        " several sets of sticks share a drawing, the table tells what differs: part A is the first"
        " from the head, then B, C and so on.",
        "On a stick a gap is a kerf. Solid at the head is trim. Hatched is waste. A broken outline"
        " is a kept drop for the rack.",
        "A sheet lies on two tapes, its squared head at the left, the face towards you. A double"
        " line is a factory edge, a toothed one tongue or groove, a solid one is squared off. The"
        " arrow over it is its strength axis. A part with an arrow is turned: its length runs"
        " across the sheet.",
        "A heavy line is a cut, its style the stage. The number in its ring is the order in which"
        " it is made. Cut one piece after the other as the table tells: all cuts of a stage before"
        " the next. Parts are called by where they come from: B2 is the second piece of strip B,"
        " B2a the first part of stack B2. A blank is a part still to be trimmed.",
        "The measure of a cut is read by tape from the edge named, the one nearest to the squared"
        " corner unless it says far, along the whole piece as it lay before its first cut. The"
        " fence is what fence or stop is set to against the edge that the cut before has left. Both"
        " end at the near side of the blade: the kerf lies beyond.",
    )
    return el(
        "section",
        el("h2", "How to read the drawings", id="key"),
        el("ul", *(el("li", line) for line in lines)),
        aria_labelledby="key",
    )
