"""What goes to the rack: the kept drops of a plan as rows for the next day's stock.csv."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass, replace
from decimal import Decimal
from fractions import Fraction

from cutopt.materials import Edge, Edges, Kind, Per, SheetRules
from cutopt.measure import rounded
from cutopt.plan import Drop, Layout, Plan, Problem

__all__ = ["RackLine", "rack"]

#: Places of a price that is a share of a piece's.
_PLACES = 6
_TONGUES = (Edge.TONGUE, Edge.GROOVE)


@dataclass(frozen=True, slots=True)
class RackLine:
    """Equal drops of one material, as a row of stock.csv: none more can be bought.

    `price` and `per` are those of the row that the drop was cut from, so that a foot or a square
    foot of it counts as much as before; where that was a price for each piece, it is the share of
    it that the drop is of its stock (to the sixth place).
    """

    material: str
    kind: Kind
    nominal: tuple[int, int] | None
    length: int
    width: int | None
    price: Decimal
    per: Per
    on_hand: int
    lot: str | None
    edges: Edges


def rack(problem: Problem, plan: Plan) -> tuple[RackLine, ...]:
    """A line for each size of kept drop, in the order of stock.csv, the largest first.

    Drops of equal size, edges, price and lot are one line. A drop keeps the factory edges of its
    stock that it lies flush with; edge trim takes them off.
    """
    tongued = {m for p in problem.parts if p.edge in _TONGUES for m in p.materials}
    tongued |= {o.material for o in problem.offers if o.edges in (Edges.TONGUE, Edges.GROOVE)}
    counted: dict[RackLine, int] = {}
    rows: dict[RackLine, int] = {}
    for material in plan.materials:
        rules = problem.rules.for_sheets(material.material)
        for layout in material.layouts:
            for drop in layout.drops:
                if drop.kept:
                    line = _line(layout, drop, rules, tongued)
                    counted[line] = counted.get(line, 0) + layout.count
                    rows[line] = min(layout.offer.row, rows.get(line, layout.offer.row))
    first = {m.material: n for n, m in enumerate(plan.materials)}
    order = sorted(
        counted,
        key=lambda x: (first[x.material], -x.length, -(x.width or 0), rows[x], x.edges, x.price),
    )
    return tuple(replace(line, on_hand=counted[line]) for line in order)


def _line(layout: Layout, drop: Drop, rules: SheetRules, tongued: Collection[str]) -> RackLine:
    offer = layout.offer
    price = offer.price
    if offer.per is Per.EACH:
        share = Fraction(drop.length, offer.length)
        if drop.width is not None and offer.width is not None:
            share *= Fraction(drop.width, offer.width)
        price = rounded(Fraction(price) * share, _PLACES)
    edges = Edges.BOTH
    if drop.width is not None and offer.width is not None:
        trimmed = rules.edge_trim and not any(p.full_span for p in layout.parts)
        far = drop.y + drop.width == offer.width
        edges = Edges.NONE if trimmed else _edges(offer.edges, drop.y == 0, far)
        if edges in (Edges.TONGUE, Edges.GROOVE) and offer.material not in tongued:
            # Turned end for end, the other long edge is the squared one.
            edges = Edges.ONE
    return RackLine(
        material=offer.material,
        kind=offer.kind,
        nominal=offer.nominal,
        length=drop.length,
        width=drop.width,
        price=price,
        per=offer.per,
        on_hand=0,
        lot=offer.lot,
        edges=edges,
    )


def _edges(has: Edges, squared: bool, far: bool) -> Edges:
    """The factory edges of a piece that lies flush with the squared or the far edge of a sheet."""
    if has is Edges.BOTH:
        if squared and far:
            return has
        return Edges.GROOVE if squared else Edges.TONGUE if far else Edges.NONE
    keeps = far if has is Edges.TONGUE else squared
    return has if keeps else Edges.NONE
