"""A small integer model solved by branch and bound, its bound proved in whole numbers.

The floats of the linear solver only choose where to look. A node's bound comes from its duals
rounded to whole numbers: whatever multipliers are taken, the cost of every solution in the node's
box is at least `multipliers @ right-hand sides` plus what each variable's reduced cost can take
off within its box. That sum is formed in integers.
"""

from __future__ import annotations

import heapq
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field

import highspy
import numpy as np
from numpy.typing import NDArray

from cutopt.solve.milp import Model, Row, solve_integer
from cutopt.solve.search import Watch
from cutopt.solve.simplex import simplex

__all__ = ["Found", "IntegerModel", "Tree", "settle"]

_SETTLING_NODES = 3_000

Ints = NDArray[np.int64]
Floats = NDArray[np.float64]


@dataclass(slots=True)
class IntegerModel:
    """Least `cost @ x`, every row at least (or exactly) its right-hand side, `x` whole in a box.

    Costs are whole numbers of a small unit of money, chosen by the maker of the model. `loose`
    holds variables that may be larger in a relaxation than in a solution: at a high cost they make
    a box that holds no solution a dear one, so that its bound proves as much.
    """

    cost: list[int] = field(default_factory=list)
    upper: list[int] = field(default_factory=list)
    first: list[bool] = field(default_factory=list)
    rows: list[tuple[dict[int, int], int, bool]] = field(default_factory=list)
    loose: dict[int, int] = field(default_factory=dict)

    def variable(self, cost: int, upper: int, first: bool = False) -> int:
        """A variable from 0 to `upper`; `first` ones are branched on before all others."""
        self.cost.append(cost)
        self.upper.append(upper)
        self.first.append(first)
        return len(self.cost) - 1

    def row(self, terms: dict[int, int], least: int, exact: bool = False) -> None:
        """Sum of coefficient × variable is at least `least`, or exactly that."""
        self.rows.append((terms, least, exact))


@dataclass(frozen=True, slots=True)
class Found:
    """`values` is None where no solution was found; money is in the model's unit.

    `bound` is None where the search proved that there is no solution.
    """

    values: tuple[int, ...] | None
    cost: int
    bound: int | None
    nodes: int


class _Relaxation:
    def __init__(self, model: IntegerModel) -> None:
        self.model = model
        h = simplex()
        self._h = h
        scale = float(max(1, max(model.cost, default=1)))
        empty = (np.array([], dtype=np.int32), np.array([], dtype=np.float64))
        for cost, upper in zip(model.cost, model.upper, strict=True):
            h.addCol(cost / scale, 0.0, float(upper), 0, *empty)
        for terms, least, exact in model.rows:
            index = np.array(list(terms), dtype=np.int32)
            value = np.array(list(terms.values()), dtype=np.float64)
            top = float(least) if exact else highspy.kHighsInf
            h.addRow(float(least), top, len(index), index, value)
        self._scale = scale
        self._var = np.array([j for t, _, _ in model.rows for j in t], dtype=np.int64)
        self._row = np.array([i for i, r in enumerate(model.rows) for _ in r[0]], dtype=np.int64)
        self._value = np.array([v for t, _, _ in model.rows for v in t.values()], dtype=np.int64)
        self._least = np.array([least for _, least, _ in model.rows], dtype=np.int64)
        self._exact = np.array([exact for _, _, exact in model.rows], dtype=bool)
        self._cost = np.array(model.cost, dtype=np.int64)
        self._loose: Ints = np.zeros(len(model.cost), dtype=np.int64)
        self._loose[list(model.loose)] = list(model.loose.values())

    def solve(self, low: Ints, high: Ints) -> tuple[Floats, int] | None:
        """Values and a proved bound within a box; None where the box holds no solution."""
        n = len(low)
        high = np.maximum(high, self._loose)
        self._h.changeColsBounds(
            n, np.arange(n, dtype=np.int32), low.astype(np.float64), high.astype(np.float64)
        )
        self._h.run()
        if self._h.getModelStatus() == highspy.HighsModelStatus.kInfeasible:
            return None
        solution = self._h.getSolution()
        dual = np.rint(np.array(solution.row_dual) * self._scale).astype(np.int64)
        dual = np.where(self._exact, dual, np.maximum(dual, 0))
        reduced = self._cost.copy()
        np.subtract.at(reduced, self._var, dual[self._row] * self._value)
        taken = np.where(reduced < 0, reduced * high, reduced * low)
        bound = sum((dual * self._least).tolist()) + sum(taken.tolist())
        return np.array(solution.col_value), int(bound)

    def empty(self, low: Ints, high: Ints) -> bool:
        """Whether some row alone proves that the box holds nothing."""
        most = np.zeros(len(self._least), dtype=np.int64)
        least = np.zeros(len(self._least), dtype=np.int64)
        up = self._value > 0
        np.add.at(most, self._row, self._value * np.where(up, high[self._var], low[self._var]))
        np.add.at(least, self._row, self._value * np.where(up, low[self._var], high[self._var]))
        return bool(((most < self._least) | (self._exact & (least > self._least))).any())


