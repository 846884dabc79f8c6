"""Every choice of lengths bounded one by one: for any widths and any cost of a row.

Where a board's cost depends on the row it is cut to, the cheapest board of one span is not that of
another, and no table holds them all. Choices that are not too many are listed.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from math import prod

import numpy as np
from numpy.typing import NDArray

from cutopt.solve.ceiling.fields import laid_rows
from cutopt.solve.ceiling.model import BoardModel
from cutopt.solve.ceiling.states import Option, Prices, Relaxed, State, given_back, price_of

__all__ = ["Listed"]

Ints = NDArray[np.int64]

_NONE = 10**13
_NEVER = 10**17
#: Most choices that are listed.
_CHOICES = 20_000


class Listed:
    """The relaxation over the lengths of one material, choice by choice."""

    def __init__(
        self, build: BoardModel, material: str, options: Sequence[tuple[int, tuple[Option, ...]]]
    ) -> None:
        self.build = build
        self.options = [ways for _, ways in options]
        most = build.lengths.get(material)
        self.most = len(options) if most is None else max(0, min(most, len(options)))
        self.choices = list(self._choices())
        self.keys = list(build.rows)
        at = {key: n for n, key in enumerate(self.keys)}
        self.other: Ints = np.full(len(self.keys), _NONE, dtype=np.int64)
        self.rows: dict[State, Ints] = {}
        states = {s for choice in self.choices for o in choice for s in o.states}
        for state in states:
            self.rows[state] = np.full(len(self.keys), _NONE, dtype=np.int64)
        for key, n in at.items():
            for i, v in build.fitting[key]:
                cost = build.model.cost[v]
                if key[0] != material:
                    self.other[n] = min(self.other[n], cost)
                for bought in (False, True):
                    if (i, bought) in self.rows:
                        self.rows[i, bought][n] = cost
        mixes = []
        for f in build.fields:
            for mix in f.mixes:
                found: dict[int, int] = {}
                for width, finished, n in laid_rows(mix, f.run):
                    kind = width if build.plain else finished
                    k = at[mix.material, width, f.span, kind]
                    found[k] = found.get(k, 0) + n
                mixes.append(list(found.items()))
        widest = max(map(len, mixes))
        table = [[*m, *[(0, 0)] * (widest - len(m))] for m in mixes]
        both = np.array(table, dtype=np.int64).reshape(len(mixes), widest, 2)
        self.row_of, self.times = both[:, :, 0], both[:, :, 1]
        sizes = [len(f.mixes) for f in build.fields]
        self.begin = np.cumsum([0, *sizes[:-1]])
        self.copies: Ints = np.array([f.copies for f in build.fields], dtype=np.int64)

    @property
    def effort(self) -> int:
        """Work of pricing once, in numbers touched."""
        return len(self.choices) * (self.times.size + len(self.keys) * (self.most + 1))

    @staticmethod
    def fits(
        build: BoardModel, material: str, options: Sequence[tuple[int, tuple[Option, ...]]]
    ) -> bool:
        """Whether the choices are few enough."""
        dearest = max(build.costs, default=0) * max((n for n in build.most.values()), default=1)
        return dearest < _NONE and _many(build, material, options) <= _CHOICES

    def _choices(self) -> Iterator[tuple[Option, ...]]:
        def extend(j: int, left: int, taken: tuple[Option, ...]) -> Iterator[tuple[Option, ...]]:
            if j == len(self.options):
                yield taken
                return
            for option in self.options[j]:
                after = left - option.counts
                if after >= 0:
                    yield from extend(j + 1, after, (*taken, option))

        yield from extend(0, self.most, ())

    def price(self, prices: Prices) -> None:
        """Bound every choice at these prices."""
        self.prices = prices
        self.priced = {
            s: np.where(r < _NONE, r + price_of(self.build, prices, s), _NONE)
            for s, r in self.rows.items()
        }
        self.back = {s: given_back(self.build, prices, s) for s in self.rows}
        found = []
        for n, choice in enumerate(self.choices):
            bound = self._bound(choice)
            if bound < _NEVER:
                found.append((bound, n))
        self.order = sorted(found)

    def _rows(self, choice: Sequence[Option]) -> Ints:
        rows = [self.priced[s] for o in choice for s in o.states]
        found: Ints = np.minimum.reduce([self.other, *rows])
        return found

    def _bound(self, choice: Sequence[Option]) -> int:
        costs = (self.times * self._rows(choice)[self.row_of]).sum(axis=1)
        per = np.minimum.reduceat(costs, self.begin)
        if (per >= _NONE).any():
            return _NEVER
        return int(per @ self.copies) + sum(self.back[s] for o in choice for s in o.states)

    def least(self) -> int | None:
        """What every choice costs at least; None where no choice covers every field."""
        return self.order[0][0] if self.order else None

    def relaxed(self, chosen: Sequence[Option] | None = None) -> Relaxed:
        """The least, or what a choice costs at least, with all that it is made of."""
        choice = self.choices[self.order[0][1]] if chosen is None else chosen
        states = tuple(s for o in choice for s in o.states)
        rows = self._rows(choice)
        costs = (self.times * rows[self.row_of]).sum(axis=1)
        used: dict[State, int] = {}
        laid = []
        for n, begin in enumerate(self.begin.tolist()):
            end = begin + len(self.build.fields[n].mixes)
            j = int(costs[begin:end].argmin())
            laid.append(j)
            for k, times in zip(
                self.row_of[begin + j].tolist(), self.times[begin + j].tolist(), strict=True
            ):
                best = next((s for s in states if times and self.priced[s][k] == rows[k]), None)
                if best is not None and rows[k] < self.other[k]:
                    used[best] = used.get(best, 0) + times * int(self.copies[n])
        return Relaxed(self._bound(choice), states, used, tuple(laid))

    def ranking(self) -> Iterator[tuple[int, tuple[Option, ...]]]:
        """Every choice with its bound, the lowest first."""
        for bound, n in self.order:
            yield bound, self.choices[n]


def _many(
    build: BoardModel, material: str, options: Sequence[tuple[int, tuple[Option, ...]]]
) -> int:
    """How many choices there are, by how many lengths each buys."""
    most = build.lengths.get(material)
    if most is None:
        return prod(len(ways) for _, ways in options)
    counts = [1] + [0] * max(0, most)
    for _, ways in options:
        free = sum(not o.counts for o in ways)
        taken = len(ways) - free
        counts = [free * n + (taken * counts[k - 1] if k else 0) for k, n in enumerate(counts)]
    return sum(counts)
