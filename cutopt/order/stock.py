"""The stock order: what must be bought for a plan, less what is on hand.

Pieces that are bought only because the mill sells no fewer at once are on it too.
"""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass
from fractions import Fraction

from cutopt.materials import Offer
from cutopt.measure import board_feet, square_feet
from cutopt.plan import Plan, Source

__all__ = ["OrderLine", "stock_order"]


@dataclass(frozen=True, slots=True)
class OrderLine:
    """Pieces of one row of stock.csv to buy. Amounts are exact; `bundles` None where it has none.

    A part of a bundle counts as a whole one, since a purchase is always rounded up.
    """

    offer: Offer
    pieces: int

    @property
    def bundles(self) -> int | None:
        """Bundles to order, rounded up."""
        return -(-self.pieces // self.offer.bundle) if self.offer.bundle else None

    @property
    def board_feet(self) -> Fraction | None:
        """Nominal board feet; None for sheets and for lumber without a nominal size."""
        if self.offer.nominal is None:
            return None
        return self.pieces * board_feet(self.offer.nominal, self.offer.length)

    @property
    def square_feet(self) -> Fraction | None:
        """Square feet; None for lumber."""
        if self.offer.width is None:
            return None
        return self.pieces * square_feet(self.offer.length * self.offer.width)

    @property
    def extension(self) -> Fraction:
        """What the pieces cost."""
        return self.pieces * self.offer.cost


def stock_order(plan: Plan) -> tuple[OrderLine, ...]:
    """One line per row of stock.csv that must be bought from, in its order."""
    pieces: dict[int, int] = defaultdict(int)
    offers: dict[int, Offer] = {}
    for material in plan.materials:
        for layout in material.layouts:
            if layout.source is Source.BUY:
                pieces[layout.offer.row] += layout.count
                offers[layout.offer.row] = layout.offer
        for offer, more in material.surplus:
            pieces[offer.row] += more
            offers[offer.row] = offer
    return tuple(OrderLine(offers[row], pieces[row]) for row in sorted(pieces))
