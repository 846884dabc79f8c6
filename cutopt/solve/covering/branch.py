"""Branch and bound over a complete list of columns, every node's bound proved in integers.

A node's linear programme, in floats, only proposes worths; from their rounded values the bound is
summed exactly, whatever they are. Cuts tighten the first nodes. Branches are on how many sticks of
a stock are cut, then on how many hold two kinds together (Ryan and Foster, 1981; with demands above
one the sets of Vanderbeck, Operations Research 48, 2000), then on how often a column is used.
"""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from math import ceil, floor, lcm

import numpy as np

from cutopt.solve.covering.column import Bools, Covering, Floats, Ints
from cutopt.solve.covering.cuts import Cut, richer, row_of, together, violated
from cutopt.solve.covering.programme import Programme
from cutopt.solve.covering.rows import Rows
from cutopt.solve.search import Watch

__all__ = ["Ended", "branch"]

_EPS = 1e-6
#: Whole numbers in a dollar, about, where costs have to be refined for the worths' sake.
_FINE = 1 << 30
_LARGEST_LCM = 1 << 40
#: Nodes in which cuts are looked for, rounds of them in the first, and the most in all.
_CUT_NODES = 40
_CUT_ROUNDS = 25
_MOST_CUTS = 400
#: A pair of kinds is worth a branch where it is together by at least this part of a stick.
_PART = 1e-4
#: Seconds of a usual machine for a row in a step of the simplex method, and for an entry of the
#: rows in each programme.
_STEP, _ENTRY = 2e-7, 1e-8
#: Every so many nodes the search goes on where the bound is least.
_JUMP = 20
#: What breaking a row by one costs: so many times what a plan must be below, if that is no more
#: than so many columns cost.
_DEAR = 3.0
_DEAREST = 100.0
#: Columns are forgotten after the first node where at most this share is left.
_KEPT = 0.8
#: Looking for cuts takes as long as so many programmes.
_CUT_TIMES = 4


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
    work: float


@dataclass(slots=True)
class _Node:
    low: Ints
    high: Ints
    least: Ints
    most: Ints


def branch(covering: Covering, below: Fraction, step: Fraction, work: float, watch: Watch) -> Ended:
    """The cheapest plan from these columns that costs less than `below`.

    Parameters
    ----------
    step
        Costs of plans are multiples of it.
    work
        The most that it may take, in seconds of a usual machine: counted, not timed.
    """
    if not covering.columns:
        # Nothing can be cut from no columns.
        return Ended(None, True, below, 0.0)
    search = _Tree(covering, below, step)
    return search.run(work, watch)


