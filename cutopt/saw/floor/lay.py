"""Layouts made at the saw: parts laid on one piece of stock, put into its drops, taken off it.

Everything a shop asks of a layout is kept: kerf, head and edge trim, over-length, the least last
cut, the most parts, factory edges, narrow rips, edge-to-edge cuts in the stages allowed. Nothing
here knows of costs or of other stock.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace
from fractions import Fraction

from cutopt.materials import Edge, Edges, Offer, Rules, SheetRules
from cutopt.plan import Drop, Layout, Placed, Source
from cutopt.plan.guillotine import Rect, first_axes, guillotine
from cutopt.plan.sequence import cut_sequence
from cutopt.plan.value import drop_credit, keeps
from cutopt.saw.floor.state import Piece

__all__ = ["empty", "laid", "put", "refitted", "relaid", "without", "worth"]


def empty(offer: Offer, source: Source, rules: Rules) -> Layout:
    """A piece of stock with nothing on it: one drop."""
    return replace(
        Layout("", "", 1, offer, source, (), ()), drops=_whole(offer, rules, full_span=False)
    )


def _whole(offer: Offer, rules: Rules, full_span: bool) -> tuple[Drop, ...]:
    if offer.width is None:
        length = offer.length - rules.for_lumber(offer.material).head_trim
        return (Drop(0, 0, length, None, keeps(offer, length, None, rules)),)
    edge = 0 if full_span else rules.for_sheets(offer.material).edge_trim
    length, width = offer.length - 2 * edge, offer.width - 2 * edge
    return (Drop(0, 0, length, width, keeps(offer, length, width, rules)),)


def laid(layout: Layout, parts: Sequence[Placed], rules: Rules) -> Layout | None:
    """The layout with these parts: on a stick from the head in this order, on a sheet where they
    say. None where the shop's rules don't let it be cut so.
    """
    offer = layout.offer
    if not parts:
        return replace(layout, parts=(), drops=_whole(offer, rules, full_span=False))
    if offer.width is None:
        return _stick(layout, parts, rules)
    return _sheet(layout, parts, rules)


def _stick(layout: Layout, parts: Sequence[Placed], rules: Rules) -> Layout | None:
    offer = layout.offer
    of = rules.for_lumber(offer.material)
    if of.max_parts and len(parts) > of.max_parts:
        return None
    end, reach = offer.length - of.head_trim, offer.counts_as - of.head_trim
    at = 0
    placed: list[Placed] = []
    for part in parts:
        if at + part.length > reach:
            return None
        placed.append(replace(part, x=at, y=0, turned=False))
        at += part.length + of.kerf
    drops: tuple[Drop, ...] = ()
    if at < end:
        if end - at < of.least_left:
            return None
        drops = (Drop(at, 0, end - at, None, keeps(offer, end - at, None, rules)),)
    return replace(layout, parts=tuple(placed), drops=drops)


def _sheet(layout: Layout, parts: Sequence[Placed], rules: Rules) -> Layout | None:
    offer = layout.offer
    of = rules.for_sheets(offer.material)
    full = any(p.full_span for p in parts)
    edge = 0 if full else of.edge_trim
    length, width = offer.length - 2 * edge, (offer.width or 0) - 2 * edge
    if of.max_parts and len(parts) > of.max_parts:
        return None
    if not all(_may_lie(p, offer, of, edge) for p in parts) or sum(p.full_span for p in parts) > 1:
        return None
    rects = [Rect(p.x, p.y, p.along, p.across) for p in parts]
    best: tuple[int, int, tuple[Rect, ...]] | None = None
    for kept in _kept_choices(layout, rects, of):
        for axis in first_axes(of.first_cut):
            cutting = guillotine(rects, length, width, of.kerf, axis, of.stages, kept)
            if cutting is None:
                continue
            large = [d for d in cutting.drops if keeps(offer, d.length, d.width, rules)]
            mark = (sum(d.length * d.width for d in large), -len(cutting.drops))
            if best is None or mark > best[:2]:
                best = (*mark, cutting.drops)
    if best is None:
        return None
    drops = tuple(
        Drop(d.x, d.y, d.length, d.width, keeps(offer, d.length, d.width, rules)) for d in best[2]
    )
    return replace(layout, parts=tuple(parts), drops=drops)


def _kept_choices(
    layout: Layout, rects: Sequence[Rect], rules: SheetRules
) -> list[tuple[Rect, ...]]:
    """Drops that may come off whole: those that the layout keeps and no part touches; or none."""
    kept = tuple(
        Rect(d.x, d.y, d.length, d.width or 0)
        for d in layout.drops
        if d.kept and not any(_near(Rect(d.x, d.y, d.length, d.width or 0), r) for r in rects)
    )
    return [kept, ()] if kept else [()]


def _near(a: Rect, b: Rect) -> bool:
    return (
        a.x < b.x + b.length
        and b.x < a.x + a.length
        and a.y < b.y + b.width
        and b.y < a.y + a.width
    )


def _may_lie(part: Placed, offer: Offer, rules: SheetRules, trim: int) -> bool:
    """Factory edges and narrow rips, as the part lies."""
    width = offer.width or 0
    if part.across < rules.least_rip and not (part.across == width and not trim):
        return False
    if part.full_span:
        if part.turned:
            return False
        if part.across == width:
            return offer.edges is Edges.BOTH
        return (bool(offer.edges.squared) and part.y == 0) or (
            bool(offer.edges.far) and part.y + part.across == width
        )
    if part.edge is Edge.NONE:
        return True
    if trim or part.turned:
        return False
    squared, far = part.y == 0, part.y + part.across == width
    if part.edge is Edge.BOTH:
        return squared and far and offer.edges is Edges.BOTH
    has = (offer.edges.squared if squared else frozenset()) | (
        offer.edges.far if far else frozenset()
    )
    return part.edge in has


def put(layout: Layout, piece: Piece, rules: Rules) -> Layout | None:
    """The layout with one piece more, in the drop that it fills best; None where none takes it.

    On a stick it comes behind the others; on a sheet into the near or the far corner of a drop,
    turned where its row allows it.
    """
    offer = layout.offer
    if offer.material not in piece.materials or (offer.width is None) != (piece.width is None):
        return None
    if offer.width is None:
        room = layout.drops[-1].length if layout.drops else 0
        if piece.length > room:
            return None
        return _stick(layout, [*layout.parts, piece.placed(0)], rules)
    if piece.full_span:
        return _row(layout, piece, rules)
    found: list[tuple[int, int, int, bool, Layout]] = []
    for drop in sorted(layout.drops, key=_area):
        for turned in (False, True) if piece.turn and piece.length != piece.width else (False,):
            made = _into(layout, drop, piece, turned, rules)
            if made is not None:
                largest = max((_area(d) for d in made.drops), default=0)
                found.append((_kept_area(made), largest, -drop.x, turned, made))
        if found:
            break
    return max(found, key=lambda f: f[:4])[4] if found else None


def _area(drop: Drop) -> int:
    return drop.length * (drop.width or 0)


def _kept_area(layout: Layout) -> int:
    return sum(_area(d) for d in layout.drops if d.kept)


def _into(layout: Layout, drop: Drop, piece: Piece, turned: bool, rules: Rules) -> Layout | None:
    part = piece.placed(drop.x, drop.y, turned)
    if part.along > drop.length or part.across > (drop.width or 0):
        return None
    far = drop.y + (drop.width or 0) - part.across
    for y in dict.fromkeys((drop.y, far)):
        made = _sheet(layout, [*layout.parts, replace(part, y=y)], rules)
        if made is not None:
            return made
    return None


def _row(layout: Layout, piece: Piece, rules: Rules) -> Layout | None:
    """A ceiling row lies on a board of its own, a whole one between both factory edges."""
    offer = layout.offer
    width = piece.width or 0
    if layout.parts or (piece.edge is Edge.BOTH) != (width == offer.width):
        return None
    y = 0 if offer.edges.squared else (offer.width or 0) - width
    if piece.length > offer.length or y < 0:
        return None
    return _sheet(replace(layout, drops=()), [piece.placed(0, y)], rules)


def without(layout: Layout, gone: Iterable[int], rules: Rules) -> Layout | None:
    """The layout less the parts with these indexes.

    None where no part is left, or where what is left may not be cut so (the least last cut).
    """
    out = set(gone)
    parts = [p for i, p in enumerate(layout.parts) if i not in out]
    if not parts:
        return None
    return laid(layout, parts, rules)


def relaid(layout: Layout, offer: Offer, rules: Rules) -> Layout | None:
    """The same parts under other rules or on other stock; None where they no longer fit.

    On a sheet strips and stacks keep their order, a new kerf between them.
    """
    fresh = replace(layout, offer=offer)
    if offer.width is None:
        return _stick(fresh, layout.parts, rules)
    of = rules.for_sheets(offer.material)
    for axis in first_axes(of.first_cut):
        rip = axis.value == "rip"
        moved = _close(list(layout.parts), rip, 0, 0, of.kerf)
        if moved is not None:
            order = {id(p): i for i, p in enumerate(layout.parts)}
            parts = [m for _, m in sorted(((order[id(p)], m) for p, m in moved), key=_first)]
            made = _sheet(replace(fresh, drops=()), parts, rules)
            if made is not None:
                return made
    return None


def refitted(layout: Layout, rules: Rules) -> Layout | None:
    """The layout itself where the rules in force let it be cut, else laid anew; None if it can't.

    On a stick stops may move with the kerf; a sheet whose cuts still come out stays as it is.
    """
    if layout.offer.width is not None:
        of = rules.for_sheets(layout.offer.material)
        if cut_sequence(layout, of) is not None and laid(layout, layout.parts, rules) is not None:
            return layout
    return relaid(layout, layout.offer, rules)


def _first(pair: tuple[int, Placed]) -> int:
    return pair[0]


def _close(
    parts: list[Placed], rip: bool, x: int, y: int, kerf: int, tried: bool = False
) -> list[tuple[Placed, Placed]] | None:
    """Parts laid anew from (x, y), slice beside slice with a kerf between; None if no cut parts
    them. Pairs of what was and what is.
    """
    if len(parts) == 1:
        return [(parts[0], replace(parts[0], x=x, y=y))]
    groups: list[tuple[int, list[Placed]]] = []
    for part in sorted(parts, key=lambda p: (p.y, p.x) if rip else (p.x, p.y)):
        low = part.y if rip else part.x
        high = low + (part.across if rip else part.along)
        if groups and low < groups[-1][0]:
            groups[-1][1].append(part)
            groups[-1] = (max(groups[-1][0], high), groups[-1][1])
        else:
            groups.append((high, [part]))
    if len(groups) == 1:
        return None if tried else _close(parts, not rip, x, y, kerf, tried=True)
    found: list[tuple[Placed, Placed]] = []
    for _, members in groups:
        inner = _close(members, not rip, x, y, kerf)
        if inner is None:
            return None
        found += inner
        if rip:
            y = max(m.y + m.across for _, m in inner) + kerf
        else:
            x = max(m.x + m.along for _, m in inner) + kerf
    return found


def worth(layout: Layout, rules: Rules) -> Fraction:
    """What a layout costs, less the credit for its drops, in exact dollars."""
    credit = (drop_credit(layout.offer, d, rules) for d in layout.drops)
    return layout.offer.cost - sum(credit, Fraction(0))