class Tree:
    """Branch and bound over one model, which may be searched again with other variables fixed."""

    def __init__(self, model: IntegerModel) -> None:
        self.model = model
        self._relaxation: _Relaxation | None = None
        self._first = np.array(model.first, dtype=bool)
        self._low: Ints = np.zeros(len(model.cost), dtype=np.int64)
        self._high: Ints = np.array(model.upper, dtype=np.int64)

    def search(
        self,
        rounded: Callable[[Floats], Sequence[int] | None],
        round_up: Callable[[int], int],
        nodes: int,
        watch: Watch,
        fixed: dict[int, int] | None = None,
        cutoff: int | None = None,
    ) -> Found:
        """Best first.

        Parameters
        ----------
        rounded
            Makes whole values of a relaxation's, or None; they are checked before they count.
        round_up
            The least cost that a solution can have from a bound on.
        nodes
            Most nodes.
        watch
            Ends the search between nodes.
        fixed
            Variables that have one value in this search; the bound holds for it alone.
        cutoff
            A cost that is known: the search ends where it can't be beaten, its bound at most that.
        """
        if self._relaxation is None:
            self._relaxation = _Relaxation(self.model)
        low, high = self._low.copy(), self._high.copy()
        for j, value in (fixed or {}).items():
            low[j] = high[j] = value
        run = _Run(self, self._relaxation, rounded, round_up, cutoff)
        run.push(low, high, 0)
        while run.heap and run.made < nodes and not watch.stop():
            if run.best is not None and run.heap[0][0] >= run.best[0]:
                break
            bound, _, low, high, values = heapq.heappop(run.heap)
            split = self._fractional(values, low, high)
            if split is None:
                # Whole values that failed the check, or a box of one point: nothing to split.
                run.lose(bound)
                continue
            at = int(np.floor(values[split] + 1e-6))
            at = min(max(at, int(low[split])), int(high[split]) - 1)
            below, above = high.copy(), low.copy()
            below[split], above[split] = at, at + 1
            run.push(low, below, bound)
            run.push(above, high, bound)
        return run.found()

    def _fractional(self, values: Floats, low: Ints, high: Ints) -> int | None:
        """The variable to branch on: the first ones if any is not whole, the nearest a half."""
        away = np.abs(values - np.rint(values))
        away[low >= high] = 0
        for group in (self._first, ~self._first):
            part = np.where(group, away, 0.0)
            if len(part) and part.max() > 1e-6:
                return int(part.argmax())
        loose = np.flatnonzero(low < high)
        return int(loose[0]) if len(loose) else None

    def checked(self, values: Sequence[int]) -> int | None:
        """The cost of whole values that keep every row and the box; None where they do not."""
        model = self.model
        if any(v < 0 or v > u for v, u in zip(values, model.upper, strict=True)):
            return None
        for terms, least, exact in model.rows:
            total = sum(a * values[j] for j, a in terms.items())
            if total < least or (exact and total != least):
                return None
        return sum(c * v for c, v in zip(model.cost, values, strict=True))


class _Run:
    """One search under way."""

    def __init__(
        self,
        tree: Tree,
        relaxation: _Relaxation,
        rounded: Callable[[Floats], Sequence[int] | None],
        round_up: Callable[[int], int],
        cutoff: int | None,
    ) -> None:
        self.tree, self.relaxation = tree, relaxation
        self.rounded, self.round_up, self.cutoff = rounded, round_up, cutoff
        self.best: tuple[int, tuple[int, ...]] | None = None
        self.lost: int | None = None
        self.heap: list[tuple[int, int, Ints, Ints, Floats]] = []
        self.made = 0

    def lose(self, bound: int) -> None:
        """A part of the search that ends open at a bound."""
        self.lost = bound if self.lost is None else min(self.lost, bound)

    def push(self, low: Ints, high: Ints, parent: int) -> None:
        """Solve a box's relaxation, try its rounding, keep the box where it may gain."""
        self.made += 1
        solved = self.relaxation.solve(low, high)
        if solved is None:
            if not self.relaxation.empty(low, high):
                self.lose(parent)
            return
        values, bound = solved
        bound = max(parent, self.round_up(bound))
        trials = [self.rounded(values)]
        near = np.rint(values)
        if np.abs(values - near).max(initial=0.0) < 1e-6:
            trials.append(near.astype(np.int64).tolist())
        for trial in trials:
            cost = None if trial is None else self.tree.checked(trial)
            better = cost is not None and (self.best is None or cost < self.best[0])
            if trial is not None and cost is not None and better:
                self.best = (cost, tuple(trial))
        if self.cutoff is not None and bound >= self.cutoff:
            self.lose(self.cutoff)
        elif self.best is None or bound < self.best[0]:
            heapq.heappush(self.heap, (bound, self.made, low, high, values))

    def found(self) -> Found:
        """What the search ends with."""
        bounds = [b for b, *_ in self.heap]
        if self.lost is not None:
            bounds.append(self.lost)
        if self.best is not None:
            bounds.append(self.best[0])
        values, cost = (self.best[1], self.best[0]) if self.best else (None, 0)
        return Found(values, cost, min(bounds, default=None), self.made)


def settle(model: IntegerModel, found: Found, watch: Watch) -> Found:
    """What the general solver makes of a model that branching left open.

    It is asked for anything cheaper than the best solution, if there is one; where it ends by
    itself and has none, that solution is the least.
    """
    if found.bound is None or (found.values is not None and found.bound >= found.cost):
        return found
    rows = [
        Row(terms, lower=least, upper=least if exact else None)
        for terms, least, exact in model.rows
    ]
    cost = {j: c for j, c in enumerate(model.cost) if c}
    if found.values is not None:
        rows.append(Row(cost, lower=found.bound, upper=found.cost - 1))
    answer = solve_integer(
        Model(model.cost, rows, model.upper), watch.left(), nodes=_SETTLING_NODES
    )
    if answer.values is not None and answer.objective is not None:
        best: tuple[int, ...] | None = answer.values
        cheaper = answer.objective
    else:
        best, cheaper = found.values, found.cost
    bound = cheaper if answer.solved and best is not None else found.bound
    return Found(best, cheaper, bound, found.nodes)
