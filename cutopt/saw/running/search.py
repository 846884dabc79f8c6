"""The search for an order: from the best starts, by moves of runs judged in batches.

A move takes a run, a block of runs, a visit to one stock or material, or part of a run, and puts
it beside its like or elsewhere. Of each batch the best is taken if it is good enough at the
temperature reached. The search ends by orders judged; the clock is a guard.
"""

from __future__ import annotations

import math
import random
import time
from collections import defaultdict
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from cutopt.saw.running.judge import Judge, Runs
from cutopt.saw.running.starts import Listed, by_stock, plan_order, waves
from cutopt.saw.running.visits import Decoder

__all__ = ["Effort", "Found", "Step", "no_step", "search"]

_BATCH = 8
#: Temperatures of the search, in seconds of set-up times 10⁶ (what costs are counted in).
_HOT, _COLD = 60_000_000, 3_000_000
_DECODED = 24
_STARTS = 2
_FIRST_SHARE = 5


@dataclass(frozen=True, slots=True)
class Effort:
    """How long to search.

    Parameters
    ----------
    judged
        Orders judged; 0 for 1,600 a cart, at most 80,000.
    seed
        Same work, seed and version: same order.
    seconds
        A guard by the clock.
    """

    judged: int = 0
    seed: int = 1
    seconds: float = 120.0

    def orders(self, carts: int) -> int:
        """Orders judged for so many carts."""
        return self.judged or min(80_000, 1_600 * carts)


@dataclass(frozen=True, slots=True)
class Step:
    """Where a search stands: orders judged of all, the least cost so far."""

    judged: int
    of: int
    cost: int


@dataclass(frozen=True, slots=True)
class Found:
    """The best order, its cost, orders judged, and whether the clock or the caller ended it."""

    order: tuple[tuple[int, int], ...]
    cost: int
    judged: int
    broken_off: bool


def no_step(step: Step) -> None:
    """Tell nobody."""


def _never() -> bool:
    return False


