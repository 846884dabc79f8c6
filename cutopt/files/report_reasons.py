"""Why a material can't cost less, in the report: dear sizes in a table, limits in sentences."""

from __future__ import annotations

from cutopt.files.html import Column, Markup, el, join, table
from cutopt.files.report_layouts import scrolling
from cutopt.files.report_words import Shown
from cutopt.materials import Kind
from cutopt.measure import rounded
from cutopt.plan import Cause, MaterialPlan, Shortage

__all__ = ["reasons_html"]


def reasons_html(material: MaterialPlan, shown: Shown) -> Markup | None:
    """The dearest sizes and the limits that bind; None where nothing is dear or short."""
    if not material.shortages:
        return None
    dear = [s for s in material.shortages if not s.limits]
    limits = [s for s in material.shortages if s.limits]
    return join(
        el("h3", "Why it can't cost less"),
        _dear(material, dear, shown) if dear else None,
        el("ul", *(el("li", s.text(shown.unit, shown.feet)) for s in limits)) if limits else None,
        el("p", _note(material, dear, limits)),
    )


def _note(material: MaterialPlan, dear: list[Shortage], limits: list[Shortage]) -> str:
    """What the figures mean, and what would change them."""
    lumber = material.kind is Kind.LUMBER
    stock, wood = ("stick", "wood") if lumber else ("sheet", "area")
    words = []
    if dear:
        words.append(
            f"The {wood} alone is priced at the least that is offered without a limit. What goes"
            f" beyond it comes from what these sizes leave unused and from dearer {stock}s that"
            f" they need: a {stock} that they divide better, or fewer of them, would save most."
        )
    if any(s.cause is Cause.RUN for s in dear):
        words.append("A run counts with its joints.")
    if any(s.cause not in (Cause.SPAN, Cause.LENGTHS) for s in (*dear, *limits)):
        words.append(
            f"At the margin: since {stock}s come whole, one piece more or less changes less than"
            f" that, or a whole {stock}."
        )
    return " ".join(words)


def _dear(material: MaterialPlan, dear: list[Shortage], shown: Shown) -> Markup:
    wood = "Wood" if material.kind is Kind.LUMBER else "Area"
    columns = (
        Column("Size", "m"),
        Column("Marks", "k"),
        Column("Wanted", "n"),
        Column("Each, at the margin" if dear[0].cause is not Cause.SPAN else "Each", "n"),
        Column(f"{wood} alone", "n"),
        Column(f"Beyond the {wood.lower()}", "n"),
    )
    rows = [
        (
            _size(s, shown),
            ", ".join(s.marks) + (f" and {s.more:,} more" if s.more else ""),
            f"{s.pieces:,}",
            f"${rounded(s.worth, _places(s)):,}",
            f"${rounded(s.plain, _places(s)):,}",
            f"${rounded(s.money, 2):,}",
        )
        for s in dear
    ]
    caption = f"The dearest, of ${rounded(material.objective, 2):,} in all"
    return scrolling(f"The dearest sizes, {material.material}", table(caption, columns, rows))


def _places(s: Shortage) -> int:
    """As many as tell the two prices apart."""
    return next((n for n in (2, 3) if rounded(s.worth, n) != rounded(s.plain, n)), 4)


def _size(s: Shortage, shown: Shown) -> str:
    size = shown.size(s.length, s.width)
    if s.cause is Cause.RUN:
        return f"run {size}" if s.mates == 1 else f"{s.mates} mates {size}"
    return f"span {size}" if s.cause is Cause.SPAN else size
