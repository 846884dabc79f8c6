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

from cutopt.solve.sheets.model import Model
from cutopt.solve.sheets.pattern import Pattern, counts
from cutopt.solve.sheets.points import Ints

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
    """`part` per kind (at least 0) and `sheet` per sheet (at most 0), dollars."""

    part: Floats
    sheet: Floats


class Master:
    """The restricted master over the columns found so far.

    Parameters
    ----------
    model
        Kinds and sheets; their demand and availability are the first right-hand sides.
    """

    def __init__(self, model: Model) -> None:
        self.model = model
        self.columns: list[Column] = []
        self._known: dict[tuple[int, bytes], int] = {}
        h = highspy.Highs()
        h.setOptionValue("output_flag", False)
        h.setOptionValue("threads", 1)
        h.setOptionValue("presolve", "off")
        h.setOptionValue("random_seed", 1)
        self._h = h
        self._empty = (np.array([], dtype=np.int32), np.array([], dtype=np.float64))
        for need in model.need:
            h.addRow(float(need), highspy.kHighsInf, 0, *self._empty)
        self._sheet_row: dict[int, int] = {}
        for q, sheet in enumerate(model.sheets):
            if sheet.available is not None:
                self._sheet_row[q] = len(model.kinds) + len(self._sheet_row)
                h.addRow(-highspy.kHighsInf, float(sheet.available), 0, *self._empty)
        dearest = float(max(s.cost for s in model.sheets))
        self._short = len(model.kinds)
        for i in range(self._short):
            h.addCol(
                10.0 * max(dearest, 1.0),
                0.0,
                highspy.kHighsInf,
                1,
                np.array([i], dtype=np.int32),
                np.array([1.0]),
            )
        self._cuts: Ints = np.zeros((0, self._short), dtype=np.int64)
        self._costs: Floats = np.zeros(0)
        self._of: NDArray[np.intp] = np.zeros(0, dtype=np.intp)
        self.objective = 0.0
        self.value: Floats = np.zeros(0)
        self.short: Floats = np.zeros(self._short)
        self.duals = Duals(np.zeros(self._short), np.zeros(len(model.sheets)))

    def add(self, column: Column) -> bool:
        """Add a column; False where its like is there already."""
        key = (column.pattern.sheet, column.cuts.tobytes())
        if key in self._known:
            return False
        self._known[key] = len(self.columns)
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

    def set_need(self, need: Sequence[int] | Ints, available: Sequence[int | None]) -> None:
        """Move the right-hand sides to what is still to be cut and what can still be had."""
        for i, n in enumerate(need):
            self._h.changeRowBounds(i, float(n), highspy.kHighsInf)
        for q, row in self._sheet_row.items():
            self._h.changeRowBounds(row, -highspy.kHighsInf, float(available[q] or 0))

    def solve(self) -> None:
        """Solve the restricted master; `objective`, `value`, `short` and `duals` are set."""
        self._h.run()
        solution = self._h.getSolution()
        self.objective = float(self._h.getInfo().objective_function_value)
        value = np.array(solution.col_value)
        self.short, self.value = value[: self._short], value[self._short :]
        dual = np.array(solution.row_dual)
        part = np.maximum(dual[: self._short], 0.0)
        sheet = np.zeros(len(self.model.sheets))
        for q, row in self._sheet_row.items():
            sheet[q] = min(dual[row], 0.0)
        self.duals = Duals(part, sheet)
