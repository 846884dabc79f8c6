"""Every choice of lengths bounded by one table, longest length first.

Where a board costs the same whatever row it is cut to, a row takes the cheapest board that covers
it. Going from the longest length down, every board met so far covers every span still to come:
so what matters of the choices made is the cheapest board of each width, and how many lengths may
still be bought. Between two lengths the fields of the spans between them are laid, each in its
cheapest mix of widths. The table is exact for any prices on the ties, and without ties it is the
least cost itself.
"""

from __future__ import annotations

import heapq
from collections.abc import Iterator, Sequence

import numpy as np
from numpy.typing import NDArray

from cutopt.solve.ceiling.model import BoardModel
from cutopt.solve.ceiling.states import Option, Prices, Relaxed, State, given_back, price_of

__all__ = ["Table"]

Ints = NDArray[np.int64]

#: What no board costs; and what no plan costs.
_NONE = 10**13
_NEVER = 10**17
#: Entries of a table that is still made.
_LARGEST = 40_000_000


class Table:
    """The relaxation over the lengths of one material.

    Parameters
    ----------
    build
        Plain: rows of at most two widths.
    options
        Per length, longest first, the ways to treat it.
    """

    def __init__(
        self, build: BoardModel, material: str, options: Sequence[tuple[int, tuple[Option, ...]]]
    ) -> None:
        self.build = build
        self.lengths = [length for length, _ in options]
        self.options = [ways for _, ways in options]
        most = build.lengths.get(material)
        self.most = 0 if most is None else max(0, min(most, len(options)))
        self._counted = most is not None
        widths = sorted({key[1] for key in build.rows if key[0] == material})
        self.widths = (*widths, 0) if len(widths) == 1 else tuple(widths)
        states = {s for ways in self.options for o in ways for s in o.states}
        self._states: list[list[State]] = [
            [s for s in sorted(states) if build.group.offers[s[0]].width == w] for w in self.widths
        ]
        self._fields(material)

    @property
    def effort(self) -> int:
        """Work of pricing once, in numbers touched."""
        wide = [len(states) + 1 for states in self._states]
        cells = sum(len(ways) for ways in self.options) * (self.most + 1) + self.rows[:, :, 0].size
        return cells * wide[0] * wide[1]

    @staticmethod
    def fits(
        build: BoardModel, material: str, options: Sequence[tuple[int, tuple[Option, ...]]]
    ) -> bool:
        """Whether there is such a table, of a size that is worth its making."""
        widths = {key[1] for key in build.rows if key[0] == material}
        if not build.plain or not 1 <= len(widths) <= 2:
            return False
        states = {s for _, ways in options for o in ways for s in o.states}
        wide = [sum(build.group.offers[s[0]].width == w for s in states) + 1 for w in widths]
        most = min(build.lengths.get(material, 0), len(options)) + 1
        cells = len(options) * most
        dearest = max(build.costs, default=0) * max((n for n in build.most.values()), default=1)
        for n in wide:
            cells *= n
        return cells <= _LARGEST and dearest < _NONE

    def _fields(self, material: str) -> None:
        build = self.build
        mixes: list[list[tuple[int, int, int]]] = []
        self.copies: Ints = np.array([f.copies for f in build.fields], dtype=np.int64)
        self.other: Ints = np.full(len(build.fields), _NONE, dtype=np.int64)
        self._other_mix = [0] * len(build.fields)
        for n, f in enumerate(build.fields):
            found = []
            for j, mix in enumerate(f.mixes):
                rows = dict(mix.rows)
                if mix.material == material:
                    found.append((rows.get(self.widths[0], 0), rows.get(self.widths[1], 0), j))
                    continue
                cost = sum(
                    k * min(build.model.cost[v] for _, v in build.fitting[key])
                    for w, k in mix.rows
                    for key in [(mix.material, w, f.span, w)]
                )
                if cost < self.other[n]:
                    self.other[n], self._other_mix[n] = cost, j
            mixes.append(_hull(found))
        widest = max(map(len, mixes), default=1) or 1
        # Padding repeats a field's first mix.
        padded = [[*m, *[m[0]] * (widest - len(m))] if m else [(0, 0, -1)] * widest for m in mixes]
        table = np.array(padded, dtype=np.int64).reshape(len(mixes), widest, 3)
        self.rows: Ints = table[:, :, :2]
        self.mix: Ints = table[:, :, 2]
        self.lone = np.array([not m for m in mixes], dtype=bool)
        down = np.array([-length for length in self.lengths], dtype=np.int64)
        spans = np.array([-f.span for f in build.fields], dtype=np.int64)
        #: The last length that covers each field; −1 where none does.
        self.segment = np.searchsorted(down, spans, side="right") - 1

    def price(self, prices: Prices) -> None:
        """Make the table for these prices."""
        build = self.build
        self.prices = prices
        self.ranked: list[list[State]] = []
        self.cost: list[Ints] = []
        self.rank: dict[State, int] = {}
        for states in self._states:
            costs = {s: build.costs[s[0]] + price_of(build, prices, s) for s in states}
            order = sorted(states, key=lambda s: (costs[s], s))
            self.rank |= {s: n for n, s in enumerate(order)}
            self.ranked.append(order)
            self.cost.append(np.array([*(costs[s] for s in order), _NONE], dtype=np.int64))
        # What boards of no length of this material cover.
        bare = self.segment < 0
        self.base = int((self.other[bare] * self.copies[bare]).sum())
        if (self.other[bare] >= _NONE).any():
            self.base = _NEVER
        self.laid = [self._segment(j) for j in range(len(self.lengths))]
        size = (self.most + 1, len(self.cost[0]), len(self.cost[1]))
        self.to_go: list[Ints] = [np.zeros(size, dtype=np.int64)]
        self.steps = [[self._step(o) for o in ways] for ways in self.options]
        first = np.arange(size[1])
        second = np.arange(size[2])
        for j in range(len(self.lengths) - 1, -1, -1):
            after = np.minimum(self.to_go[-1] + self.laid[j], _NEVER)
            best = np.full(size, _NEVER, dtype=np.int64)
            for constant, a, b, taken in self.steps[j]:
                moved = after[:, np.minimum(first, a)][:, :, np.minimum(second, b)]
                moved = np.where(moved >= _NEVER, _NEVER, moved + constant)
                if taken:
                    np.minimum(best[1:], moved[:-1], out=best[1:])
                else:
                    np.minimum(best, moved, out=best)
            self.to_go.append(best)
        self.to_go.reverse()

    def _step(self, option: Option) -> tuple[int, int, int, int]:
        """What an option costs by itself, its cheapest board of each width, lengths it takes."""
        build = self.build
        constant = sum(given_back(build, self.prices, s) for s in option.states)
        best = [len(c) - 1 for c in self.cost]
        for s in option.states:
            w = self.widths.index(build.group.offers[s[0]].width or 0)
            best[w] = min(best[w], self.rank[s])
        return constant, best[0], best[1], int(option.counts and self._counted)

    def _covering(self, j: int, w: int) -> NDArray[np.intp]:
        offers = self.build.group.offers
        ranks = [n for n, s in enumerate(self.ranked[w]) if offers[s[0]].length >= self.lengths[j]]
        return np.array([*ranks, len(self.ranked[w])], dtype=np.intp)

    def _segment(self, j: int) -> Ints:
        """What the fields between a length and the next cost, by cheapest board of each width."""
        size = (len(self.cost[0]), len(self.cost[1]))
        whole = np.zeros(size, dtype=np.int64)
        members = np.flatnonzero(self.segment == j)
        if not len(members):
            return whole
        a, b = self._covering(j, 0), self._covering(j, 1)
        cost = np.full((len(members), len(a), len(b)), _NONE, dtype=np.int64)
        cost = np.minimum(cost, self.other[members][:, None, None])
        here = ~self.lone[members]
        for m in range(self.rows.shape[1]):
            rows = self.rows[members[here], m]
            taken = (
                rows[:, 0, None, None] * self.cost[0][a][None, :, None]
                + rows[:, 1, None, None] * self.cost[1][b][None, None, :]
            )
            cost[here] = np.minimum(cost[here], taken)
        total = (np.minimum(cost, _NONE) * self.copies[members][:, None, None]).sum(axis=0)
        total[(cost >= _NONE).any(axis=0)] = _NEVER
        whole[:] = _NEVER
        whole[np.ix_(a, b)] = total
        return whole

    def least(self) -> int | None:
        """What every choice costs at least; None where no choice covers every field."""
        found = int(self.to_go[0][self.most, -1, -1])
        return None if found + self.base >= _NEVER else found + self.base

    def relaxed(self, chosen: Sequence[Option] | None = None) -> Relaxed:
        """The least, or what a choice costs at least, with all that it is made of."""
        a, b = len(self.cost[0]) - 1, len(self.cost[1]) - 1
        k, bound = self.most, self.base
        states: list[State] = []
        used: dict[State, int] = {}
        laid = list(self._other_mix)
        for j in range(len(self.lengths)):
            n = self._best(j, k, a, b) if chosen is None else self.options[j].index(chosen[j])
            constant, r, s, taken = self.steps[j][n]
            states += self.options[j][n].states
            a, b, k = min(a, r), min(b, s), k - taken
            bound += constant + int(self.laid[j][a, b])
            for field in np.flatnonzero(self.segment == j).tolist():
                self._lay(field, a, b, used, laid)
        return Relaxed(bound, tuple(states), used, tuple(laid))

    def _best(self, j: int, k: int, a: int, b: int) -> int:
        costs = [self._after(j, n, k, a, b)[0] for n in range(len(self.steps[j]))]
        return costs.index(min(costs))

    def _after(self, j: int, n: int, k: int, a: int, b: int) -> tuple[int, int, int, int, int]:
        """What an option leads to: (all still to pay, what it pays here, k, a, b)."""
        constant, r, s, taken = self.steps[j][n]
        k, a, b = k - taken, min(a, r), min(b, s)
        if k < 0:
            return _NEVER, _NEVER, 0, a, b
        here, after = int(self.laid[j][a, b]), int(self.to_go[j + 1][k, a, b])
        if here >= _NEVER or after >= _NEVER:
            return _NEVER, _NEVER, k, a, b
        return constant + here + after, constant + here, k, a, b

    def _lay(self, field: int, a: int, b: int, used: dict[State, int], laid: list[int]) -> None:
        costs = self.rows[field, :, 0] * self.cost[0][a] + self.rows[field, :, 1] * self.cost[1][b]
        m = int(costs.argmin())
        if self.lone[field] or costs[m] > self.other[field]:
            return
        laid[field] = int(self.mix[field, m])
        for w, rank in ((0, a), (1, b)):
            n = int(self.rows[field, m, w])
            if n:
                state = self.ranked[w][rank]
                used[state] = used.get(state, 0) + n * int(self.copies[field])

    def ranking(self) -> Iterator[tuple[int, tuple[Option, ...]]]:
        """Every choice with its bound, the lowest first."""
        start = (self.most, len(self.cost[0]) - 1, len(self.cost[1]) - 1)
        made = 0
        heap: list[tuple[int, int, int, int, tuple[int, int, int], tuple[int, ...]]] = []
        least = self.least()
        if least is not None:
            heap.append((least, 0, 0, self.base, start, ()))
        while heap:
            bound, _, depth, paid, (k, a, b), taken = heapq.heappop(heap)
            j = -depth
            if j == len(self.lengths):
                yield bound, tuple(self.options[i][n] for i, n in enumerate(taken))
                continue
            for n in range(len(self.options[j])):
                rest, here, *at = self._after(j, n, k, a, b)
                if rest < _NEVER:
                    made += 1
                    after = (at[0], at[1], at[2])
                    heapq.heappush(
                        heap, (paid + rest, made, depth - 1, paid + here, after, (*taken, n))
                    )


def _hull(mixes: Sequence[tuple[int, int, int]]) -> list[tuple[int, int, int]]:
    """Those of (rows of one width, rows of the other, mix) that some prices make cheapest."""
    best: list[tuple[int, int, int]] = []
    for p in sorted(mixes):
        if best and p[1] >= best[-1][1]:
            continue
        while len(best) > 1 and _above(best[-2], best[-1], p):
            best.pop()
        best.append(p)
    return best


def _above(p: tuple[int, int, int], q: tuple[int, int, int], r: tuple[int, int, int]) -> bool:
    """Whether q lies on or above the line from p to r."""
    return (q[0] - p[0]) * (r[1] - p[1]) <= (q[1] - p[1]) * (r[0] - p[0])
