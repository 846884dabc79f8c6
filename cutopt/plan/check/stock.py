"""What is cut from: materials and their saws, rows of stock.csv and how many; the patterns."""

from __future__ import annotations

from collections import defaultdict

from cutopt.materials import Kind
from cutopt.plan.check.asked import Shop
from cutopt.plan.check.seen import SeenLayout, SeenMaterial, SeenPlan
from cutopt.plan.check.told import Told, count

__all__ = ["check_stock"]

_BUY, _ON_HAND = "buy", "on-hand"

#: material, stock length and width, then every place: x, y, along, across
_Places = tuple[str, int, int | None, tuple[tuple[int, int, int, int], ...]]


def check_stock(plan: SeenPlan, shop: Shop, told: Told) -> None:
    """Everything that a plan says of stock, and that set-ups are named as they are."""
    materials: set[str] = set()
    ids: set[str] = set()
    for material in plan.materials:
        name = material.material
        if name in materials:
            told(name, "stands twice in the plan, promised once")
        materials.add(name)
        if name not in shop.kinds:
            told(name, "is no material of stock.csv")
        else:
            _saw(material, shop, told)
        for layout in material.layouts:
            if layout.id in ids:
                told(f"{name}, layout {layout.id}", "its id is another layout's too")
            ids.add(layout.id)
            if not layout.parts:
                told(f"{name}, layout {layout.id}", "cuts no part from its stock")
            _row(material, layout, shop, told)
    for material in plan.materials:
        for other in material.joint_with:
            if other == material.material or other not in materials:
                told(material.material, f"joint_with names {other}, no other material of the plan")
    _amounts(plan, shop, told)
    _patterns(plan, told)


def _saw(material: SeenMaterial, shop: Shop, told: Told) -> None:
    name = material.material
    kind = shop.kinds[name]
    if material.kind != kind.value:
        told(name, f"kind is '{material.kind}', stock.csv says '{kind.value}'")
    if kind is Kind.LUMBER:
        rules = shop.rules.for_lumber(name)
        kerf, trim, stack = rules.kerf, rules.head_trim, rules.stack
    else:
        sheets = shop.rules.for_sheets(name)
        kerf, trim, stack = sheets.kerf, 0, sheets.stack
    if material.stack != stack:
        told(name, f"stack is {material.stack}, the rules say {stack}")
    _books(material, stack, told)
    if material.kerf != kerf:
        told(name, f"kerf is {told.show(material.kerf)}, the rules say {told.show(kerf)}")
    if material.head_trim != trim:
        told(name, f"head_trim is {told.show(material.head_trim)}, the rules say {told.show(trim)}")


def _books(material: SeenMaterial, stack: int, told: Told) -> None:
    """A set-up of n pieces of stock is cut in so many books as it takes, the last one as it is."""
    sheets: dict[str, int] = defaultdict(int)
    for layout in material.layouts:
        sheets[layout.pattern] += layout.count
    books = None if stack == 1 else sum((n + stack - 1) // stack for n in sheets.values())
    if material.books != books:
        told(material.material, f"books is {material.books}, its patterns take {books}")


def _row(material: SeenMaterial, layout: SeenLayout, shop: Shop, told: Told) -> None:
    where = f"{material.material}, layout {layout.id}"
    if layout.source not in (_BUY, _ON_HAND):
        told(where, f"source is '{layout.source}', promised '{_BUY}' or '{_ON_HAND}'")
    offer = shop.offers.get(layout.row)
    if offer is None:
        told(where, f"stock.row {layout.row} is no row of stock.csv")
        return
    if offer.material != material.material:
        told(where, f"stock.row {layout.row} is {offer.material}, promised {material.material}")
    if layout.length != offer.length:
        found, right = told.show(layout.length), told.show(offer.length)
        told(where, f"its stock is {found} long, row {layout.row} of stock.csv {right}")
    if layout.width != offer.width:
        sizes = (layout.width, offer.width)
        found, right = ("null" if w is None else told.show(w) for w in sizes)
        told(where, f"its stock's width is {found}, row {layout.row} of stock.csv says {right}")
    if (layout.lot or None) != (offer.lot or None):
        told(where, f"lot is {layout.lot!r}, row {layout.row} of stock.csv says {offer.lot!r}")
    found, right = layout.edges or "both", offer.edges.value
    if found != right:
        told(where, f"edges is '{found}', row {layout.row} of stock.csv says '{right}'")


def _amounts(plan: SeenPlan, shop: Shop, told: Told) -> None:
    bought: dict[int, int] = defaultdict(int)
    yard: dict[int, int] = defaultdict(int)
    users: dict[int, list[str]] = defaultdict(list)
    for material in plan.materials:
        for layout in material.layouts:
            if layout.source == _BUY:
                bought[layout.row] += layout.count
            elif layout.source == _ON_HAND:
                yard[layout.row] += layout.count
            users[layout.row].append(layout.id)
        for row, pieces in material.surplus:
            _surplus(material, row, pieces, bought[row], shop, told)
            bought[row] += pieces
    for row, offer in shop.offers.items():
        names = ", ".join(users[row][:4]) + (" ..." if len(users[row]) > 4 else "")
        where = f"{offer.material}, stock.csv row {row} (layouts {names})"
        if offer.limit is not None and bought[row] > offer.limit:
            told(where, f"{count(bought[row], 'piece')} bought, limit {offer.limit}")
        if 0 < bought[row] < offer.min_order:
            told(where, f"{count(bought[row], 'piece')} bought, min_order {offer.min_order}")
        if yard[row] > offer.on_hand:
            told(where, f"{count(yard[row], 'piece')} taken from the yard, on hand {offer.on_hand}")


def _surplus(
    material: SeenMaterial, row: int, pieces: int, cut: int, shop: Shop, told: Told
) -> None:
    """Pieces beyond what is cut are bought only where the mill sells no fewer at once."""
    where = f"{material.material}, surplus of row {row}"
    offer = shop.offers.get(row)
    if offer is None or offer.material != material.material:
        told(where, f"is no row of {material.material} in stock.csv")
    elif not cut:
        told(where, f"{count(pieces, 'piece')} bought and none of them cut")
    elif cut + pieces > offer.min_order:
        needed = max(0, offer.min_order - cut)
        told(where, f"{count(pieces, 'piece')}, min_order {offer.min_order} asks for {needed}")


def _patterns(plan: SeenPlan, told: Told) -> None:
    """One pattern for the same places on the same size of stock, another for any other."""
    by_places: dict[_Places, tuple[str, str]] = {}
    by_pattern: dict[str, tuple[_Places, str]] = {}
    for material in plan.materials:
        for layout in material.layouts:
            boxes = (part.box for part in layout.parts)
            places = tuple(sorted((b.x, b.y, b.along, b.across) for b in boxes))
            key = (material.material, layout.length, layout.width, places)
            where = f"{material.material}, layout {layout.id}"
            pattern, first = by_places.setdefault(key, (layout.pattern, layout.id))
            if pattern != layout.pattern:
                told(
                    where,
                    f"pattern is {layout.pattern}, but it cuts the same places as layout "
                    f"{first} of pattern {pattern}",
                )
            known, first = by_pattern.setdefault(layout.pattern, (key, layout.id))
            if known[1:] != key[1:]:
                told(
                    where,
                    f"pattern is {layout.pattern}, but layout {first} of that pattern cuts "
                    "other places or another size of stock",
                )
