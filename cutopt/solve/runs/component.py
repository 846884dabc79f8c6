"""Least-cost joints of three or more runs that hang together by mates.

The same states as for a pair, one last joint per run, but searched best first: what a state must
still cost is at least the sum of what its runs would cost alone. Within the work allowed the
result is exact; beyond it, a proved bound and some way that keeps every clearance.
"""

from __future__ import annotations

import heapq
from collections.abc import Sequence
from typing import Any

from cutopt.solve.runs.single import Single
from cutopt.solve.runs.unit import Joints, Unit

__all__ = ["best_together"]

_DONE = -1
_State = tuple[int, ...]


class _Search:
    """The states of one unit. Node 0 of a run is its start, node i its (i - 1)th place."""

    def __init__(self, unit: Unit, singles: Sequence[tuple[Single, int]], reach: Any) -> None:
        self.reach = reach
        self.runs = unit.runs
        self.lead = [s.lead[:, c].tolist() for s, c in singles]
        self.tail = [[s.whole[c].item(), *s.tail[:, c].tolist()] for s, c in singles]
        self.rest = [[s.best[c].item(), *s.rest[:, c].tolist()] for s, c in singles]
        self.inner = [s.inner.tolist() for s, _ in singles]
        self.low = [s.table.low for s, _ in singles]
        self.beside: list[list[tuple[int, int]]] = [[] for _ in self.runs]
        for i, j, gap in unit.clear:
            self.beside[i].append((j, gap))
            self.beside[j].append((i, gap))

    def place(self, run: int, node: int) -> int:
        """Where a node lies; behind everything once the run is done."""
        if node <= 0:
            return self.runs[run].length if node == _DONE else 0
        return self.runs[run].start + (node - 1) * self.runs[run].step

    def next(self, state: _State) -> list[tuple[Any, _State]]:
        """(value, state) of every move of the lagging run."""
        r = min((self.place(i, n), i) for i, n in enumerate(state) if n != _DONE)[1]
        node, run = state[r], self.runs[r]
        moves = [(self.tail[r][node], _DONE)]
        if node == 0:
            moves += [(v, i) for i, v in enumerate(self.lead[r][: run.count], 1)]
        else:
            nodes = range(node + self.low[r], run.count + 1)
            moves += list(zip(self.inner[r], nodes, strict=False))
        held = [(self.place(s, state[s]), gap) for s, gap in self.beside[r] if state[s] > 0]
        found = []
        for value, to in moves:
            if value >= self.reach or (to > 0 and self.rest[r][to] >= self.reach):
                continue
            if to > 0 and held:
                x = self.place(r, to)
                if any(abs(x - y) < gap for y, gap in held):
                    continue
            found.append((value, (*state[:r], to, *state[r + 1 :])))
        return found

    def ahead(self, state: _State) -> Any:
        """The least that the runs would still cost, each alone."""
        return sum(self.rest[r][n] for r, n in enumerate(state) if n != _DONE)

    def progress(self, state: _State) -> int:
        """How far the runs have come together."""
        return sum(self.place(r, n) for r, n in enumerate(state))


def best_together(
    unit: Unit, singles: Sequence[tuple[Single, int]], reach: Any, work: int
) -> tuple[Any, Joints | None, bool]:
    """Joints of several runs that keep every clearance between them.

    Parameters
    ----------
    unit
        The runs and their clearances.
    singles
        For each run the priced table that holds it, and its column.
    reach
        Values from here on mean "no way".
    work
        States looked at in the search for the least value, and again as many in the search for
        any way where the first ended early.

    Returns
    -------
    tuple
        A lower bound on the value of any way; joints or None where none was found; whether the
        search was complete: then the joints have the bound's value, or None means that there
        is no way.
    """
    search = _Search(unit, singles, reach)
    start = (0,) * len(unit.runs)
    goal = (_DONE,) * len(unit.runs)
    cost: dict[_State, Any] = {start: 0}
    came: dict[_State, _State] = {}
    closed: set[_State] = set()
    heap: list[tuple[Any, int, _State]] = [(search.ahead(start), 0, start)]
    while heap and len(closed) < work:
        _, _, state = heapq.heappop(heap)
        if state == goal:
            return cost[goal], _joints(search, came, goal), True
        if state in closed:
            continue
        closed.add(state)
        for value, to in search.next(state):
            total = cost[state] + value
            if to not in cost or total < cost[to]:
                cost[to], came[to] = total, state
                heapq.heappush(heap, (total + search.ahead(to), -search.progress(to), to))
    if not heap:
        return reach, None, True
    bound = heap[0][0]
    if goal not in cost:
        _dive(search, heap, cost, came, goal, work)
    if goal not in cost:
        return bound, None, False
    return bound, _joints(search, came, goal), False


def _dive(
    search: _Search,
    heap: Sequence[tuple[Any, int, _State]],
    cost: dict[_State, Any],
    came: dict[_State, _State],
    goal: _State,
    work: int,
) -> None:
    """Any way to the goal from the states left: those that have come furthest first."""
    seen: set[_State] = set()
    deep = [(back, total, state) for total, back, state in heap]
    heapq.heapify(deep)
    while deep and len(seen) < work and goal not in cost:
        _, _, state = heapq.heappop(deep)
        if state in seen:
            continue
        seen.add(state)
        for value, to in search.next(state):
            if to not in cost:
                cost[to], came[to] = cost[state] + value, state
                total = cost[to] + search.ahead(to)
                heapq.heappush(deep, (-search.progress(to), total, to))


def _joints(search: _Search, came: dict[_State, _State], state: _State) -> Joints:
    joints: list[list[int]] = [[] for _ in state]
    while state in came:
        before = came[state]
        for r, (old, new) in enumerate(zip(before, state, strict=True)):
            if new > 0 and new != old:
                joints[r].append(search.place(r, new))
        state = before
    return tuple(tuple(j[::-1]) for j in joints)
