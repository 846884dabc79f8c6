"""Parts that no sheet can hold, and why, in words for the planner."""

from __future__ import annotations

from collections.abc import Sequence

from cutopt.materials import Offer, Rules
from cutopt.plan import Group, Unplanned
from cutopt.solve.demand import Item, Piece
from cutopt.solve.words import shown

__all__ = ["few_sheets", "fits", "misfits", "too_few"]


def _usable(offer: Offer, rules: Rules) -> tuple[int, int]:
    edge = rules.for_sheets(offer.material).edge_trim
    return offer.length - 2 * edge, (offer.width or 0) - 2 * edge


def fits(item: Item, offer: Offer, rules: Rules) -> bool:
    """Whether one piece can be cut from the offer at all."""
    if offer.available == 0 or offer.material not in item.materials:
        return False
    length, width = _usable(offer, rules)
    a, b = item.length, item.width or 0
    return (a <= length and b <= width) or (item.turn and b <= length and a <= width)


def misfits(group: Group, item: Item) -> list[tuple[str, Unplanned]]:
    """Why an item fits no sheet, per row of the cut lists."""
    allowed = [o for o in group.offers if o.material in item.materials and o.available != 0]
    names = ", ".join(item.materials)
    need = shown(item.length, item.width or 0)
    if not allowed:
        why = f"no sheet of {names} can be had; a sheet of at least {need} would do"
    else:
        edge = min(group.rules.for_sheets(m).edge_trim for m in item.materials)
        largest = max(allowed, key=lambda o: (o.length * (o.width or 0), o.length))
        why = (
            f"{need} fits no sheet of {names}: the largest is "
            f"{shown(largest.length, largest.width or 0)}"
        )
        if edge:
            why += f" with {shown(edge)} trimmed off every edge"
        least = shown(item.length + 2 * edge, (item.width or 0) + 2 * edge)
        why += f"; a sheet of at least {least} would do"
        if not item.turn and _turned_fits(item, allowed, group.rules):
            why += ", or leave to turn the part (turn = yes)"
    return [_unplanned(p, p.qty, why) for p in item.pieces]


def _turned_fits(item: Item, offers: Sequence[Offer], rules: Rules) -> bool:
    sizes = [_usable(o, rules) for o in offers]
    return any((item.width or 0) <= a and item.length <= b for a, b in sizes)


def few_sheets(group: Group, materials: Sequence[str]) -> str:
    """Why there is no sheet for what could be cut."""
    have = "; ".join(
        f"{shown(o.length, o.width or 0)} of {o.material}: {o.available} (row {o.row})"
        for o in group.offers
        if o.material in materials and o.available is not None
    )
    return f"not enough sheets can be had ({have}); a higher limit would do"


def too_few(group: Group, piece: Piece, qty: int) -> tuple[str, Unplanned]:
    """Parts left over once every sheet that can be had is cut."""
    return _unplanned(piece, qty, few_sheets(group, piece.materials))


def _unplanned(piece: Piece, qty: int, why: str) -> tuple[str, Unplanned]:
    part = piece.part
    return part.material, Unplanned(part.section, part.mark, piece.length, piece.width, qty, why)
