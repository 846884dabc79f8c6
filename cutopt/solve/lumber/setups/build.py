"""Pieces put into few layouts: one layout after the other, each cut as often as it can be.

The sequential heuristic of Haessler (1975, "Controlling cutting pattern changes in
one-dimensional trim problems", Operations Research 23), with many stock lengths and prices: the
next layout is the one that uses up most kinds of piece for what it costs beyond its worth. The
last one is found exactly: its pieces are what is left.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import gcd

import numpy as np

from cutopt.solve.lumber.model import Ints, Model, Pattern
from cutopt.solve.lumber.pricing import Floats
from cutopt.solve.lumber.setups.pool import MOST_KINDS, Lister, Pool, joined

__all__ = ["MANY", "Builder", "Work"]

#: What stands for no limit.
MANY = 1 << 40
#: How much chance adds to a layout's rank, in kinds used up.
_CHANCE = 0.3
#: Layouts chosen from one list before what is left is listed anew.
_STALE = 12
#: The longest lists, per material and, for what is used up, per count.
_NEAR = 1_000
_USED_UP = 300
#: What a list costs, in rows looked at, for each kind in it; what a choice costs beside its rows.
_LISTING = 400
_CHOICE = 60


@dataclass(slots=True)
class Work:
    """Rows looked at, and how many may be."""

    most: int
    spent: int = 0

    @property
    def left(self) -> int:
        """Below 0 where the last step took more."""
        return self.most - self.spent


class Builder:
    """Builds layouts for some of the pieces of a material or a group.

    Parameters
    ----------
    worth : array, shape (kinds,)
        Dollars that a piece is worth in the least-cost plan.
    chance
        Seeded.
    """

    def __init__(
        self, model: Model, worth: Floats, chance: np.random.Generator, work: Work
    ) -> None:
        self.model, self.chance, self.work = model, chance, work
        self.lister = Lister(model, worth)
        self._worth: list[float] = worth.tolist()

    def over(self, pattern: Pattern) -> float:
        """Dollars that a stick costs beyond what is cut from it."""
        return float(pattern.cost) - sum(q * self._worth[i] for i, q in pattern.cuts)

    def listed(self, need: Ints, near: float, used_up: float) -> Pool:
        """Candidates for some pieces, as far as `Lister` finds them."""
        self.work.spent += int(np.count_nonzero(need)) * _LISTING
        return joined(
            (
                self.lister.near_worth(need, near, _NEAR),
                self.lister.all_used_up(need, used_up, _USED_UP),
            )
        )

    def build(
        self,
        need: Ints,
        caps: Ints,
        pool: Pool | None,
        budget: float,
        most: int,
        worth_of_one: float,
    ) -> dict[Pattern, int] | None:
        """Layouts for exactly these pieces; None where none were found.

        Parameters
        ----------
        need : array, shape (kinds,)
        caps : array, shape (stocks,)
            Sticks that can be had.
        pool
            Where the layouts come from; None to list candidates as the need shrinks.
        budget
            Dollars that they may cost beyond their worth.
        most
            Layouts.
        worth_of_one
            Dollars that using up one kind may cost.
        """
        need, caps = np.append(need, MANY), caps.copy()
        none = len(need) - 1
        near, fresh = worth_of_one, 0
        rows = self.listed(need[:-1], near, 4 * near) if pool is None else pool
        made: dict[Pattern, int] = {}
        kinds = np.flatnonzero(need[:-1]).tolist()
        while kinds:
            if most * MOST_KINDS < len(kinds):
                return None
            if most == 1:
                return self._closed(made, need, caps, kinds, budget)
            have = need[rows.kind]
            times = np.minimum((have // rows.copies).min(axis=1, initial=MANY), caps[rows.stock])
            able = np.flatnonzero((times > 0) & (times * rows.over <= budget))
            self.work.spent += 3 * len(rows) + _CHOICE
            if pool is None and fresh != 0 and (fresh >= _STALE or not len(able)):
                rows, fresh = self.listed(need[:-1], near, 4 * near), 0
                continue
            if not len(able):
                if pool is not None or near > 64 * max(budget, worth_of_one):
                    return None
                near *= 4
                rows = self.listed(need[:-1], near, 4 * near)
                continue
            rows, times, have = rows.take(able), times[able], have[able]
            used_up = np.count_nonzero(have == times[:, None] * rows.copies, axis=1)
            rank = used_up + _CHANCE * self.chance.random(len(rows))
            j = int((rank - times * rows.over / worth_of_one).argmax())
            n, cuts = int(times[j]), rows.cuts(j, none)
            for i, q in cuts:
                need[i] -= n * q
            stock = int(rows.stock[j])
            caps[stock] -= n
            budget -= n * float(rows.over[j])
            pattern = self.model.pattern(stock, cuts)
            made[pattern] = made.get(pattern, 0) + n
            kinds = [i for i in kinds if need[i]]
            most -= 1
            fresh += 1
        return made

    def _closed(
        self, made: dict[Pattern, int], need: Ints, caps: Ints, kinds: list[int], budget: float
    ) -> dict[Pattern, int] | None:
        """All that is left from equal sticks, at least cost."""
        left = [int(need[i]) for i in kinds]
        common = gcd(*left)
        best: tuple[float, int, Pattern] | None = None
        for stocks in self.model.stocks_of:
            room = max(self.model.stocks[k].room for k in stocks)
            grid = self.model.stocks[stocks[0]].grid
            weights = [self.model.weight(grid, i) for i in kinds]
            total = sum(w * n for w, n in zip(weights, left, strict=True) if w is not None)
            if None in weights or total > common * room:
                continue
            for n in range(-(-total // room), common + 1):
                if common % n:
                    continue
                cuts = tuple((i, d // n) for i, d in zip(kinds, left, strict=True))
                for k in stocks:
                    if caps[k] >= n and self.model.fits(k, cuts):
                        pattern = self.model.pattern(k, cuts)
                        over = n * self.over(pattern)
                        if over <= budget and (best is None or over < best[0]):
                            best = (over, n, pattern)
                self.work.spent += _CHOICE
        if best is None:
            return None
        _, n, pattern = best
        made[pattern] = made.get(pattern, 0) + n
        return made
