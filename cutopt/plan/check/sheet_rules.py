"""What a shop asks of a sheet beside its cuts: factory edges, no narrow rips, few parts.

A part's measure across the sheet is what a rip gives it; only a part as wide as its stock is not
ripped at all. What is trimmed off may be narrower: it lies on the far side of the blade.
"""

from __future__ import annotations

from collections.abc import Sequence

from cutopt.cutlist import Part
from cutopt.materials import Edge, Offer, SheetRules
from cutopt.plan.check.seen import SeenLayout, SeenPart
from cutopt.plan.check.told import Told, count

__all__ = ["check_sheet_rules", "may_lie"]

#: The long edges of a sheet that are factory, by the words of stock.csv: what lies at y = 0 and
#: what at y = width. `edge` is one that is neither tongue nor groove, as far as is known.
_EDGES: dict[str, tuple[str | None, str | None]] = {
    "both": ("groove", "tongue"),
    "one": ("edge", None),
    "none": (None, None),
    "tongue": (None, "tongue"),
    "groove": ("groove", None),
}


def check_sheet_rules(
    layout: SeenLayout,
    offer: Offer,
    rules: SheetRules,
    rows: Sequence[SeenPart],
    where: str,
    told: Told,
) -> None:
    """One layout of sheets against the rules that go beyond edge-to-edge cuts.

    `rows` are those of its parts that are rows of a ceiling field.
    """
    if rules.max_parts and len(layout.parts) > rules.max_parts:
        told(where, f"{count(len(layout.parts), 'part')}, at most {rules.max_parts} from a sheet")
    width = offer.width or 0
    trim = 0 if rows else rules.edge_trim
    for part in layout.parts:
        across = part.box.across
        if across < rules.least_rip and not (across == width and not trim):
            told(
                where,
                f"{part} is ripped to {told.show(across)}, least_rip is "
                f"{told.show(rules.least_rip)}",
            )
        if part.edge:
            _edge(part, offer, trim, where, told)
    for row in rows:
        squared, far = _EDGES[offer.edges.value]
        whole = (row.width or 0) == width
        if not ((squared and far) if whole else (squared or far)):
            told(
                where,
                f"{row} is a ceiling row, whose board has edges '{offer.edges.value}' of the "
                "factory's",
            )


def _edge(part: SeenPart, offer: Offer, trim: int, where: str, told: Told) -> None:
    asks = f"{part} asks for edge '{part.edge}'"
    if trim:
        told(where, f"{asks}, and the edges are trimmed off by {told.show(trim)}")
        return
    if part.turned:
        told(where, f"{asks} and is turned, promised along the sheet")
        return
    squared, far = _EDGES[offer.edges.value]
    has = {squared} if part.y == 0 else set()
    if part.box.y_end == (offer.width or 0):
        has |= {far}
    if not _kept(part.edge, has - {None}):
        told(
            where,
            f"{asks}, lies from y {told.show(part.y)} to {told.show(part.box.y_end)} of "
            f"{told.show(offer.width or 0)}, whose factory edges are '{offer.edges.value}'",
        )


def _kept(edge: str, has: set[str | None]) -> bool:
    """Whether a part that keeps these factory edges has what it asks for."""
    if edge == "both":
        return len(has) == 2
    return edge in has or (edge == "one" and bool(has))


def may_lie(row: Part, offer: Offer, rules: SheetRules) -> bool:
    """Whether one part could be cut alone from a whole sheet of the offer."""
    trim = 2 * rules.edge_trim
    length, width = offer.length - trim, (offer.width or 0) - trim

    def lies(along: int, across: int) -> bool:
        whole = not trim and across == offer.width
        return along <= length and across <= width and (whole or across >= rules.least_rip)

    across = row.width or 0
    if row.edge is Edge.NONE:
        return lies(row.length, across) or (row.turn and lies(across, row.length))
    squared, far = _EDGES[offer.edges.value]
    if trim or not lies(row.length, across):
        return False
    if across == offer.width:
        return _kept(row.edge.value, {squared, far} - {None})
    return any(edge is not None and _kept(row.edge.value, {edge}) for edge in (squared, far))
