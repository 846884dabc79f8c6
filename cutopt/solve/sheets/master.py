"""The linear master: columns are patterns and ways to joint a run; one hot-started solver.

The floats that it hands out only guide the search. Rows: a kind's demand, a limited sheet's
availability, a unit of jointed runs. A dive moves the right-hand sides and back.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction

import highspy
import numpy as np
from numpy.typing import NDArray

from cutopt.solve.sheets.jointed import Way
from cutopt.solve.sheets.model import Model
from cutopt.solve.sheets.pattern import Pattern, counts
from cutopt.solve.sheets.points import Ints
from cutopt.solve.simplex import simplex

__all__ = ["Column", "Duals", "Master"]

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Column:
    """A pattern, what it cuts (shape (kinds,)) and what it costs less its drops' credit."""

    pattern: Pattern
    cuts: Ints
    cost: Fraction


@dataclass(frozen=True, slots=True)
class Duals:
    """`part` per kind (at least 0), `sheet` per sheet (at most 0), `unit` of runs, dollars."""

    part: Floats
    sheet: Floats
    unit: Floats


class Master:
    """The restricted master over the columns found so far.

    Parameters
    ----------
    model
        Kinds and sheets; their demand and availability are the first right-hand sides.
    copies
        How many of each unit of jointed runs are wanted, shape (units,).
    """

    def __init__(self, model: Model, copies: Ints) -> None:
        self.model = model
        self.columns: list[Column] = []
        self.ways: list[Way] = []
        self._column_at: list[int] = []
        self._way_at: list[int] = []
        self._known_ways: set[tuple[int, object]] = set()
        self._known: dict[tuple[int, bytes], int] = {}
        h = simplex()
        self._h = h
        self._empty = (np.array([], dtype=np.int32), np.array([], dtype=np.float64))
        for need in model.need:
            h.addRow(float(need), highspy.kHighsInf, 0, *self._empty)
        self._sheet_row: dict[int, int] = {}
        for q, sheet in enumerate(model.sheets):
            if sheet.available is not None:
                self._sheet_row[q] = len(model.kinds) + len(self._sheet_row)
                h.addRow(-highspy.kHighsInf, float(sheet.available), 0, *self._empty)
        self._unit_row = len(model.kinds) + len(self._sheet_row)
        self._units = len(copies)
        for n in copies:
            h.addRow(float(n), highspy.kHighsInf, 0, *self._empty)
        dear = 10.0 * max(float(max(s.cost for s in model.sheets)), 1.0)
        self._short = len(model.kinds)
        self._spare = self._short + self._units
        for i in range(self._spare):
            # What no pattern cuts, or no way makes, is short at a price above any sheet's.
            unit = i >= self._short
            row = self._unit_row + i - self._short if unit else i
            price = 20 * dear if unit else dear
            index = np.array([row], dtype=np.int32)
            h.addCol(price, 0.0, highspy.kHighsInf, 1, index, np.array([1.0]))
        self._cuts: Ints = np.zeros((0, self._short), dtype=np.int64)
        self._costs: Floats = np.zeros(0)
        self._of: NDArray[np.intp] = np.zeros(0, dtype=np.intp)
        self.objective = 0.0
        self.value: Floats = np.zeros(0)
        self.short: Floats = np.zeros(self._short)
        self.way_value: Floats = np.zeros(0)
        self.duals = Duals(
            np.zeros(self._short), np.zeros(len(model.sheets)), np.zeros(self._units)
        )

    def add(self, column: Column) -> bool:
        """Add a column; False where its like is there already."""
        key = (column.pattern.sheet, column.cuts.tobytes())
        if key in self._known:
            return False
        self._known[key] = len(self.columns)
        self._column_at.append(len(self.columns) + len(self.ways))
        self.columns.append(column)
        index = np.flatnonzero(column.cuts)
        values = column.cuts[index].astype(np.float64)
        row = self._sheet_row.get(column.pattern.sheet)
        if row is not None:
            index = np.append(index, row)
            values = np.append(values, 1.0)
        self._h.addCol(
            float(column.cost),
            0.0,
            highspy.kHighsInf,
            len(index),
            index.astype(np.int32),
            values,
        )
        return True

    def index(self, column: Column) -> int:
        """Which of the columns it is that was added."""
        return self._known[column.pattern.sheet, column.cuts.tobytes()]

    def add_way(self, way: Way) -> bool:
        """Add a way to joint a unit; False where it is there already."""
        key = (way.unit, way.column.joints)
        if key in self._known_ways:
            return False
        self._known_ways.add(key)
        self._way_at.append(len(self.columns) + len(self.ways))
        self.ways.append(way)
        index = np.flatnonzero(way.cuts)
        values = np.append(-way.cuts[index].astype(np.float64), 1.0)
        index = np.append(index, self._unit_row + way.unit)
        self._h.addCol(
            float(way.cost),
            0.0,
            highspy.kHighsInf,
            len(index),
            index.astype(np.int32),
            values,
        )
        return True

    def column(self, pattern: Pattern, cost: Fraction) -> Column:
        """A pattern as a column, not yet added."""
        return Column(pattern, counts(pattern, len(self.model.kinds)), cost)

    def arrays(self) -> tuple[Ints, Floats, NDArray[np.intp]]:
        """Of all columns: cuts (columns, kinds), costs and sheets."""
        done = len(self._costs)
        fresh = self.columns[done:]
        if fresh:
            self._cuts = np.vstack([self._cuts, *(c.cuts[None, :] for c in fresh)])
            self._costs = np.append(self._costs, [float(c.cost) for c in fresh])
            self._of = np.append(self._of, [c.pattern.sheet for c in fresh])
        return self._cuts, self._costs, self._of

    def set_need(self, need: Ints, available: Sequence[int | None], copies: Ints) -> None:
        """Move the right-hand sides to what is still to be cut and what can still be had."""
        for i, n in enumerate(need):
            self._h.changeRowBounds(i, float(n), highspy.kHighsInf)
        for q, row in self._sheet_row.items():
            self._h.changeRowBounds(row, -highspy.kHighsInf, float(available[q] or 0))
        for u, n in enumerate(copies):
            self._h.changeRowBounds(self._unit_row + u, float(n), highspy.kHighsInf)

    def solve(self) -> None:
        """Solve the restricted master; `objective`, `value`, `short` and `duals` are set."""
        self._h.run()
        solution = self._h.getSolution()
        self.objective = float(self._h.getInfo().objective_function_value)
        value = np.array(solution.col_value)
        self.short, found = value[: self._spare], value[self._spare :]
        self.value, self.way_value = found[self._column_at], found[self._way_at]
        dual = np.array(solution.row_dual)
        part = np.maximum(dual[: self._short], 0.0)
        sheet = np.zeros(len(self.model.sheets))
        for q, row in self._sheet_row.items():
            sheet[q] = min(dual[row], 0.0)
        unit = np.maximum(dual[self._unit_row : self._unit_row + self._units], 0.0)
        self.duals = Duals(part, sheet, unit)
