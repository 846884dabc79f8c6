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

__all__ = ["Found", "IntegerModel", "branch", "settle"]

_SETTLING_NODES = 3_000

Ints = NDArray[np.int64]
Floats = NDArray[np.float64]


@dataclass(slots=True)
class IntegerModel:
    """Least `cost @ x`, every row at least (or exactly) its right-hand side, `x` whole in a box.

    Costs are whole numbers of a small unit of money, chosen by the maker of the model.
    """

    cost: list[int] = field(default_factory=list)
    upper: list[int] = field(default_factory=list)
    first: list[bool] = field(default_factory=list)
    rows: list[tuple[dict[int, int], int, bool]] = field(default_factory=list)

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
    """`values` is None where no solution was found; `bound` is in the model's unit of money."""

    values: tuple[int, ...] | None
    cost: int
    bound: int
    nodes: int


class _Relaxation:
    def __init__(self, model: IntegerModel) -> None:
        self.model = model
        h = highspy.Highs()
        h.setOptionValue("output_flag", False)
        h.setOptionValue("threads", 1)
        h.setOptionValue("random_seed", 1)
        h.setOptionValue("presolve", "off")
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

    def solve(self, low: Ints, high: Ints) -> tuple[Floats, int] | None:
        """Values and a proved bound within a box; None where the box holds no solution."""
        n = len(low)
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


def branch(
    model: IntegerModel,
    rounded: Callable[[Floats], Sequence[int] | None],
    round_up: Callable[[int], int],
    nodes: int,
    watch: Watch,
) -> Found:
    """Best-first branch and bound.

    Parameters
    ----------
    model
        What is solved.
    rounded
        Makes whole values of a relaxation's, or None; they are checked before they count.
    round_up
        The least cost that a solution can have from a bound on.
    nodes
        Most nodes.
    watch
        Ends the search between nodes.
    """
    relaxation = _Relaxation(model)
    n = len(model.cost)
    low, high = np.zeros(n, dtype=np.int64), np.array(model.upper, dtype=np.int64)
    best: tuple[int, tuple[int, ...]] | None = None
    lost: int | None = None
    heap: list[tuple[int, int, Ints, Ints, Floats]] = []
    made = 0

    def push(low: Ints, high: Ints, parent: int) -> None:
        nonlocal made, best, lost
        made += 1
        solved = relaxation.solve(low, high)
        if solved is None:
            if not relaxation.empty(low, high):
                lost = parent if lost is None else min(lost, parent)
            return
        values, bound = solved
        bound = max(parent, round_up(bound))
        for trial in (rounded(values), np.rint(values).astype(np.int64).tolist()):
            if trial is not None:
                cost = _checked(model, trial)
                if cost is not None and (best is None or cost < best[0]):
                    best = (cost, tuple(trial))
        if best is None or bound < best[0]:
            heapq.heappush(heap, (bound, made, low, high, values))

    push(low, high, 0)
    while heap and made < nodes and not watch.stop():
        bound, _, low, high, values = heap[0]
        if best is not None and bound >= best[0]:
            break
        heapq.heappop(heap)
        j = _fractional(model, values, low, high)
        if j is None:
            # Whole values that failed the check, or a box of one point: nothing left to split.
            lost = bound if lost is None else min(lost, bound)
            continue
        at = int(np.floor(values[j] + 1e-6))
        at = min(max(at, int(low[j])), int(high[j]) - 1)
        below, above = high.copy(), low.copy()
        below[j], above[j] = at, at + 1
        push(low, below, bound)
        push(above, high, bound)
    open_bounds = [b for b, *_ in heap]
    if lost is not None:
        open_bounds.append(lost)
    if best is not None:
        open_bounds.append(best[0])
    bound = min(open_bounds, default=0)
    return Found(best[1] if best else None, best[0] if best else 0, bound, made)


def settle(model: IntegerModel, found: Found, watch: Watch) -> Found:
    """What the general solver makes of a model that branching left open.

    It is asked for anything cheaper than the best solution, if there is one; where it ends by
    itself and has none, that solution is the least.
    """
    if found.values is not None and found.bound >= found.cost:
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


def _fractional(model: IntegerModel, values: Floats, low: Ints, high: Ints) -> int | None:
    """The variable to branch on: of the first ones if any is not whole, the one nearest a half."""
    away = np.abs(values - np.rint(values))
    away[low >= high] = 0
    first = np.array(model.first)
    for group in (first, ~first):
        part = np.where(group, away, 0.0)
        if len(part) and part.max() > 1e-6:
            return int(part.argmax())
    loose = np.flatnonzero(low < high)
    return int(loose[0]) if len(loose) else None


def _checked(model: IntegerModel, values: Sequence[int]) -> int | None:
    """The cost of whole values that keep every row and the box; None where they do not."""
    if any(v < 0 or v > u for v, u in zip(values, model.upper, strict=True)):
        return None
    for terms, least, exact in model.rows:
        total = sum(a * values[j] for j, a in terms.items())
        if total < least or (exact and total != least):
            return None
    return sum(c * v for c, v in zip(model.cost, values, strict=True))
