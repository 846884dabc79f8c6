"""Patterns of greatest gain for given worths of pieces, and how far worths overreach the costs."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

import numpy as np
from numpy.typing import NDArray

from cutopt.solve.lumber.knapsack import Filled, Knapsack, Values, never
from cutopt.solve.lumber.model import Ints, Model

__all__ = ["Floats", "Offered", "PatternPricer"]

Floats = NDArray[np.float64]

#: Copies of a piece that jointed runs may be cut into: no demand limits them.
_MANY = 1 << 40
#: Entries that the handling of an item takes as long as.
_ITEM = 6_000


@dataclass(frozen=True, slots=True)
class Offered:
    """All sticks at one set of worths.

    Attributes
    ----------
    gain : array, shape (stocks,)
        The most by which a pattern's worth passes its cost (below 0 where none does).
    used : array, shape (stocks,)
        The units that such a pattern uses at most.
    over : float
        The most by which a worth is a multiple of its cost, over the sticks without limit, from 1.
    filled : list
        The table of each grid.
    """

    gain: Floats
    used: Ints
    over: float
    filled: list[Filled]


class PatternPricer:
    """Everything that does not change with the worths."""

    def __init__(self, model: Model) -> None:
        self.model = model
        self.sacks = [
            Knapsack(
                grid.weight,
                max(model.stocks[k].room for k in model.stocks_of[g]),
                grid.most,
                model.joined[grid.kinds],
            )
            for g, grid in enumerate(model.grids)
        ]
        # Sticks that may be used to their end but not to just before it.
        self.exact = [
            Knapsack(grid.weight, sack.room, grid.most, model.joined[grid.kinds], exact=True)
            if ruled
            else None
            for sack, grid, ruled in zip(self.sacks, model.grids, model.ruled, strict=True)
        ]
        self.cost = np.array([float(s.cost) for s in model.stocks])
        self.room = np.array([s.room for s in model.stocks], np.int64)
        self.free = np.array([s.available is None for s in model.stocks], bool)
        self.credit = [self._credit(k) for k in range(len(model.stocks))]
        self.most_copies = np.where(model.joined, _MANY, model.need)
        #: About how many entries a pricing fills, the overhead of each item counted as some.
        self.cells = sum(
            len(grid.kinds) * (_ITEM + sack.room * ((grid.most or 0) + 1))
            for grid, sack in zip(model.grids, self.sacks, strict=True)
        )

    def _credit(self, k: int) -> Floats | None:
        """Dollars back for the drop at each number of used units; None where there are none."""
        model = self.model
        stock = model.stocks[k]
        grid = model.grids[stock.grid]
        if not model.slope(k):
            return None
        drop = stock.usable - np.arange(stock.room + 1) * grid.unit
        kept = (drop >= grid.keep) & (drop > 0)
        credit: Floats = np.where(kept, drop * float(model.slope(k)), 0.0)
        return credit if kept[1:].any() else None

    def fill(self, worth: Values, copies: Ints) -> list[Filled]:
        """The table of every grid; `copies` limits each kind."""
        filled = []
        for sack, exact, grid in zip(self.sacks, self.exact, self.model.grids, strict=True):
            table = sack.fill(worth[grid.kinds], copies[grid.kinds])
            if exact is not None:
                table.exact = exact.fill(worth[grid.kinds], copies[grid.kinds])
                # A piece makes way for others only where they leave the saw with as much.
                table.joined_value = table.exact.joined_value
            filled.append(table)
        return filled

    def values(self, filled: list[Filled], k: int) -> Values:
        """The most that a stick holds by used units; never to be reached where that is barred."""
        stock = self.model.stocks[k]
        table = filled[stock.grid]
        value = table.value[: stock.room + 1]
        if stock.safe >= stock.room or table.exact is None:
            return value
        value = value.copy()
        value[stock.safe + 1 :] = never(value.dtype)
        value[stock.full :] = table.exact.value[stock.full : stock.room + 1]
        return value

    def price(self, worth: Floats, copies: Ints) -> Offered:
        """The best pattern of every stock."""
        filled = self.fill(worth, copies)
        n = len(self.model.stocks)
        gain, used = np.zeros(n), self.room.copy()
        over = 1.0
        for k, stock in enumerate(self.model.stocks):
            value = self.values(filled, k)
            credit = self.credit[k]
            if credit is None and stock.safe >= stock.room:
                gain[k] = value[stock.room] - self.cost[k]
            else:
                sums = value if credit is None else value + credit
                u = int(sums.argmax())
                used[k] = u
                gain[k] = sums[u] - self.cost[k]
            if gain[k] > 0 and self.free[k]:
                over = max(over, self._over(k, value))
        return Offered(gain, used, over, filled)

    def _over(self, k: int, value: Floats) -> float:
        credit = self.credit[k]
        if credit is None:
            return float(value.max() / self.cost[k]) if self.cost[k] > 0 else float("inf")
        cost = self.cost[k] - credit
        at = np.flatnonzero(value > cost)
        with np.errstate(divide="ignore"):
            return float((value[at] / cost[at]).max(initial=1.0))

    def cuts(self, offered: Offered, k: int) -> list[tuple[int, int]]:
        """What is cut behind a stock's gain: (kind, how many)."""
        stock = self.model.stocks[k]
        grid = self.model.grids[stock.grid]
        used = int(offered.used[k])
        table = offered.filled[stock.grid]
        if used > stock.safe and table.exact is not None:
            table = table.exact
        found = table.pieces(used)
        return [(int(grid.kinds[i]), q) for i, q in found.items()]

    def whole_costs(self, k: int, scale: Fraction) -> Ints:
        """At most the cost of each number of used units, in whole `scale`ths of a dollar."""
        model = self.model
        stock = model.stocks[k]
        grid = model.grids[stock.grid]
        units = np.arange(stock.room + 1, dtype=np.int64)
        full = np.full(stock.room + 1, int(stock.cost * scale // 1), np.int64)
        slope = model.slope(k) * scale
        if slope:
            drop = stock.usable - units * grid.unit
            kept = (drop >= grid.keep) & (drop > 0)
            base = int((stock.cost * scale - slope * stock.usable) // 1)
            each = int(slope * grid.unit // 1)
            full[kept] = base + each * units[kept]
        # What may not be left at the saw costs more than any worth.
        full[stock.safe + 1 : stock.full] = np.iinfo(np.int64).max // 4
        return full
