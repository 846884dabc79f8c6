"""Where sheets are scarce: a whole plan looked for among all patterns, and what is left put to use.

Dives take good patterns first and may end with parts for which no sheet is left. On small orders
all patterns are listed and searched before any part is given up; and sheets that a plan without
some parts leaves over are offered to these once more.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from fractions import Fraction

from cutopt.materials import Offer
from cutopt.plan import Group
from cutopt.solve.demand import Piece, items_of
from cutopt.solve.outcome import Use
from cutopt.solve.sheets.columns import Generator
from cutopt.solve.sheets.dive import Draft
from cutopt.solve.sheets.refuse import fits
from cutopt.solve.sheets.settle import search_all

__all__ = ["apart", "back", "left_over", "whole_plan"]

#: Pieces of an order of which all patterns are listed, how many of these, and the work.
_PIECES = 40
_MOST = 60_000
_WORK = 2.0


def whole_plan(generator: Generator) -> Draft | None:
    """A plan with place for all of a small order, if one is found among all patterns."""
    model = generator.model
    if generator.jointed or not generator.plain or int(model.need.sum()) > _PIECES:
        return None
    pieces = int(model.need.sum())
    below = Fraction(1)
    for sheet in model.sheets:
        most = pieces if sheet.available is None else min(pieces, sheet.available)
        below += sheet.cost * most
    return search_all(generator, below, _WORK, _MOST)


def left_over(group: Group, uses: Sequence[Use]) -> Group:
    """The group with the stock alone that a plan does not use."""
    used: dict[int, int] = {}
    for use in uses:
        used[use.offer.row] = used.get(use.offer.row, 0) + use.count

    def rest(offer: Offer) -> Offer:
        if offer.available is None:
            return offer
        return replace(offer, on_hand=0, limit=offer.available - used.get(offer.row, 0))

    return replace(group, offers=tuple(rest(o) for o in group.offers))


def apart(group: Group, pieces: Sequence[Piece]) -> tuple[list[Piece], list[Piece]]:
    """Pieces that fit some sheet of the group, and the others."""
    able: list[Piece] = []
    others: list[Piece] = []
    for item in items_of(pieces):
        some = any(fits(item, offer, group.rules) for offer in group.offers)
        (able if some else others).extend(item.pieces)
    return able, others


def back(group: Group, uses: Sequence[Use], first: int) -> tuple[Use, ...]:
    """Uses of what was left over, as uses of the group's own offers; items count from `first`."""
    own = {o.row: o for o in group.offers}
    return tuple(
        replace(
            use,
            offer=own[use.offer.row],
            spots=tuple(replace(s, item=s.item + first) for s in use.spots),
        )
        for use in uses
    )