def search(
    judge: Judge,
    effort: Effort,
    report: Callable[[Step], None] = no_step,
    cancelled: Callable[[], bool] = _never,
) -> Found:
    """The best order found of a saw's work.

    Parameters
    ----------
    judge
        Knows the work, the ranking of carts and their limit.
    effort
        How long.
    report
        Told now and then.
    cancelled
        Asked now and then; True ends the search with the best so far.
    """
    if not judge.work.jobs:
        return Found((), 0, 0, False)
    total = effort.orders(len(judge.work.carts))
    starts = _starts(judge, effort.seed)
    until = time.monotonic() + effort.seconds
    walk = _Walk(judge, report, lambda: cancelled() or time.monotonic() > until, total)
    first = total // _FIRST_SHARE
    tried = [
        walk.anneal(order, first, effort.seed * 101 + n, _HOT)
        for n, (_, order) in enumerate(starts[:_STARTS])
    ]
    tried += starts[:1]
    best = min(tried, key=lambda t: t[0])
    last = walk.anneal(best[1], total - walk.judged, effort.seed * 101 + _STARTS, _HOT // 2)
    cost, order = min(best, last, key=lambda t: t[0])
    return Found(tuple(order), cost, walk.judged, walk.broken_off)


def _starts(judge: Judge, seed: int) -> list[tuple[int, Listed]]:
    """Orders to begin from with their costs, cheapest first."""
    work = judge.work
    carts = len(work.carts)
    widths = sorted({max(1, judge.limit * n // 8) for n in (4, 6, 8, 10, 12)} | {carts})
    orders = [plan_order(work), by_stock(work), *(waves(work, n) for n in widths)]
    decoder = Decoder(work)
    for n in range(_DECODED):
        chance = random.Random(seed * 1_000 + n)  # noqa: S311 - a search, not a secret
        limit = max(1, judge.limit - n % 3)
        orders.append(decoder.decode(limit, (1, 2, 3, 4, 6)[n % 5] * limit // 2 + 1, chance))
    found = []
    for order in orders:
        judge.take(_runs(order))
        found.append((int(judge.judge(np.arange(len(order))[None]).cost[0]), order))
    return sorted(found, key=lambda f: f[0])


def _runs(order: Listed) -> Runs:
    jobs = np.array([j for j, _ in order], np.int64)
    return Runs(jobs, np.array([n for _, n in order], np.int64))


class _Walk:
    """One order that changes, and the best it has been."""

    def __init__(
        self,
        judge: Judge,
        report: Callable[[Step], None],
        ended: Callable[[], bool],
        total: int,
    ) -> None:
        self.judge = judge
        self.judged = 0
        self.broken_off = False
        self._report = report
        self._ended = ended
        self._total = total
        self._classes: list[list[int]] = judge.work.classes.tolist()
        self._jobs: list[int] = []
        self._counts: list[int] = []
        self._order: list[int] = []

    def anneal(self, start: Listed, orders: int, seed: int, hot: float) -> tuple[int, Listed]:
        """The best found from a start within so many orders judged."""
        chance = random.Random(seed)  # noqa: S311 - a search, not a secret
        self._load(list(start))
        cost = int(self.judge.judge(np.array([self._order])).cost[0])
        best, listed = cost, self._listed()
        begin, turn = self.judged, 0
        while self.judged - begin < orders and not self.broken_off:
            turn += 1
            if turn % 64 == 0:
                self._report(Step(self.judged, self._total, best))
                self.broken_off = self._ended()
            heat = hot * (_COLD / hot) ** ((self.judged - begin) / orders)
            parted = self._part(chance)
            batch = self._insertions(chance, parted) if parted else self._moves(chance)
            if not batch:
                self.judged += 1
                continue
            costs = self.judge.judge(np.array(batch)).cost
            self.judged += len(batch)
            at = int(costs.argmin())
            if costs[at] > cost - heat * math.log(1 - chance.random()):
                if parted:
                    self._unpart(parted)
                continue
            cost = int(costs[at])
            self._order = batch[at]
            self._merge()
            if cost < best:
                best, listed = cost, self._listed()
        return best, listed

    def _load(self, listed: Listed) -> None:
        self._jobs = [j for j, _ in listed]
        self._counts = [n for _, n in listed]
        self._order = list(range(len(listed)))
        self._take()

    def _take(self) -> None:
        self.judge.take(_runs(list(zip(self._jobs, self._counts, strict=True))))

    def _listed(self) -> Listed:
        return [(self._jobs[r], self._counts[r]) for r in self._order]

    def _merge(self) -> None:
        """Runs of the same job side by side become one."""
        joined: Listed = []
        for job, count in self._listed():
            if joined and joined[-1][0] == job:
                joined[-1] = (job, joined[-1][1] + count)
            else:
                joined.append((job, count))
        if len(joined) < len(self._order):
            self._load(joined)

    def _part(self, chance: random.Random) -> tuple[int, int] | None:
        """Now and then part a run: (the run, the new one)."""
        if chance.random() >= 0.12:
            return None
        run = chance.choice(self._order)
        if self._counts[run] < 2:
            return None
        n = 1 + chance.randrange(self._counts[run] - 1)
        self._jobs.append(self._jobs[run])
        self._counts.append(n)
        self._counts[run] -= n
        self._take()
        return run, len(self._jobs) - 1

    def _unpart(self, parted: tuple[int, int]) -> None:
        run, _ = parted
        self._jobs.pop()
        self._counts[run] += self._counts.pop()
        self._take()

    def _insertions(self, chance: random.Random, parted: tuple[int, int]) -> list[list[int]]:
        """The parted run put in at several places, mostly beside its like."""
        run, new = parted
        stock = self._classes[self._jobs[run]][1]
        like = [i for i, r in enumerate(self._order) if self._classes[self._jobs[r]][1] == stock]
        batch = []
        for _ in range(_BATCH):
            if chance.random() < 0.7:
                at = chance.choice(like) + chance.randrange(2)
            else:
                at = chance.randrange(len(self._order) + 1)
            batch.append([*self._order[:at], new, *self._order[at:]])
        return batch

    def _moves(self, chance: random.Random) -> list[list[int]]:
        """Several orders, each with a block of runs put elsewhere."""
        order = self._order
        size = len(order)
        stocks: dict[int, list[int]] = defaultdict(list)
        for i, r in enumerate(order):
            stocks[self._classes[self._jobs[r]][1]].append(i)
        batch = []
        for _ in range(_BATCH):
            a, b = self._block(chance)
            block, rest = order[a:b], order[:a] + order[b:]
            if not rest:
                continue
            where = chance.random()
            at = chance.randrange(len(rest) + 1)
            if where < 0.6:
                _, stock, pattern = self._classes[self._jobs[order[a]]]
                like = [i if i < a else i - (b - a) for i in stocks[stock] if not a <= i < b]
                if where < 0.12:
                    like = [i for i in like if self._classes[self._jobs[rest[i]]][2] == pattern]
                if like:
                    at = chance.choice(like) + chance.randrange(2)
            elif where < 0.8:
                at = min(len(rest), max(0, a + chance.randrange(-8, 9)))
            if chance.random() < 0.1:
                block = block[::-1]
            batch.append(rest[:at] + block + rest[at:])
        return [o for o in batch if len(o) == size]

    def _block(self, chance: random.Random) -> tuple[int, int]:
        """From and to where: a run, a few, the visit to a stock or its end, or to a material."""
        order = self._order
        size = len(order)
        a = chance.randrange(size)
        width = chance.random()
        if width < 0.25:
            return a, a + 1 + chance.randrange(min(6, size - a))
        if width >= 0.5:
            return a, a + 1
        level = 0 if width >= 0.45 else 1

        def code(i: int) -> int:
            return int(self._classes[self._jobs[order[i]]][level])

        b = a + 1
        while b < size and code(b) == code(a):
            b += 1
        if 0.25 <= width < 0.35:
            while a > 0 and code(a - 1) == code(a):
                a -= 1
        return a, b
