"""A node's linear programme over the columns that have turned out to be of use.

Most of a long list never is. The floats here only propose values and worths.
"""

from __future__ import annotations

from collections.abc import Sequence

import highspy
import numpy as np

from cutopt.solve.covering.column import Bools, Floats, Ints
from cutopt.solve.covering.rows import Rows
from cutopt.solve.simplex import simplex

__all__ = ["Programme"]

#: So many columns are all taken in at once, or the likeliest of more.
_ALL = 1_500
_FIRST = 400
#: Columns that come in at a time, and how much below its worth one must cost for that.
_MORE = 100
_GAIN = 1e-9
_EPS = 1e-5


class Programme:
    """The relaxation of a covering model.

    Parameters
    ----------
    rows
        Its rows; those added to it later are to be added here as well.
    cost
        Dollars, by column.
    worth
        What pieces of each kind are about worth, for the first choice; shape (kinds,).
    dear
        Dollars for breaking a row by one: the programme always has a solution, and one that can't
        keep its rows costs more than any plan in question.
    """

    def __init__(
        self, rows: Rows, cost: Sequence[float], worth: Floats | None, dear: float
    ) -> None:
        self.rows, self.dear = rows, dear
        self.cost = np.array(cost)
        m, n = rows.matrix.shape
        h = simplex()
        empty = (np.zeros(0, np.int32), np.zeros(0))
        high = np.where(rows.open, highspy.kHighsInf, rows.high.astype(float))
        h.addRows(m, rows.low.astype(float), high, 0, np.zeros(m, np.int32), *empty)
        self._h = h
        self._inside = np.zeros(n, dtype=bool)
        self.columns: Ints = np.zeros(0, dtype=np.int64)
        self._place: Ints = np.zeros(0, dtype=np.int64)
        self._breaks: Ints = np.zeros(0, dtype=np.int64)
        self._made = 0
        self._feasibility = False
        for row in range(m):
            self._break(row, both=not rows.open[row])
        at = np.arange(n)
        if n > _ALL:
            per = worth if worth is not None else np.ones(rows.kinds)
            rest = self.cost - per @ rows.matrix[: rows.kinds]
            at = np.sort(np.argsort(rest, kind="stable")[:_FIRST])
        self._take_in(at)

    @property
    def size(self) -> int:
        """Entries of its matrix."""
        return len(self.rows) * len(self.columns)

    def _break(self, row: int, *, both: bool) -> None:
        """Let a row be broken, at a price."""
        index = np.array([row], dtype=np.int32)
        for sign in (1.0, -1.0) if both else (1.0,):
            self._h.addCol(self.dear, 0.0, highspy.kHighsInf, 1, index, np.array([sign]))
            self._breaks = np.append(self._breaks, self._made)
            self._made += 1

    def _take_in(self, at: Ints) -> None:
        matrix = self.rows.matrix[:, at].T
        column, row = np.nonzero(matrix)
        starts = np.searchsorted(column, np.arange(len(at))).astype(np.int32)
        values = matrix[column, row].astype(float)
        upper = self.rows.upper[at].astype(float)
        self._h.addCols(
            len(at),
            np.zeros(len(at)) if self._feasibility else self.cost[at],
            np.zeros(len(at)),
            upper,
            len(values),
            starts,
            row.astype(np.int32),
            values,
        )
        self._inside[at] = True
        self.columns = np.concatenate([self.columns, at])
        self._place = np.concatenate([self._place, self._made + np.arange(len(at))])
        self._made += len(at)

    @property
    def inside(self) -> Bools:
        """Which columns have come in, shape (columns,)."""
        return self._inside

    def shrink(self, kept: Bools) -> None:
        """Forget all columns but these, among them all that have come in."""
        number = np.cumsum(kept) - 1
        self.columns = number[self.columns]
        self.cost, self._inside = self.cost[kept], self._inside[kept]

    def admit(self, most: Ints) -> bool:
        """Take in columns that cost less than they are worth; False where there are none."""
        if self._inside.all():
            return False
        worth = np.array(self._h.getSolution().row_dual)
        rest = (0.0 if self._feasibility else self.cost) - worth @ self.rows.floats
        least = _GAIN * (1.0 if self._feasibility else self.dear)
        able = np.flatnonzero(~self._inside & (rest < -least) & (most > 0))
        if not len(able):
            return False
        best = able[np.argsort(rest[able], kind="stable")[:_MORE]]
        self._take_in(np.sort(best))
        return True

    def add_row(self, coefficients: Ints, low: int, *, open_ended: bool) -> None:
        """A further row, open above until bounds say otherwise."""
        here = coefficients[self.columns]
        at = np.flatnonzero(here)
        place = self._place[at].astype(np.int32)
        self._h.addRow(float(low), highspy.kHighsInf, len(at), place, here[at].astype(float))
        self._break(self._h.getNumRow() - 1, both=not open_ended)

    def solve(self, low: Ints, high: Ints, least: Ints, most: Ints) -> int:
        """Solve within bounds of rows and columns; steps of the simplex method taken."""
        h, m = self._h, len(low)
        top = np.where(self.rows.open, highspy.kHighsInf, high.astype(float))
        h.changeRowsBounds(m, np.arange(m, dtype=np.int32), low.astype(float), top)
        at, place = self.columns, self._place.astype(np.int32)
        h.changeColsBounds(len(at), place, least[at].astype(float), most[at].astype(float))
        h.run()
        return max(0, int(h.getInfo().simplex_iteration_count))

    def look_for_any(self, on: bool) -> None:
        """From now on solve for breaking rows as little as can be, or for the least cost again."""
        self._feasibility = on
        breaks = np.full(len(self._breaks), 1.0 if on else self.dear)
        costs = np.zeros(len(self.columns)) if on else self.cost[self.columns]
        for place, cost in ((self._breaks, breaks), (self._place, costs)):
            self._h.changeColsCost(len(place), place.astype(np.int32), cost)

    def solution(self) -> tuple[Floats, bool]:
        """Values by column, those outside at 0; and whether any row is broken."""
        value = np.array(self._h.getSolution().col_value)
        found: Floats = np.zeros(len(self.cost))
        found[self.columns] = value[self._place]
        value[self._place] = 0.0
        return found, bool(value.max(initial=0.0) > _EPS)

    def duals(self) -> Floats:
        """By row."""
        return np.array(self._h.getSolution().row_dual)
