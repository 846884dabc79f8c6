"""The cheapest counts of sheets that keep rows, in whole numbers, while rows still come.

One tree, least bound first. Where the least is whole, whoever asked looks whether a plan has those
counts: a row that they break, or word that they were refuted, and the tree goes on where it was.
Every bound is a sum in integers; the linear programme in floats only proposes worths of rows.
"""

from __future__ import annotations

import heapq
from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from math import ceil, lcm

import highspy
import numpy as np

from cutopt.solve.covering.column import Floats, Ints
from cutopt.solve.search import Watch
from cutopt.solve.simplex import simplex

__all__ = ["Counts", "Tally"]

Counts = tuple[int, ...]

#: What the sheets must hold is divided into so many parts.
_FINE = 1 << 20
#: Sums of costs in whole numbers stay below 2 to this.
_BITS = 58
_EPS = 1e-6
#: Seconds of a usual machine for a node, and for an entry of its programme.
_NODE, _ENTRY = 1e-4, 4e-8


@dataclass(slots=True)
class _Node:
    low: Ints
    high: Ints


class Tally:
    """Counts of sheets between 0 and `most`, at least cost.

    Parameters
    ----------
    costs
        Dollars per sheet, by size; above 0.
    most
        The most of each size in any plan in question.
    below
        What a plan must cost less than.
    step
        Costs are multiples of it.
    """

    def __init__(
        self, costs: Sequence[Fraction], most: Sequence[int], below: Fraction, step: Fraction
    ) -> None:
        self.costs = list(costs)
        common = lcm(step.denominator, *(c.denominator for c in costs))
        top = sum(n * c for n, c in zip(most, costs, strict=True)) + below
        room = _BITS - int(top * common).bit_length()
        self.scale = common << max(0, min(34, room))
        self.whole = [int(c * self.scale) for c in costs]
        self.limit, self.step = ceil(below * self.scale), max(1, int(step * self.scale))
        self.work = 0.0
        self._rows: list[tuple[Ints, int]] = []
        self._made = 0
        h = simplex()
        empty = (np.zeros(0, np.int32), np.zeros(0))
        for c, n in zip(costs, most, strict=True):
            h.addCol(float(c), 0.0, float(n), 0, *empty)
        self._h = h
        self._at = np.arange(len(self.costs), dtype=np.int32)
        low = np.zeros(len(self.costs), np.int64)
        self._heap: list[tuple[int, int, _Node]] = []
        self._push(0, _Node(low, np.array(most, dtype=np.int64)))
        #: Whose counts are being looked at, and what it costs at least.
        self._open: _Node | None = None
        self._reached = 0
        self._weights = np.array([float(c) for c in costs])

    def ask(self, held: Sequence[int], asked: int) -> None:
        """A row that every plan keeps: what each sheet holds at most, and what all must hold."""
        if asked <= 0:
            return
        # Rounded so that no counts are barred that might do.
        fine = min(asked, _FINE)
        row = np.array([min(fine, -(-h * fine // asked)) for h in held], dtype=np.int64)
        self._rows.append((row, fine))
        some = np.flatnonzero(row).astype(np.int32)
        self._h.addRow(1.0, highspy.kHighsInf, len(some), some, row[some] / fine)

    def next(self, work: float, watch: Watch) -> tuple[Counts | None, Fraction, bool]:
        """The cheapest counts that keep all rows and were not refuted.

        Returns
        -------
        tuple
            The counts, None where there are none below the limit or the work was too much; what
            any plan costs at least; whether that is settled.
        """
        end = self.work + work
        if self._open is not None:
            self._push(self._reached, self._open)
            self._open = None
        while self._heap:
            bound, _, node = heapq.heappop(self._heap)
            if self.work >= end or watch.stop():
                self._push(bound, node)
                return None, Fraction(bound, self.scale), False
            if bound >= self.limit:
                break
            solved = self._solve(node)
            if solved is None:
                continue
            reached, x = max(bound, solved[0]), solved[1]
            if reached >= self.limit:
                continue
            if self._heap and reached > self._heap[0][0]:
                self._push(reached, node)
                continue
            part = np.abs(x - np.rint(x))
            q = int((part * self._weights).argmax())
            counts = np.rint(x).astype(np.int64)
            if part[q] <= _EPS and not self._keeps(counts):
                # Floats saw a row kept that is not.
                q = int((node.high - node.low).argmax())
            elif part[q] <= _EPS:
                self._open, self._reached = node, reached
                return tuple(counts.tolist()), Fraction(reached, self.scale), True
            if node.low[q] == node.high[q]:
                continue
            middle = min(int(np.floor(x[q])), int(node.high[q]) - 1)
            self._push(reached, _cut(node, q, high=middle))
            self._push(reached, _cut(node, q, low=middle + 1))
        return None, Fraction(self.limit, self.scale), True

    def bar(self, counts: Counts) -> None:
        """The last counts were refuted, and with them all that are no more of any size."""
        node, self._open = self._open, None
        if node is None:
            return
        for q, n in enumerate(counts):
            # More of this size, and no more of those before it.
            if n < node.high[q]:
                self._push(self._reached, _cut(node, q, low=n + 1))
                node = _cut(node, q, high=n)

    def _push(self, bound: int, node: _Node) -> None:
        self._made += 1
        heapq.heappush(self._heap, (bound, self._made, node))

    def _solve(self, node: _Node) -> tuple[int, Floats] | None:
        """What the node's counts cost at least, and proposed counts; None where there are none."""
        self.work += _NODE + _ENTRY * len(self._rows) * len(self._at)
        if not self._keeps(node.high):
            return None
        h = self._h
        h.changeColsBounds(
            len(self._at), self._at, node.low.astype(np.float64), node.high.astype(np.float64)
        )
        h.run()
        solution = h.getSolution()
        bound = self._bound(node, np.array(solution.row_dual))
        x = np.clip(np.array(solution.col_value), node.low, node.high)
        return -(-bound // self.step) * self.step, x

    def _keeps(self, counts: Ints) -> bool:
        return all(int(row @ counts) >= fine for row, fine in self._rows)

    def _bound(self, node: _Node, dual: Floats) -> int:
        """The node's bound by whole worths of rows, whatever they are."""
        total = 0
        rest = list(self.whole)
        for (row, fine), d in zip(self._rows, dual.tolist(), strict=True):
            y = round(d * self.scale / fine)
            if y <= 0:
                continue
            total += y * fine
            rest = [r - y * v for r, v in zip(rest, row.tolist(), strict=True)]
        low: list[int] = node.low.tolist()
        high: list[int] = node.high.tolist()
        return total + sum(r * (a if r > 0 else b) for r, a, b in zip(rest, low, high, strict=True))


def _cut(node: _Node, q: int, *, low: int | None = None, high: int | None = None) -> _Node:
    """The node with other counts of one size."""
    least, most = node.low, node.high
    if low is not None:
        least = least.copy()
        least[q] = low
    if high is not None:
        most = most.copy()
        most[q] = high
    return _Node(least, most)
