"""Least-cost joints of two runs whose joints keep clear of each other, exactly.

A state is the last joint of either run. The run whose last joint lies nearer the start is always
the one to go on (where both are level, the first), so a new joint need be held only against the
other's last: what lies before that is a clearance behind the last joint of the lagging run, or
lies before the first. The table of states does not know the lengths of the runs: pairs with the
same steps, clearance and distance between their first places share one, and are told apart when
it is read.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np
from numpy.typing import NDArray

from cutopt.solve.runs.single import Single, SingleTable, Values, far_of
from cutopt.solve.runs.unit import Joints, Unit

__all__ = ["Pair", "PairTable", "pair_key"]

_CELLS_AT_ONCE = 2_000_000


def pair_key(unit: Unit, spots: Sequence[tuple[int, int]]) -> tuple[int, int, int, int]:
    """Pairs with equal keys may share a table: single tables, distance of firsts, clearance."""
    a, b = unit.runs
    return spots[0][0], spots[1][0], a.start - b.start, unit.clear[0][2]


class PairTable:
    """States and moves of pairs that share a table.

    Node 0 of a run is its start, node i its (i - 1)th place.

    Parameters
    ----------
    first, second
        The single tables of either run.
    columns : sequence of (int, int)
        For each pair the columns of its runs in these tables.
    clear
        The clearance.
    """

    def __init__(
        self,
        first: SingleTable,
        second: SingleTable,
        columns: Sequence[tuple[int, int]],
        clear: int,
    ) -> None:
        self.first, self.second = first, second
        self.columns = tuple(columns)
        starts = [first.runs[a].start for a, _ in columns]
        self.starts = sorted(set(starts))
        self.layer = np.array([self.starts.index(s) for s in starts])
        a = np.array([c for c, _ in columns])
        b = np.array([c for _, c in columns])
        self.a, self.b = a, b
        run_a, run_b = first.runs[a[0]], second.runs[b[0]]
        apart = run_b.start - run_a.start
        self.lead_a = _lead(first, self.starts)
        self.lead_b = _lead(second, [s + apart for s in self.starts])
        at_a = run_a.start + run_a.step * np.arange(first.n, dtype=np.int64)
        at_b = run_b.start + run_b.step * np.arange(second.n, dtype=np.int64)
        self.near = np.zeros((first.n + 1, second.n + 1), bool)
        self.near[1:, 1:] = np.abs(at_a[:, None] - at_b[None]) < clear
        #: Whether the first run is the one to go on.
        self.lags = np.ones((first.n + 1, second.n + 1), bool)
        self.lags[1:, 0] = False
        self.lags[1:, 1:] = at_a[:, None] <= at_b[None]
        self.moves = self._moves(at_a, at_b)

    def _moves(self, at_a: NDArray[Any], at_b: NDArray[Any]) -> list[tuple[bool, int, int, int]]:
        """(whether the first run moves, its node, the other's nodes from, to) in order of place."""
        events = [(int(x), 0, i) for i, x in enumerate(at_a, 1)]
        events += [(int(x), 1, i) for i, x in enumerate(at_b, 1)]
        moves: list[tuple[bool, int, int, int]] = []
        for x, which, node in sorted(events):
            own, other = (self.first, at_b) if which == 0 else (self.second, at_a)
            reach = (self.second if which == 0 else self.first).longest
            if own.low > own.high or node + own.low > own.n:
                continue
            begin = int(np.searchsorted(other, x, "left" if which == 0 else "right")) + 1
            end = int(np.searchsorted(other, x + reach, "right")) + 1
            if begin < end:
                moves.append((which == 0, node, begin, end))
        return moves

    def price(self, first: Single, second: Single) -> Pair:
        """Every pair of the table at the values of these priced single tables."""
        return Pair(self, first, second)


def _lead(table: SingleTable, starts: Sequence[int]) -> NDArray[Any]:
    """Where the value of a first piece is found, by first place of the run and place.

    The union over the runs with that first place: a place past a shorter run's end leads nowhere
    in it.
    """
    lead = np.full((len(starts), table.n), -1, np.int64)
    for c, run in enumerate(table.runs):
        if run.start in starts:
            row = lead[starts.index(run.start)]
            np.maximum(row, table.lead[:, c], out=row)
    return lead


class Pair:
    """Priced pairs.

    Attributes
    ----------
    best : array, shape (pairs,)
        The least value of both runs together.
    """

    def __init__(self, table: PairTable, first: Single, second: Single) -> None:
        self.table, self.first, self.second = table, first, second
        values = first.values
        self.far = far = far_of(values)
        self.lead_a = first.first_values[table.lead_a]
        self.lead_b = second.first_values[table.lead_b]
        self.bar = np.where(table.near, far, values.dtype.type(0))
        shape = (len(table.starts), first.table.n + 1, second.table.n + 1)
        self.state = state = np.full(shape, far, values.dtype)
        # Both at the start: the first goes; then the second, still there, lags behind any joint.
        state[:, 0, 0] = 0
        state[:, 1:, 0] = self.lead_a
        state[:, 1:, 1:] = np.minimum(self.lead_a[:, :, None] + self.lead_b[:, None], far)
        for first_moves, node, begin, end in table.moves:
            if first_moves:
                low, to = first.table.low, min(first.table.high, first.table.n - node)
                source = state[:, node, begin:end] + self.bar[node, begin:end]
                target = state[:, node + low : node + to + 1, begin:end]
                way = first.inner[: to - low + 1, None] + source[:, None]
            else:
                low, to = second.table.low, min(second.table.high, second.table.n - node)
                source = state[:, begin:end, node] + self.bar[begin:end, node]
                target = state[:, begin:end, node + low : node + to + 1]
                way = second.inner[: to - low + 1] + source[:, :, None]
            np.minimum(target, way, out=target)
        self.open = state + self.bar
        self._ends = [_ends(first, table.a), _ends(second, table.b)]
        cells = shape[1] * shape[2]
        some = max(1, _CELLS_AT_ONCE // cells)
        best, last = [], []
        for i in range(0, len(table.columns), some):
            flat = self._finals(np.arange(i, min(i + some, len(table.columns))))
            flat = flat.reshape(len(flat), cells)
            last.append(flat.argmin(axis=1))
            best.append(np.minimum(flat.min(axis=1), far))
        self.best: Values = np.concatenate(best)
        self._last = np.concatenate(last)

    def _finals(self, pairs: NDArray[Any]) -> Values:
        """For each pair and state the least value where the lagging run ends from there."""
        (tail_a, rest_a), (tail_b, rest_b) = (
            (tail[pairs], rest[pairs]) for tail, rest in self._ends
        )
        a_ends = tail_a[:, :, None] + rest_b[:, None]
        b_ends = rest_a[:, :, None] + tail_b[:, None]
        values: Values = np.where(self.table.lags, a_ends, b_ends)
        values += self.open[self.table.layer[pairs]]
        return values

    def joints(self, pair: int) -> Joints:
        """Joints of a least way for a pair that has one."""
        return self._from(pair, int(self._last[pair]))

    def near(self, pair: int, most: int) -> list[Joints]:
        """At most so many ways, least first: the best for each state where one run ends."""
        flat = self._finals(np.array([pair]))[0].ravel()
        order = np.argsort(flat, kind="stable")[:most]
        return [self._from(pair, int(i)) for i in order if flat[i] < _reach(self.far)]

    def _from(self, pair: int, last: int) -> Joints:
        table = self.table
        column_a, column_b = table.columns[pair]
        a, b = divmod(last, self.second.table.n + 1)
        joints_a, joints_b = self._back(int(table.layer[pair]), a, b)
        run_a, run_b = self.first.table.runs[column_a], self.second.table.runs[column_b]
        behind_a = tuple(run_a.start + (i - 1) * run_a.step for i in joints_a)
        behind_b = tuple(run_b.start + (i - 1) * run_b.step for i in joints_b)
        if table.lags[a, b]:
            ahead = self.second.follow(column_b, b - 1) if b else self.second.joints(column_b)
            return behind_a, behind_b[:-1] + ahead
        ahead = self.first.follow(column_a, a - 1) if a else self.first.joints(column_a)
        return behind_a[:-1] + ahead, behind_b

    def _back(self, layer: int, a: int, b: int) -> tuple[list[int], list[int]]:
        """The nodes of either run on a least way to a state, starts left out."""
        nodes_a, nodes_b = [], []
        state, lags = self.open[layer], self.table.lags
        while a or b:
            value = self.state[layer, a, b]
            if not b:
                nodes_a.append(a)
                break
            if a and self.lead_a[layer, a - 1] + self.lead_b[layer, b - 1] == value:
                nodes_a.append(a)
                nodes_b.append(b)
                break
            low = self.first.table.low
            begin, end = max(1, a - self.first.table.high), a - low + 1
            if begin < end:
                way = (
                    state[begin:end, b]
                    + self.first.inner[a - end + 1 - low : a - begin + 1 - low][::-1]
                )
                hits = np.flatnonzero((way == value) & lags[begin:end, b])
                if len(hits):
                    nodes_a.append(a)
                    a = begin + int(hits[0])
                    continue
            low = self.second.table.low
            begin, end = max(1, b - self.second.table.high), b - low + 1
            way = (
                state[a, begin:end]
                + self.second.inner[b - end + 1 - low : b - begin + 1 - low][::-1]
            )
            hits = np.flatnonzero((way == value) & ~lags[a, begin:end])
            nodes_b.append(b)
            b = begin + int(hits[0])
        return nodes_a[::-1], nodes_b[::-1]


def _reach(far: Any) -> Any:
    return far if far == np.inf else far >> 1


def _ends(single: Single, columns: NDArray[Any]) -> tuple[Values, Values]:
    """By run and node: the value of ending with one piece, and the least value of ending."""
    tail = np.concatenate([single.whole[columns][None], single.tail[:, columns]]).T
    rest = np.concatenate([single.best[columns][None], single.rest[:, columns]]).T
    return np.ascontiguousarray(tail), np.ascontiguousarray(rest)
