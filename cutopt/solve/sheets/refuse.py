"""Parts that no sheet can hold, and why, in words for the planner."""

from __future__ import annotations

from collections.abc import Sequence

from cutopt.materials import Edge, Edges, Offer, Rules
from cutopt.plan import Group, Unplanned
from cutopt.solve.demand import Item, Piece
from cutopt.solve.sheets.lie import has_edge, may_lie
from cutopt.solve.words import shown

__all__ = ["few_sheets", "fits", "misfits", "too_few"]

#: Rows of stock.csv that a reason names.
_MOST_ROWS = 4


def _usable(offer: Offer, rules: Rules) -> tuple[int, int]:
    edge = rules.for_sheets(offer.material).edge_trim
    return offer.length - 2 * edge, (offer.width or 0) - 2 * edge


def fits(item: Item, offer: Offer, rules: Rules) -> bool:
    """Whether one piece can be cut from the offer at all."""
    if offer.available == 0 or offer.material not in item.materials:
        return False
    a, b = item.length, item.width or 0
    return may_lie(a, b, item.edge, offer, rules) or (
        item.turn and may_lie(b, a, item.edge, offer, rules)
    )


def misfits(group: Group, item: Item) -> list[tuple[str, Unplanned]]:
    """Why an item fits no sheet, per row of the cut lists."""
    allowed = [o for o in group.offers if o.material in item.materials and o.available != 0]
    names = ", ".join(item.materials)
    need = shown(item.length, item.width or 0)
    holding = [o for o in allowed if _holds(item, o, group.rules)]
    if not allowed:
        why = f"no sheet of {names} can be had; a sheet of at least {need} would do"
    elif holding and item.edge:
        why = _no_edge(item, holding, group.rules)
    elif holding:
        why = _narrow(item, holding, group.rules)
    else:
        why = _small(item, allowed, group.rules)
    return [_unplanned(p, p.qty, why) for p in item.pieces]


def _holds(item: Item, offer: Offer, rules: Rules) -> bool:
    """Whether the sheet is large enough, whatever else stands against it."""
    length, width = _usable(offer, rules)
    a, b = item.length, item.width or 0
    return (a <= length and b <= width) or (item.turn and b <= length and a <= width)


def _small(item: Item, allowed: Sequence[Offer], rules: Rules) -> str:
    names = ", ".join(item.materials)
    edge = min(rules.for_sheets(m).edge_trim for m in item.materials)
    largest = max(allowed, key=lambda o: (o.length * (o.width or 0), o.length))
    why = (
        f"{shown(item.length, item.width or 0)} fits no sheet of {names}: the largest is "
        f"{shown(largest.length, largest.width or 0)}"
    )
    if edge:
        why += f" with {shown(edge)} trimmed off every edge"
    least = shown(item.length + 2 * edge, (item.width or 0) + 2 * edge)
    why += f"; a sheet of at least {least} would do"
    if not item.turn and not item.edge and _turned_fits(item, allowed, rules):
        why += ", or leave to turn the part (turn = yes)"
    return why


def _no_edge(item: Item, holding: Sequence[Offer], rules: Rules) -> str:
    """Why no sheet that is large enough leaves the part its factory edges."""
    names = ", ".join(item.materials)
    asks = f"{shown(item.length, item.width or 0)} with edge '{item.edge.value}'"
    across = item.width or 0
    having = [o for o in holding if has_edge(item.edge, across, o, rules)]
    if having:
        return _narrow(item, having, rules)
    untrimmed = [o for o in holding if not rules.for_sheets(o.material).edge_trim]
    if not untrimmed:
        trims = {rules.for_sheets(o.material).edge_trim for o in holding}
        return (
            f"{asks} finds no factory edge on {names}: edge_trim takes {shown(min(trims))} off "
            "every edge; an edge_trim of 0 would do"
        )
    widths = sorted({o.width or 0 for o in untrimmed if o.edges is Edges.BOTH})
    if item.edge is Edge.BOTH and widths:
        return (
            f"{asks} must be as wide as its sheet, and {names} with both edges is "
            f"{', '.join(shown(w) for w in widths)} wide; a width of that, or edge 'one', would do"
        )
    rows = ", ".join(f"row {o.row} has '{o.edges.value}'" for o in untrimmed[:_MOST_ROWS])
    more = " ..." if len(untrimmed) > _MOST_ROWS else ""
    return f"{asks} finds no such factory edge on {names} ({rows}{more}); a whole sheet would do"


def _narrow(item: Item, holding: Sequence[Offer], rules: Rules) -> str:
    """Why a part that sheets hold is ripped too narrow from all of them."""
    names = ", ".join(item.materials)
    least = min(rules.for_sheets(o.material).least_rip for o in holding)
    size = (item.length, item.width or 0)
    across = size[1]
    if item.turn and _turned_fits(item, holding, rules) and size[1] < size[0]:
        across = size[0]
    why = (
        f"{shown(*size)} would be ripped to {shown(across)} of {names}, whose least_rip is "
        f"{shown(least)}; stock of just that width would do"
    )
    turned = not item.turn and not item.edge and item.length >= least
    if turned and _turned_fits(item, holding, rules):
        why += ", or leave to turn the part (turn = yes)"
    return why


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
