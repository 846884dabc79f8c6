"""A row of stock.csv: a size that can be bought or lies in the yard, and what one piece costs."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal
from enum import StrEnum
from fractions import Fraction

from cutopt.materials.edges import Edges
from cutopt.measure import board_feet, feet, square_feet

__all__ = ["Kind", "Offer", "Per"]


class Kind(StrEnum):
    """How a material is cut: lumber along one measure, sheets along two."""

    LUMBER = "lumber"
    SHEET = "sheet"


class Per(StrEnum):
    """What a price is for: a piece, a foot, 1,000 nominal board feet, 1,000 square feet."""

    EACH = "each"
    LF = "LF"
    MBF = "MBF"
    MSF = "MSF"


@dataclass(frozen=True, slots=True)
class Offer:
    """One size of one material.

    `row` is its line in stock.csv (the header is 1) and names it in a plan. `limit` is the most
    pieces that can still be bought, None for no limit; `on_hand` pieces lie in the yard. `width`
    is None for lumber, `nominal` (thickness, width in) is None for sheets. `over` is what of the
    length parts may not use: over-length stock counts as its trade length, and what is beyond
    belongs to the drop. The mill sells no fewer than `min_order` pieces of this row at once: where
    any are bought, so many are paid for. `edges` says which long edges of a sheet are factory.
    """

    row: int
    material: str
    kind: Kind
    nominal: tuple[int, int] | None
    length: int
    width: int | None
    price: Decimal
    per: Per
    on_hand: int = 0
    limit: int | None = None
    bundle: int | None = None
    lot: str | None = None
    over: int = 0
    min_order: int = 0
    edges: Edges = Edges.BOTH

    @property
    def counts_as(self) -> int:
        """The length that parts may use, head trim included."""
        return self.length - self.over

    @property
    def cost(self) -> Fraction:
        """Exact dollars for one piece, bought or on hand alike."""
        price = Fraction(self.price)
        if self.per is Per.EACH:
            return price
        if self.per is Per.LF:
            return price * feet(self.length)
        if self.per is Per.MBF:
            if self.nominal is None:
                raise ValueError(f"row {self.row}: a price per MBF needs a nominal size")
            return price * board_feet(self.nominal, self.length) / 1000
        if self.width is None:
            raise ValueError(f"row {self.row}: a price per MSF needs a width")
        return price * square_feet(self.length * self.width) / 1000

    def bought(self, pieces: int) -> int:
        """Pieces to buy where `pieces` are cut: what the yard lacks, and no fewer than the mill
        sells at once. What is bought beyond what is cut stays whole.
        """
        if pieces <= self.on_hand:
            return 0
        return max(self.min_order, pieces - self.on_hand)

    @property
    def available(self) -> int | None:
        """Pieces that can be had, on hand and bought together; None for no limit."""
        return None if self.limit is None else self.on_hand + self.limit
