"""rack.csv: the kept drops of a plan as rows for the next day's stock.csv, worked out again."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from decimal import Decimal, InvalidOperation
from fractions import Fraction

from cutopt.materials import Offer, Per
from cutopt.measure import INCH, MM
from cutopt.plan.check.asked import Asked, Shop
from cutopt.plan.check.read import exact_number
from cutopt.plan.check.seen import SeenDrop, SeenPlan
from cutopt.plan.check.told import Told

__all__ = ["check_rack"]

#: A price for each piece is written to so many places.
_HALF_PLACE = Fraction(1, 2_000_000)
#: The long edges of a sheet that are factory, by the words of stock.csv: the squared, the far one.
_HAS = {
    "both": (True, True),
    "one": (True, False),
    "none": (False, False),
    "tongue": (False, True),
    "groove": (True, False),
}
#: material, length, width, per, lot, edges, price per foot, square foot or 1,000 of either
_Key = tuple[str, int, int | None, str, str, str, Fraction]


def check_rack(
    plan: SeenPlan, asked: Asked, shop: Shop, rows: Sequence[Mapping[str, str]], told: Told
) -> None:
    """Every row is a kept drop of the plan and every kept drop on a row, with its worth."""
    right = _right(plan, asked, shop)
    found: Counter[_Key] = Counter()
    for i, row in enumerate(rows):
        where = f"rack.csv:{i + 2}"
        key, pieces = _key(row, plan.unit, where, told)
        if key is None:
            continue
        # A price for each piece may be off by half of its last place.
        same = next((k for k in right if k[:6] == key[:6] and _near(k, key)), None)
        if same is None:
            told(where, f"{row.get('length')} of {key[0]} is no kept drop of the plan")
            continue
        found[same] += pieces
        offer = next(o for o in shop.offers.values() if o.material == key[0])
        if (row.get("kind") or "") != offer.kind.value:
            told(where, f"kind is {row.get('kind')!r}, stock.csv says {offer.kind.value!r}")
        if (row.get("limit") or "").strip() != "0":
            told(where, f"limit is {row.get('limit')!r}, promised 0")
    for key, pieces in right.items():
        if found[key] != pieces:
            size = told.show(key[1]) + (f" x {told.show(key[2])}" if key[2] is not None else "")
            told("rack.csv", f"{key[0]}: {found[key]} of {size}, the plan keeps {pieces}")


def _near(right: _Key, written: _Key) -> bool:
    slack = _HALF_PLACE if right[3] == Per.EACH.value else Fraction(0)
    return abs(right[6] - written[6]) <= slack


def _right(plan: SeenPlan, asked: Asked, shop: Shop) -> Counter[_Key]:
    rows = [part for parts in asked.marks.values() for part in parts]
    tongued = {m for part in rows if part.edge in ("tongue", "groove") for m in part.materials}
    tongued |= {o.material for o in shop.offers.values() if o.edges in ("tongue", "groove")}
    right: Counter[_Key] = Counter()
    for material in plan.materials:
        for layout in material.layouts:
            offer = shop.stock(material, layout)
            if offer is None:
                continue
            span = any(asked.span_rows(p, material.material) for p in layout.parts)
            trim = 0 if span else shop.rules.for_sheets(material.material).edge_trim
            for drop in layout.drops:
                if drop.kept:
                    edges = _edges(drop, offer, bool(trim), material.material in tongued)
                    right[_drop_key(drop, offer, edges)] += layout.count
    return right


def _drop_key(drop: SeenDrop, offer: Offer, edges: str) -> _Key:
    price = Fraction(offer.price)
    if offer.per is Per.EACH:
        price *= Fraction(drop.length, offer.length)
        price *= Fraction(drop.width or 1, offer.width or 1)
    lot = offer.lot or ""
    return offer.material, drop.length, drop.width, offer.per.value, lot, edges, price


def _edges(drop: SeenDrop, offer: Offer, trimmed: bool, tongued: bool) -> str:
    if drop.width is None:
        return ""
    squared, far = _HAS[offer.edges.value]
    squared, far = (squared and drop.y == 0), (far and drop.y + drop.width == offer.width)
    if trimmed or not (squared or far):
        return "none"
    if squared and far:
        return "both"
    if offer.edges.value == "one" or not tongued:
        return "one"
    return "groove" if squared else "tongue"


def _key(row: Mapping[str, str], unit: str, where: str, told: Told) -> tuple[_Key | None, int]:
    length = _length(row.get("length") or "", unit)
    width = _length(row.get("width") or "", unit) if (row.get("width") or "").strip() else None
    try:
        price = exact_number(Decimal((row.get("price") or "").strip()))
        pieces = int(row.get("on_hand") or "")
    except (InvalidOperation, ValueError):
        price, pieces = None, 0
    if length is None or price is None or pieces < 1:
        told(where, "its length, price or on_hand is no number above zero")
        return None, 0
    words = {k: row.get(k) or "" for k in ("material", "per", "lot", "edges")}
    edges = words["edges"] or ("both" if width is not None else "")
    return (words["material"], length, width, words["per"], words["lot"], edges, price), pieces


def _length(text: str, unit: str) -> int | None:
    """A written length in counts; a bare one is in the plan's unit, else it says mm."""
    text = text.strip()
    if text.endswith("mm"):
        text, unit = text[:-2], "mm"
    try:
        number = exact_number(Decimal(text))
    except InvalidOperation:
        return None
    counts = None if number is None else number * (INCH if unit == "in" else MM)
    return int(counts) if counts is not None and counts.denominator == 1 else None