class _Tree:
    def __init__(self, covering: Covering, below: Fraction, step: Fraction) -> None:
        self.rows = rows = Rows(covering)
        self.need = covering.need
        columns = covering.columns
        #: Those that are left of them, by number.
        self._at = np.arange(len(columns))
        self._number = len(columns)
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
        self._pairs: dict[tuple[int, int], int] = {}
        self._cuts: set[Cut] = set()
        self._looked = 0
        self._steps = self._solves = 0
        self._has = rows.matrix[: rows.kinds] > 0
        dollars = [float(c.cost) for c in columns]
        dear = _DEAR * min(float(below), _DEAREST * max(*dollars, 1e-3))
        self._lp = Programme(rows, dollars, covering.worth, dear)

    def run(self, work: float, watch: Watch) -> Ended:
        rows = self.rows
        zero = np.zeros(self._number, np.int64)
        stack = [(-(1 << 62), _Node(rows.low, rows.high, zero, rows.upper))]
        while stack:
            if self._work() >= work or watch.stop():
                worst = min(b for b, _ in stack)
                return Ended(self.best, False, self._dollars(min(worst, self.limit)), self._work())
            if self._looked % _JUMP == _JUMP - 1:
                # Depth first goes on for long where it has begun wrongly.
                stack.append(stack.pop(min(range(len(stack)), key=lambda n: stack[n][0])))
            bound, node = stack.pop()
            if self._closed(bound):
                continue
            self._looked += 1
            stack += self._look(node)
        return Ended(self.best, True, self._dollars(self.limit), self._work())

    def _work(self) -> float:
        return self._steps * _STEP + self._solves * _ENTRY

    def _dollars(self, whole: int) -> Fraction:
        return min(self.below, Fraction(whole, self.scale))

    def _closed(self, bound: int) -> bool:
        """Whether no plan from `bound` on is below the limit."""
        return -(-bound // self.step) * self.step >= self.limit

    def _solve(self, node: _Node) -> tuple[int, Ints, Floats, bool]:
        """Solve a node's linear programme.

        Its bound, by column what it costs beyond its worth, values, and whether they break rows.
        Columns come into it as they turn out to be of use.
        """
        lp, rows = self._lp, self.rows
        more = len(rows) - len(node.low)
        if more:
            # Rows that came after the node bind it as they bind all.
            node.low = np.concatenate([node.low, rows.low[-more:]])
            node.high = np.concatenate([node.high, rows.high[-more:]])
        self._generate(node)
        bound, rest = self._bound(node, lp.duals())
        x, broken = lp.solution()
        if not broken or self._closed(bound):
            return bound, rest, x, False
        # Breaking a row was cheaper than keeping all, or none can: the node is looked at without
        # costs, where whatever breaks a row proves it empty.
        lp.look_for_any(True)
        self._generate(node)
        x, broken = lp.solution()
        if broken and self._refutes(node, lp.duals()):
            bound = max(bound, self.limit + self.step)
        lp.look_for_any(False)
        return bound, rest, x, broken

    def _generate(self, node: _Node) -> None:
        """Solve with ever more columns, until none that is outside would help."""
        lp, rows = self._lp, self.rows
        while True:
            self._steps += lp.solve(node.low, node.high, node.least, node.most) * len(rows)
            self._solves += lp.size + rows.matrix.size // 10
            if not lp.admit(node.most):
                return

    def _refutes(self, node: _Node, worth: Floats) -> bool:
        """Whether worths of rows prove, in integers, that the node holds no plan."""
        size = float(np.abs(worth).max(initial=0.0)) or 1.0
        y = np.rint(worth / size * (1 << 30)).astype(np.int64)
        nothing = np.zeros(len(self._at), np.int64)
        return self.rows.sum(y, nothing, node.low, node.high, node.least, node.most)[0] > 0

    def _look(self, node: _Node) -> list[tuple[int, _Node]]:
        rounds = 0
        if self._looked <= _CUT_NODES:
            rounds = _CUT_ROUNDS if self._looked == 1 else 2
        while True:
            bound, rest, x, broken = self._solve(node)
            if self._closed(bound):
                return []
            whole = np.rint(x).astype(np.int64)
            if not broken and np.abs(x - whole).max(initial=0.0) < _EPS:
                self._take(whole)
                if self._closed(bound):
                    return []
            # What would lift the node past the limit stays out of it.
            barred = (rest > self.limit - bound) & (node.most > node.least)
            if barred.any():
                node.most = np.where(barred, node.least, node.most)
            if broken:
                return self._split_blind(node, bound)
            if not rounds or not self._cut(x):
                if self._looked == 1:
                    x = x[self._shrink(node)]
                return self._split(node, x, bound)
            rounds -= 1

    def _shrink(self, node: _Node) -> Bools:
        """Forget what the first node has shown to be in no better plan."""
        kept = (node.most > 0) | self._lp.inside
        if kept.sum() > _KEPT * len(kept):
            return np.ones(len(kept), dtype=bool)
        self.rows.shrink(kept)
        self._lp.shrink(kept)
        self.cost, self._at, self._has = self.cost[kept], self._at[kept], self._has[:, kept]
        node.least, node.most = node.least[kept], node.most[kept]
        return kept

    def _cut(self, x: Floats) -> bool:
        """Add cuts that the point breaks; False where there are none."""
        if len(self._cuts) >= _MOST_CUTS:
            return False
        kinds = self.rows.matrix[: self.rows.kinds]
        self._solves += _CUT_TIMES * self.rows.matrix.size
        new = violated(kinds, self.need, x, self._cuts)
        if not new and self._looked == 1:
            new = richer(kinds, self.need, x, self._cuts)
        for cut in new:
            coefficients, low = row_of(cut, kinds, self.need)
            self._cuts.add(cut)
            self._add(coefficients, low, open_ended=True)
        return bool(new)

    def _add(self, coefficients: Ints, low: int, *, open_ended: bool) -> int:
        self._lp.add_row(coefficients, low, open_ended=open_ended)
        return self.rows.add(coefficients, low, open_ended=open_ended)

    def _bound(self, node: _Node, dual: Floats) -> tuple[int, Ints]:
        y = np.rint(dual * float(self.scale)).astype(np.int64)
        return self.rows.sum(y, self.cost, node.low, node.high, node.least, node.most)

    def _take(self, used: Ints) -> None:
        if not self.rows.keeps(used):
            return
        cost = sum(int(c) * int(n) for c, n in zip(self.cost, used, strict=True))
        if cost < self.limit:
            self.limit = cost
            best = np.zeros(self._number, np.int64)
            best[self._at] = used
            self.best = best.tolist()

    def _split(self, node: _Node, x: Floats, bound: int) -> list[tuple[int, _Node]]:
        """Two nodes, the one looked at first last."""
        counted = self.rows.counted
        sums = self.rows.matrix[counted.start : counted.stop] @ x
        part = np.abs(sums - np.rint(sums))
        if len(part) and part.max() > _PART:
            r = int(part.argmax())
            return self._split_row(node, counted[r], float(sums[r]), bound)
        pair = self._pair(x)
        if pair is not None:
            i, j, often = pair
            row = self._pairs.get((i, j))
            if row is None:
                both = (self._has[i] & self._has[j]).astype(np.int64)
                row = self._pairs[i, j] = self._add(both, 0, open_ended=False)
            return self._split_row(node, row, often, bound, up_first=True)
        part = np.abs(x - np.rint(x))
        at = int(part.argmax())
        if part[at] <= _EPS:
            return self._split_blind(node, bound)
        value = float(x[at])
        least, most = node.least.copy(), node.most.copy()
        most[at], least[at] = floor(value), ceil(value)
        down = _Node(node.low, node.high, node.least, most)
        up = _Node(node.low, node.high, least, node.most)
        return [(bound, down), (bound, up)] if value % 1 > 0.5 else [(bound, up), (bound, down)]

    def _split_row(
        self, node: _Node, row: int, value: float, bound: int, *, up_first: bool = False
    ) -> list[tuple[int, _Node]]:
        more = len(self.rows) - len(node.low)
        low = np.concatenate([node.low, self.rows.low[len(node.low) :]]) if more else node.low
        high = np.concatenate([node.high, self.rows.high[len(node.high) :]]) if more else node.high
        raised, lowered = low.copy(), high.copy()
        lowered[row], raised[row] = floor(value), ceil(value)
        down = _Node(low, lowered, node.least, node.most)
        up = _Node(raised, high, node.least, node.most)
        if up_first or value % 1 > 0.5:
            return [(bound, down), (bound, up)]
        return [(bound, up), (bound, down)]

    def _pair(self, x: Floats) -> tuple[int, int, float] | None:
        """The two kinds whose being together is most undecided, and how often they are."""
        used = np.flatnonzero(x > _EPS)
        both = np.triu(together(self._has[:, used], x[used]), 1)
        part = both - np.floor(both + _EPS)
        open_ = part > _PART
        if not open_.any():
            return None
        # Near a half, the upper half before the lower.
        judged = np.where(open_, 0.5 - np.abs(part - 0.5) + 0.25 * part, 0.0)
        i, j = divmod(int(judged.argmax()), judged.shape[1])
        return i, j, float(both[i, j])

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
