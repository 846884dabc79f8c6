"""Branch and bound over a complete list of columns, every node's bound proved in integers.

A node's linear programme, in floats, only proposes worths; from their rounded values the bound is
summed exactly, whatever they are. Branches are on how many sticks of a stock are cut, then on how
often a column is used.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from math import ceil, floor, gcd, lcm

import highspy
import numpy as np

from cutopt.solve.lumber.master import RunColumn
from cutopt.solve.lumber.model import Ints, Model, Pattern
from cutopt.solve.lumber.pricing import Floats
from cutopt.solve.search import Watch

__all__ = ["Ended", "branch", "step_of"]

_EPS = 1e-6
#: Whole numbers in a dollar, about, where costs have to be refined for the worths' sake.
_FINE = 1 << 36
_LARGEST_LCM = 1 << 40


@dataclass(frozen=True, slots=True)
class Ended:
    """What the search found.

    Parameters
    ----------
    used
        How often each column is used in the best plan below the cutoff; None where there is none.
    complete
        Whether it is proved that there is no better one.
    bound
        At most what any plan costs that uses these columns alone, where that is below the cutoff.
    """

    used: list[int] | None
    complete: bool
    bound: Fraction
    nodes: int


def step_of(columns: Sequence[Pattern | RunColumn]) -> Fraction:
    """All costs are multiples of this."""
    costs = [c.cost for c in columns if c.cost]
    if not costs:
        return Fraction(1)
    scale = lcm(*(c.denominator for c in costs))
    return Fraction(gcd(*(int(c * scale) for c in costs)), scale)


class _Rows:
    """Rows, columns and costs as integers."""

    def __init__(self, model: Model, columns: Sequence[Pattern | RunColumn], copies: Ints) -> None:
        n = len(model.kinds)
        stocks = sorted({c.stock for c in columns if isinstance(c, Pattern)})
        row_of = {k: n + r for r, k in enumerate(stocks)}
        first_unit = n + len(stocks)
        self.counted = np.arange(n, first_unit)
        self.matrix = np.zeros((first_unit + len(copies), len(columns)), np.int64)
        for j, c in enumerate(columns):
            sign = 1 if isinstance(c, Pattern) else -1
            for i, q in c.cuts:
                self.matrix[i, j] = sign * q
            self.matrix[row_of[c.stock] if isinstance(c, Pattern) else first_unit + c.unit, j] = 1
        # No plan uses more sticks than it cuts pieces; no column more often than is wanted.
        most = self._most_pieces(model, columns, copies)
        self.low = np.zeros(len(self.matrix), np.int64)
        self.high = np.full(len(self.matrix), most, np.int64)
        self.low[:n] = model.need
        for k, r in row_of.items():
            have = model.stocks[k].available
            self.high[r] = most if have is None else min(have, most)
        self.low[first_unit:] = self.high[first_unit:] = copies
        self.open = np.zeros(len(self.matrix), bool)
        self.open[:n] = True
        self.upper = np.full(len(columns), most, np.int64)
        for j, c in enumerate(columns):
            if isinstance(c, RunColumn):
                self.upper[j] = copies[c.unit]

    @staticmethod
    def _most_pieces(model: Model, columns: Sequence[Pattern | RunColumn], copies: Ints) -> int:
        pieces = int(model.need.sum())
        longest = [0] * len(copies)
        for c in columns:
            if isinstance(c, RunColumn):
                longest[c.unit] = max(longest[c.unit], sum(q for _, q in c.cuts))
        return pieces + sum(int(n) * m for n, m in zip(copies, longest, strict=True))


@dataclass(slots=True)
class _Node:
    low: Ints
    high: Ints
    least: Ints
    most: Ints


def branch(
    model: Model,
    columns: Sequence[Pattern | RunColumn],
    copies: Ints,
    below: Fraction,
    step: Fraction,
    nodes: int,
    watch: Watch,
) -> Ended:
    """The cheapest plan from these columns that costs less than `below`.

    Parameters
    ----------
    copies
        How many of each unit of runs.
    step
        Costs of plans are multiples of it.
    nodes
        Most nodes looked at.
    """
    search = _Tree(model, columns, copies, below, step)
    return search.run(nodes, watch)


class _Tree:
    def __init__(
        self,
        model: Model,
        columns: Sequence[Pattern | RunColumn],
        copies: Ints,
        below: Fraction,
        step: Fraction,
    ) -> None:
        self.rows = rows = _Rows(model, columns, copies)
        self.columns = columns
        common = lcm(*(c.cost.denominator for c in columns), step.denominator)
        # Costs become whole, a refinement making room for worths between them; where their common
        # denominator is too large for that they are rounded down, and nothing is a multiple.
        whole = common <= _LARGEST_LCM
        self.scale = common * max(1, _FINE // common) if whole else _FINE
        self.cost = np.array([int(c.cost * self.scale) for c in columns], np.int64)
        self.step = int(step * self.scale) if whole else 1
        self.below = below
        self.limit = ceil(below * self.scale)
        self.best: list[int] | None = None
        h = highspy.Highs()
        for option, value in (
            ("output_flag", False),
            ("threads", 1),
            ("presolve", "off"),
            ("random_seed", 1),
            ("solver", "simplex"),
        ):
            h.setOptionValue(option, value)
        inf = highspy.kHighsInf
        m, n = rows.matrix.shape
        empty = (np.zeros(0, np.int32), np.zeros(0))
        high = np.where(rows.open, inf, rows.high.astype(float))
        h.addRows(m, rows.low.astype(float), high, 0, np.zeros(m, np.int32), *empty)
        column, row = np.nonzero(rows.matrix.T)
        starts = np.searchsorted(column, np.arange(n)).astype(np.int32)
        values = rows.matrix.T[column, row].astype(float)
        # Dollars keep the floats in a range that tolerances were made for.
        costs = np.array([float(c.cost) for c in columns])
        h.addCols(
            n,
            costs,
            np.zeros(n),
            rows.upper.astype(float),
            len(values),
            starts,
            row.astype(np.int32),
            values,
        )
        self._h = h
        self._columns = np.arange(n, dtype=np.int32)
        self._rows = np.arange(m, dtype=np.int32)

    def run(self, nodes: int, watch: Watch) -> Ended:
        rows = self.rows
        zero = np.zeros(len(self.columns), np.int64)
        stack = [(-(1 << 62), _Node(rows.low, rows.high, zero, rows.upper))]
        looked = 0
        while stack:
            if looked >= nodes or watch.stop():
                worst = min(b for b, _ in stack)
                return Ended(self.best, False, self._dollars(min(worst, self.limit)), looked)
            bound, node = stack.pop()
            if self._closed(bound):
                continue
            looked += 1
            stack += self._look(node)
        return Ended(self.best, True, self._dollars(self.limit), looked)

    def _dollars(self, whole: int) -> Fraction:
        return min(self.below, Fraction(whole, self.scale))

    def _closed(self, bound: int) -> bool:
        """Whether no plan from `bound` on is below the limit."""
        return -(-bound // self.step) * self.step >= self.limit

    def _look(self, node: _Node) -> list[tuple[int, _Node]]:
        h, rows = self._h, self.rows
        high = np.where(rows.open, highspy.kHighsInf, node.high.astype(float))
        h.changeRowsBounds(len(self._rows), self._rows, node.low.astype(float), high)
        h.changeColsBounds(
            len(self._columns), self._columns, node.least.astype(float), node.most.astype(float)
        )
        h.run()
        solution = h.getSolution()
        status = h.getModelStatus()
        if status == highspy.HighsModelStatus.kInfeasible:
            has, ray = self._ray()
            if has and self._refuted(node, ray):
                return []
            return self._split_blind(node)
        bound = self._bound(node, np.array(solution.row_dual))
        if self._closed(bound):
            return []
        x = np.array(solution.col_value)
        whole = np.rint(x).astype(np.int64)
        if np.abs(x - whole).max(initial=0.0) < _EPS:
            self._take(whole)
            if self._closed(bound):
                return []
        return self._split(node, x, bound)

    def _ray(self) -> tuple[bool, Floats]:
        found = self._h.getDualRay()
        has = bool(found[1]) if len(found) > 1 else False
        ray = np.array(found[2]) if has and len(found) > 2 else np.zeros(0)
        return has and len(ray) == len(self._rows), ray

    def _refuted(self, node: _Node, ray: Floats) -> bool:
        """Whether the ray proves, in integers, that the node holds no plan."""
        size = float(np.abs(ray).max(initial=0.0))
        if not size:
            return False
        for sign in (1.0, -1.0):
            y = np.rint(sign * ray / size * (1 << 30)).astype(np.int64)
            if self._sum(node, y, np.zeros(len(self.columns), np.int64)) > 0:
                return True
        return False

    def _bound(self, node: _Node, dual: Floats) -> int:
        y = np.rint(dual * float(self.scale)).astype(np.int64)
        return self._sum(node, y, self.cost)

    def _sum(self, node: _Node, y: Ints, cost: Ints) -> int:
        """What any plan of the node costs at least, for any worths of rows."""
        rows = self.rows
        y = np.where(rows.open, np.maximum(y, 0), y)
        rest = cost - y @ rows.matrix
        by_row = np.where(y > 0, node.low, node.high)
        by_column = np.where(rest > 0, node.least, node.most)
        total = sum(a * b for a, b in zip(y.tolist(), by_row.tolist(), strict=True) if a)
        total += sum(a * b for a, b in zip(rest.tolist(), by_column.tolist(), strict=True) if b)
        return int(total)

    def _take(self, used: Ints) -> None:
        rows = self.rows
        made = rows.matrix @ used
        high = np.where(rows.open, made, rows.high)
        if (made < rows.low).any() or (made > high).any() or (used < 0).any():
            return
        cost = sum(int(c) * int(n) for c, n in zip(self.cost, used, strict=True))
        if cost < self.limit:
            self.limit = cost
            self.best = used.tolist()

    def _split(self, node: _Node, x: Floats, bound: int) -> list[tuple[int, _Node]]:
        """Two nodes, the one nearer to the fraction last, so that it is looked at first."""
        sums = self.rows.matrix[self.rows.counted] @ x
        part = np.abs(sums - np.rint(sums))
        if len(part) and part.max() > 1e-4:
            r = int(part.argmax())
            at, value = int(self.rows.counted[r]), float(sums[r])
            low, high = node.low.copy(), node.high.copy()
            high[at], low[at] = floor(value), ceil(value)
            down = _Node(node.low, high, node.least, node.most)
            up = _Node(low, node.high, node.least, node.most)
        else:
            part = np.abs(x - np.rint(x))
            at = int(part.argmax())
            if part[at] <= _EPS:
                return self._split_blind(node, bound)
            value = float(x[at])
            least, most = node.least.copy(), node.most.copy()
            most[at], least[at] = floor(value), ceil(value)
            down = _Node(node.low, node.high, node.least, most)
            up = _Node(node.low, node.high, least, node.most)
        if value - floor(value) > 0.5:
            return [(bound, down), (bound, up)]
        return [(bound, up), (bound, down)]

    def _split_blind(self, node: _Node, bound: int = -(1 << 62)) -> list[tuple[int, _Node]]:
        """Halve the widest column that is left, where floats could not say what to do."""
        width = node.most - node.least
        at = int(width.argmax())
        if not width[at]:
            self._take(node.least)
            return []
        middle = int(node.least[at] + width[at] // 2)
        least, most = node.least.copy(), node.most.copy()
        most[at], least[at] = middle, middle + 1
        return [
            (bound, _Node(node.low, node.high, least, node.most)),
            (bound, _Node(node.low, node.high, node.least, most)),
        ]
