"""The entries of a piece of stock: issued, and cut as planned; what a drop on the rack is."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import replace
from fractions import Fraction

from cutopt.materials import Edges, Offer, Per, Rules
from cutopt.measure import rounded
from cutopt.plan import Drop, Layout, Source
from cutopt.plan.sequence import usable_edge
from cutopt.saw.floor.entries import (
    By,
    Entry,
    EntryKind,
    Issued,
    KeptDrop,
    Reason,
    drop_size,
    part_size,
    size_of,
)

__all__ = ["cut_entries", "drop_offer", "issue_entry", "scrap_entry", "trim_of"]

#: Places of a price that is a share of a piece's, as on the plan's rack list.
_PLACES = 6


def issue_entry(stock: str, offer: Offer, source: Source, by: By, drop: int | None = None) -> Entry:
    """A piece of stock comes in. Entries made here are yet without a number."""
    issued = Issued(offer, source, drop)
    return Entry(0, EntryKind.ISSUED, stock, size_of(offer), by, issued=issued)


def scrap_entry(stock: str, amount: int, reason: Reason, by: By) -> list[Entry]:
    """Scrap, none where it amounts to nothing."""
    if not amount:
        return []
    return [Entry(0, EntryKind.SCRAP, stock, amount, by, reason)]


def trim_of(layout: Layout, rules: Rules) -> int:
    """What is squared off before the first part: the head of a stick, the edges of a sheet."""
    offer = layout.offer
    if offer.width is None:
        return rules.for_lumber(offer.material).head_trim
    edge = usable_edge(layout, rules.for_sheets(offer.material))
    return size_of(offer) - (offer.length - 2 * edge) * (offer.width - 2 * edge)


def cut_entries(
    stock: str,
    layout: Layout,
    rules: Rules,
    by: By,
    tongued: Collection[str] = (),
    rack_full: bool = False,
    told: int = 0,
    planned: Layout | None = None,
) -> tuple[Entry, ...]:
    """Where an issued piece of stock goes that is cut as its layout says.

    Trim, parts in order, drops (kept, or scrap as `waste drop`; with `rack_full` those to be kept
    are scrap too, as `rack full`), and the kerf: what is left of it, which is what the blade took.
    `told` is how much of it earlier entries have told of already. `planned` is the layout before a
    part of it came out short: whether a sheet is squared was settled by what was to be cut then.
    """
    found: list[Entry] = []
    if planned is None or planned.offer != layout.offer:
        planned = layout
    trim = trim_of(planned, rules)
    if trim:
        found.append(Entry(0, EntryKind.TRIM, stock, trim, by))
    found += [
        Entry(0, EntryKind.PART, stock, part_size(part), by, part=part)
        for part in sorted(layout.parts, key=lambda p: (p.y, p.x))
    ]
    for drop in layout.drops:
        if drop.kept and not rack_full:
            found.append(kept_entry(stock, planned, drop, rules, by, tongued))
        else:
            reason = Reason.RACK_FULL if drop.kept else Reason.WASTE_DROP
            found += scrap_entry(stock, drop_size(drop), reason, by)
    kerf = size_of(layout.offer) - told - sum(e.amount for e in found)
    if kerf:
        found.append(Entry(0, EntryKind.KERF, stock, kerf, by))
    return tuple(found)


def kept_entry(
    stock: str, layout: Layout, drop: Drop, rules: Rules, by: By, tongued: Collection[str]
) -> Entry:
    """A drop goes to the rack."""
    kept = KeptDrop(drop, drop_offer(layout, drop, rules, tongued))
    return Entry(0, EntryKind.KEPT, stock, drop_size(drop), by, kept=kept)


def drop_offer(layout: Layout, drop: Drop, rules: Rules, tongued: Collection[str]) -> Offer:
    """What a drop is as stock: one piece, none more to be had, its row not yet given.

    Its price is that of its stock by length or area; it has the factory edges of its stock that
    it lies flush with, unless edge trim took them off.
    """
    offer = layout.offer
    price = offer.price
    if offer.per is Per.EACH:
        share = Fraction(drop_size(drop), size_of(offer))
        price = rounded(Fraction(price) * share, _PLACES)
    edges = Edges.BOTH
    if drop.width is not None and offer.width is not None:
        edges = _edges_of(layout, drop, rules)
        if edges in (Edges.TONGUE, Edges.GROOVE) and offer.material not in tongued:
            # Turned end for end, the other long edge is the squared one.
            edges = Edges.ONE
    return replace(
        offer,
        row=0,
        length=drop.length,
        width=drop.width,
        price=price,
        on_hand=1,
        limit=0,
        bundle=None,
        over=0,
        min_order=0,
        edges=edges,
    )


def _edges_of(layout: Layout, drop: Drop, rules: Rules) -> Edges:
    offer = layout.offer
    if usable_edge(layout, rules.for_sheets(offer.material)):
        return Edges.NONE
    squared = drop.y == 0
    far = drop.y + (drop.width or 0) == offer.width
    if offer.edges is Edges.BOTH:
        if squared and far:
            return Edges.BOTH
        return Edges.GROOVE if squared else Edges.TONGUE if far else Edges.NONE
    keeps = far if offer.edges is Edges.TONGUE else squared
    return offer.edges if keeps else Edges.NONE
