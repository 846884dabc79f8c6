"""Rows and columns of a covering model in whole numbers, and bounds that any worths prove.

Rows are what is wanted of each kind, what can be had of each stock, how many of each unit of runs;
a search adds rows of its own behind them. For whatever worths of rows, a plan costs at least what
they add up to, and that sum is taken here in integers.
"""

from __future__ import annotations

import numpy as np

from cutopt.solve.covering.column import Bools, Covering, Floats, Ints

__all__ = ["Rows"]


#: Sums in whole numbers stay below this.
_SAFE = 1 << 61


class Rows:
    """A complete list of columns as a matrix.

    Attributes
    ----------
    low, high : int64 arrays, shape (rows,)
    open : bool array, shape (rows,)
        Rows without an upper side.
    upper : int64 array, shape (columns,)
        Most of each column in any plan.
    kinds, counted : int, range
        The first rows are kinds; the rows that count sticks of a stock.
    """

    def __init__(self, covering: Covering) -> None:
        columns, copies = covering.columns, covering.copies
        n = len(covering.need)
        stocks = sorted({c.stock for c in columns if c.stock is not None})
        row_of = {k: n + r for r, k in enumerate(stocks)}
        first_unit = n + len(stocks)
        self.kinds = n
        self.counted = range(n, first_unit)
        matrix = np.zeros((first_unit + len(copies), len(columns)), np.int64)
        for j, c in enumerate(columns):
            for i, q in c.cuts:
                matrix[i, j] = q
            if c.stock is not None:
                matrix[row_of[c.stock], j] = 1
            if c.unit is not None:
                matrix[first_unit + c.unit, j] = 1
        # No plan uses more sticks than it cuts pieces; no column more often than is wanted.
        self.most = _most_pieces(covering)
        low = np.zeros(len(matrix), np.int64)
        high = np.full(len(matrix), self.most, np.int64)
        low[:n] = covering.need
        for k, r in row_of.items():
            have = covering.available[k]
            high[r] = self.most if have is None else min(have, self.most)
        low[first_unit:] = high[first_unit:] = copies
        self.open = np.zeros(len(matrix), bool)
        self.open[:n] = True
        at = sorted(covering.exactly)
        high[at] = low[at]
        self.open[at] = False
        self._all, self._number = matrix, len(matrix)
        self._floats = matrix.astype(np.float64)
        #: No column's numbers add up to more.
        self._height = int(np.abs(matrix).sum(axis=0).max(initial=0))
        self.low, self.high = low, high
        self.upper = np.full(len(columns), self.most, np.int64)
        for j, c in enumerate(columns):
            if c.unit is not None:
                self.upper[j] = copies[c.unit]
            elif c.stock is not None:
                self.upper[j] = high[row_of[c.stock]]

    def __len__(self) -> int:
        return self._number

    @property
    def matrix(self) -> Ints:
        """Coefficients, shape (rows, columns)."""
        return self._all[: self._number]

    @property
    def floats(self) -> Floats:
        """The same in floats, for look-ups."""
        return self._floats[: self._number]

    def add(self, coefficients: Ints, low: int, *, open_ended: bool) -> int:
        """A further row that every plan keeps; its number."""
        if self._number == len(self._all):
            # Room for twice as many, so that adding row by row is cheap.
            more = np.zeros_like(self._all)
            self._all = np.concatenate([self._all, more])
            self._floats = np.concatenate([self._floats, more.astype(np.float64)])
        self._all[self._number] = coefficients
        self._floats[self._number] = coefficients
        self._number += 1
        self._height += int(np.abs(coefficients).max(initial=0))
        self.low = np.append(self.low, low)
        # No plan can pass what all columns at their most add up to.
        top = int(np.maximum(coefficients, 0).max(initial=0)) * self.most
        self.high = np.append(self.high, top)
        self.open = np.append(self.open, open_ended)
        return self._number - 1

    def shrink(self, kept: Bools) -> None:
        """Forget all columns but these."""
        self._all = self._all[:, kept]
        self._floats = self._floats[:, kept]
        self.upper = self.upper[kept]

    def sum(
        self, worth: Ints, cost: Ints, low: Ints, high: Ints, least: Ints, most: Ints
    ) -> tuple[int, Ints]:
        """What any plan within these bounds costs at least, for any worths of rows.

        Returns
        -------
        tuple
            The sum, and by column what it costs beyond its worth.
        """
        # Whatever worths are taken the sum is a bound; none may be so large that it overflows.
        top = _SAFE // max(1, self._height)
        worth = np.clip(np.where(self.open, np.maximum(worth, 0), worth), -top, top)
        at = np.flatnonzero(worth)
        rest = cost.copy()
        for r in at.tolist():
            rest -= worth[r] * self._all[r]
        by_row = np.where(worth > 0, low, high)[at]
        by_column = np.where(rest > 0, least, most)
        total = sum(a * b for a, b in zip(worth[at].tolist(), by_row.tolist(), strict=True))
        used = np.flatnonzero(by_column)
        total += sum(
            a * b for a, b in zip(rest[used].tolist(), by_column[used].tolist(), strict=True)
        )
        return total, rest

    def keeps(self, used: Ints) -> bool:
        """Whether whole counts of the columns keep every row."""
        made = self.matrix @ used
        high = np.where(self.open, made, self.high)
        return not ((made < self.low).any() or (made > high).any() or (used < 0).any())


def _most_pieces(covering: Covering) -> int:
    longest = [0] * len(covering.copies)
    for c in covering.columns:
        if c.unit is not None:
            longest[c.unit] = max(longest[c.unit], -sum(q for _, q in c.cuts))
    runs = sum(int(n) * m for n, m in zip(covering.copies, longest, strict=True))
    return int(covering.need.sum()) + runs
