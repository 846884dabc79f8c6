"""Candidates: layouts that cost little beyond the worth of what is cut from them.

At worths that no stick passes, a plan costs what its pieces are worth plus what its sticks cost
beyond theirs. A plan within a tolerance of the least cost is therefore made of sticks that cost
little beyond their worth, and the more sticks are cut alike, the less each may. Those are listed
here, whole materials at a time, in NumPy rows. Floats guide this search only; what comes of it is
costed exactly.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np

from cutopt.solve.lumber.model import Bools, Ints, Model, Pattern
from cutopt.solve.lumber.pricing import Floats

__all__ = ["MOST_KINDS", "Lister", "Pool", "joined", "pool_of"]

#: Different kinds in one candidate. Layouts of more are kept where a plan has them, but not sought.
MOST_KINDS = 6
_EPS = 1e-9
#: How often a list that grows too long is begun again, shorter.
_TRIES = 12
#: A kind may be used up by so many of its pieces on one stick.
_MOST_COPIES = 8
#: Places of the table that looks ahead: finer grids are rounded to so many.
_PLACES = 4_096


@dataclass(frozen=True)
class Pool:
    """Candidates, one a row.

    Attributes
    ----------
    kind, copies : array, shape (candidates, MOST_KINDS)
        What is cut; places not needed hold the number of kinds, and 1.
    stock : array, shape (candidates,)
    over : array, shape (candidates,)
        Dollars that a stick costs beyond its worth.
    """

    kind: Ints
    copies: Ints
    stock: Ints
    over: Floats

    def __len__(self) -> int:
        return len(self.stock)

    def take(self, rows: Ints | Bools) -> Pool:
        """Some of the rows."""
        return Pool(self.kind[rows], self.copies[rows], self.stock[rows], self.over[rows])

    def cuts(self, row: int, none: int) -> list[tuple[int, int]]:
        """What a row cuts; `none` is the number of kinds."""
        pairs = zip(self.kind[row].tolist(), self.copies[row].tolist(), strict=True)
        return [(i, q) for i, q in pairs if i != none]


def joined(pools: Iterable[Pool]) -> Pool:
    """The rows of several, one behind the other."""
    parts = list(pools)
    if not parts:
        empty = np.zeros((0, MOST_KINDS), np.int64)
        return Pool(empty, empty, np.zeros(0, np.int64), np.zeros(0))
    return Pool(
        np.concatenate([p.kind for p in parts]),
        np.concatenate([p.copies for p in parts]),
        np.concatenate([p.stock for p in parts]),
        np.concatenate([p.over for p in parts]),
    )


def pool_of(model: Model, patterns: Sequence[Pattern], over: Sequence[float]) -> Pool:
    """Known patterns as candidates, those of too many kinds left out."""
    kind = np.full((len(patterns), MOST_KINDS), len(model.kinds), np.int64)
    copies = np.ones((len(patterns), MOST_KINDS), np.int64)
    fits = np.zeros(len(patterns), bool)
    for r, p in enumerate(patterns):
        fits[r] = len(p.cuts) <= MOST_KINDS
        for c, (i, q) in enumerate(p.cuts[:MOST_KINDS]):
            kind[r, c], copies[r, c] = i, q
    stock = np.array([p.stock for p in patterns], np.int64)
    return Pool(kind, copies, stock, np.array(over, float)).take(fits)


class Lister:
    """Lists candidates for some pieces at given worths.

    Parameters
    ----------
    worth : array, shape (kinds,)
        Dollars.
    """

    def __init__(self, model: Model, worth: Floats) -> None:
        self.model = model
        self._worth: list[float] = worth.tolist()
        self._sticks = [_Sticks(model, g) for g in range(len(model.grids))]

    def near_worth(self, need: Ints, slack: float, most: int) -> Pool:
        """Candidates that cost at most `slack` beyond their worth, none with more than needed.

        Where a material has more than `most` of them, its slack is lowered.
        """
        return joined(
            self._shortened(g, need, slack, most, False) for g in range(len(self.model.grids))
        )

    def all_used_up(self, need: Ints, slack: float, most: int) -> Pool:
        """Candidates that use up each of their kinds when cut some n times.

        They may cost at most `slack` beyond their worth, all n together; `most` of each n.
        """
        wanted = need[need > 0]
        times = {
            n
            for q in range(1, _MOST_COPIES + 1)
            for n in np.unique(wanted[wanted % q == 0] // q).tolist()
        }
        found = []
        for n in sorted(times):
            only = np.where(need % n == 0, need // n, 0)
            for g, grid in enumerate(self.model.grids):
                if np.count_nonzero(only[grid.kinds]) > 1:
                    found.append(self._shortened(g, only, slack / n, most, True))
        return joined(found)

    def _shortened(self, g: int, need: Ints, slack: float, most: int, whole: bool) -> Pool:
        for _ in range(_TRIES):
            found = self._listed(g, need, slack, most, whole)
            if found is not None:
                return found
            slack /= 3
        return joined(())

    def _listed(self, g: int, need: Ints, slack: float, most: int, whole: bool) -> Pool | None:
        """The candidates of one material, all or none of each kind where `whole`; None: too many.

        Kinds are taken in turn, longest first. Whatever can't come within the slack by what the
        later kinds can add at best is dropped at once.
        """
        grid, sticks = self.model.grids[g], self._sticks[g]
        room, low = sticks.room, -slack - _EPS
        kinds, weights, tops = [], [], []
        for i, w in zip(grid.kinds.tolist(), grid.weight.tolist(), strict=True):
            top = min(int(need[i]), room // w)
            if top and not (whole and need[i] > top):
                kinds.append(i)
                weights.append(w)
                tops.append(top)
        worth = [self._worth[i] for i in kinds]
        ahead = sticks.ahead(weights, tops, worth)
        used, value = np.zeros(1, np.int64), np.zeros(1)
        held, pieces = np.zeros(1, np.int64), np.zeros(1, np.int64)
        kind = np.full((1, MOST_KINDS), len(self.model.kinds), np.int64)
        copies = np.ones((1, MOST_KINDS), np.int64)
        done: list[Pool] = []
        for t, (i, w, top, v) in enumerate(zip(kinds, weights, tops, worth, strict=True)):
            rest = ahead[t + 1]
            more = []
            at = np.flatnonzero(held < MOST_KINDS)
            for q in range(top if whole else 1, top + 1):
                at = at[used[at] + q * w <= room]
                if grid.most is not None:
                    at = at[pieces[at] + q <= grid.most]
                if not len(at):
                    break
                place = (used[at] + q * w) // sticks.step
                good = at[value[at] + q * v + rest[place] >= low]
                if len(good):
                    more.append((good, q))
            going = np.flatnonzero(value + rest[used // sticks.step] >= low)
            parts = [
                (used[going], value[going], held[going], pieces[going], kind[going], copies[going])
            ]
            for rows, q in more:
                u, val = used[rows] + q * w, value[rows] + q * v
                here, often = kind[rows], copies[rows]
                new = np.arange(len(rows)), held[rows]
                here[new], often[new] = i, q
                parts.append((u, val, held[rows] + 1, pieces[rows] + q, here, often))
                for dollars, which in sticks.ways:
                    ends = np.flatnonzero(val - dollars[u] >= low)
                    if len(ends):
                        end = u[ends]
                        over = dollars[end] - val[ends]
                        done.append(Pool(here[ends], often[ends], which[end], over))
            used, value, held, pieces, kind, copies = (
                np.concatenate(column) for column in zip(*parts, strict=True)
            )
            if sum(map(len, done)) > most or len(used) > 4 * most:
                return None
        return joined(done)


class _Sticks:
    """What the sticks of one material cost by the units used.

    Attributes
    ----------
    ways : list
        (dollars, which stick) by used units, of those without a limit and of those with one, since
        the latter may be used up; `inf` where there is none.
    step
        Units in a place of the table that looks ahead.
    """

    def __init__(self, model: Model, g: int) -> None:
        stocks = model.stocks_of[g]
        self.room = max(model.stocks[k].room for k in stocks)
        self.ways = [
            _cheapest(
                model, [k for k in stocks if (model.stocks[k].available is None) == free], self.room
            )
            for free in (True, False)
        ]
        self.step = max(1, self.room // _PLACES)
        # What a stick saves at best from each place on.
        saved = np.maximum.accumulate(-np.minimum(self.ways[0][0], self.ways[1][0])[::-1])[::-1]
        self._base: Floats = saved[:: self.step].copy()

    def ahead(
        self, weights: Sequence[int], tops: Sequence[int], worth: Sequence[float]
    ) -> list[Floats]:
        """By kind, at least what it and the later ones can add to a stick, less its cost.

        Weights are rounded down to whole places: that hides nothing.
        """
        places = len(self._base)
        ahead = [self._base]
        for w, n, v in zip(reversed(weights), reversed(tops), reversed(worth), strict=True):
            best = ahead[-1].copy()
            q = 1
            while n > 0:
                q = min(q, n)
                move = q * w // self.step
                if move < places:
                    to = best[: places - move]
                    np.maximum(to, best[move:] + q * v, out=to)
                n -= q
                q *= 2
            ahead.append(best)
        ahead.reverse()
        return ahead


def _cheapest(model: Model, stocks: Sequence[int], room: int) -> tuple[Floats, Ints]:
    """By used units, the least dollars of some sticks, `inf` for none, and which it is."""
    least, which = np.full(room + 1, np.inf), np.zeros(room + 1, np.int64)
    for k in stocks:
        cost = _costs(model, k)
        better = np.flatnonzero(cost < least[: len(cost)])
        least[better], which[better] = cost[better], k
    return least, which


def _costs(model: Model, k: int) -> Floats:
    """Dollars of a stick by used units, its drop credited; `inf` where it may not be cut so."""
    stock = model.stocks[k]
    grid = model.grids[stock.grid]
    cost = np.full(stock.room + 1, float(stock.cost))
    drop = stock.usable - np.arange(stock.room + 1) * grid.unit
    kept = (drop >= grid.keep) & (drop > 0)
    cost[kept] -= float(model.slope(k)) * drop[kept]
    cost[stock.safe + 1 : stock.full] = np.inf
    return cost
