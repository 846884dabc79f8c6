"""The linear master over patterns and ways to joint runs: one hot-started solver.

The floats that it hands out only guide the search. Rows: what is wanted of each kind, what can be
had of each limited stock, how many of each unit of jointed runs. A dive moves the right-hand sides
and back. A column of its own for each kind and unit takes what can't be had, at a cost that no
stick comes near.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction

import highspy
import numpy as np

from cutopt.solve.lumber.model import Bools, Cuts, Ints, Model, Pattern
from cutopt.solve.lumber.pricing import Floats
from cutopt.solve.runs import Joints
from cutopt.solve.simplex import simplex

__all__ = ["Duals", "Master", "RunColumn"]

#: What a piece left out costs, in dearest sticks; up to twice that for the longest.
_MISSING = 50.0

_EMPTY = (np.zeros(0, np.int32), np.zeros(0))


@dataclass(frozen=True, slots=True)
class RunColumn:
    """One way to joint a unit; `cuts` are by kind, `made` the kind of each piece of each run."""

    unit: int
    joints: Joints
    cuts: Cuts
    cost: Fraction
    made: tuple[tuple[int, ...], ...]


@dataclass(frozen=True, slots=True)
class Duals:
    """Dollars: `piece` per kind (at least 0 unless tight), `stock` (at most 0), `unit`."""

    piece: Floats
    stock: Floats
    unit: Floats


class Master:
    """The restricted master over the columns found so far.

    Parameters
    ----------
    model
        Kinds and stocks; what they need and what can be had are the first right-hand sides.
    copies
        How many of each unit of jointed runs.
    unit_length
        The length of each unit's runs together, for the cost of leaving one out.

    Attributes
    ----------
    value : array, shape (columns,)
        How often each column is used, in the order in which they were added.
    """

    def __init__(self, model: Model, copies: Ints, unit_length: Sequence[int]) -> None:
        self.model = model
        self.copies = copies
        self.columns: list[Pattern | RunColumn] = []
        self._known: set[tuple[object, ...]] = set()
        self._counts: Ints = np.zeros((64, len(model.kinds)), np.int64)
        self._barred: Bools = np.zeros(0, bool)
        h = simplex()
        self._h = h
        n, inf = len(model.kinds), highspy.kHighsInf
        self._stock_row = {
            k: n + r
            for r, k in enumerate(k for k, s in enumerate(model.stocks) if s.available is not None)
        }
        self._unit_row = n + len(self._stock_row)
        rows = self._unit_row + len(copies)
        low, high = np.zeros(rows), np.full(rows, inf)
        low[:n] = model.need
        high[:n] = np.where(model.tight, model.need, inf)
        for k, r in self._stock_row.items():
            low[r], high[r] = -inf, float(model.stocks[k].available or 0)
        low[self._unit_row :] = high[self._unit_row :] = self.copies
        h.addRows(rows, low, high, 0, np.zeros(rows, np.int32), *_EMPTY)
        self._low, self._high = low, high
        self._rows = np.arange(rows, dtype=np.int32)
        dearest = max((float(s.cost) for s in model.stocks), default=0.0) or 1.0
        longest = max((k.length for k in model.kinds), default=1)
        for i, kind in enumerate(model.kinds):
            self._add(_MISSING * dearest * (1 + kind.length / longest), [i], [1.0])
        for u, length in enumerate(unit_length):
            self._add(_MISSING * dearest * (1 + length / longest), [self._unit_row + u], [1.0])
        self._first = n + len(copies)
        self.rows = rows
        #: Steps of the simplex method so far, and how often it was started.
        self.steps, self.solves = 0, 0
        self.objective = 0.0
        self.value: Floats = np.zeros(0)
        self.short: Floats = np.zeros(self._first)
        self.duals = Duals(np.zeros(n), np.zeros(len(model.stocks)), np.zeros(len(copies)))

    def _add(self, cost: float, rows: Sequence[int], values: Sequence[float]) -> None:
        index = np.array(rows, np.int32)
        self._h.addCol(cost, 0.0, highspy.kHighsInf, len(index), index, np.array(values))

    def add(self, column: Pattern | RunColumn) -> bool:
        """Add a column; False where its like is there already, or no stick may be cut so."""
        if isinstance(column, Pattern) and not self.model.allows(column.stock, column.used):
            return False
        first = column.stock if isinstance(column, Pattern) else -1 - column.unit
        key = (first, column.cuts)
        if key in self._known:
            return False
        self._known.add(key)
        if len(self.columns) == len(self._counts):
            self._counts = np.concatenate([self._counts, np.zeros_like(self._counts)])
        if isinstance(column, Pattern):
            for i, q in column.cuts:
                self._counts[len(self.columns), i] = q
        self.columns.append(column)
        rows = [i for i, _ in column.cuts]
        if isinstance(column, Pattern):
            values = [float(q) for _, q in column.cuts]
            row = self._stock_row.get(column.stock)
        else:
            values = [-float(q) for _, q in column.cuts]
            row = self._unit_row + column.unit
        if row is not None:
            rows.append(row)
            values.append(1.0)
        self._add(float(column.cost), rows, values)
        return True

    def want(self, need: Ints, available: Sequence[int | None], copies: Ints, most: Ints) -> None:
        """Move the right-hand sides, and bar patterns that cut more than `most` of a kind."""
        n = len(need)
        low, high = self._low, self._high
        low[:n] = need
        high[:n] = np.where(self.model.tight, need, highspy.kHighsInf)
        for k, r in self._stock_row.items():
            high[r] = float(available[k] or 0)
        low[self._unit_row :] = high[self._unit_row :] = copies
        self._h.changeRowsBounds(len(low), self._rows, low, high)
        barred: Bools = np.any(self._counts[: len(self.columns)] > most, axis=1)
        was = np.zeros(len(barred), bool)
        was[: len(self._barred)] = self._barred
        at = np.flatnonzero(barred != was)
        if len(at):
            upper = np.where(barred[at], 0.0, highspy.kHighsInf)
            index = (at + self._first).astype(np.int32)
            self._h.changeColsBounds(len(at), index, np.zeros(len(at)), upper)
        self._barred = barred

    def solve(self) -> None:
        """Solve; `objective`, `value`, `short` and `duals` are set."""
        self._h.run()
        solution = self._h.getSolution()
        info = self._h.getInfo()
        self.objective = float(info.objective_function_value)
        self.steps += max(0, int(info.simplex_iteration_count))
        self.solves += 1
        value = np.array(solution.col_value)
        self.short, self.value = value[: self._first], value[self._first :]
        dual = np.array(solution.row_dual)
        n = len(self.model.kinds)
        stock = np.zeros(len(self.model.stocks))
        for k, r in self._stock_row.items():
            stock[k] = min(dual[r], 0.0)
        piece = np.where(self.model.tight, dual[:n], np.maximum(dual[:n], 0.0))
        self.duals = Duals(piece, stock, dual[self._unit_row :])

    def reduced(self, column: Pattern | RunColumn, duals: Duals | None = None) -> float:
        """The reduced cost of a column at these duals, or the last."""
        d = duals or self.duals
        worth = sum(float(d.piece[i]) * q for i, q in column.cuts)
        if isinstance(column, Pattern):
            return float(column.cost) - worth - float(d.stock[column.stock])
        return float(column.cost) + worth - float(d.unit[column.unit])
