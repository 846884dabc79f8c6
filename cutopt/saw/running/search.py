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
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from cutopt.saw.running.judge import Judge, Runs
from cutopt.saw.running.starts import Listed, by_stock, plan_order, waves
from cutopt.saw.running.visits import Decoder

__all__ = ["Effort", "Found", "Step", "no_step", "search"]

_BATCH = 8
#: Temperatures of the search, in seconds of set-up times 10⁶ (what costs are counted in).
_HOT, _COLD = 60_000_000, 3_000_000
#: What a cart above the limit costs at first, of its weight, and until which share of a search.
_SOFT, _SOFT_LAST, _SOFT_SHARE = 0.02, 1.0, 0.6
#: Moves drawn at most for a batch.
_DRAWN = 120
_DECODED = 24
_STARTS = 2
_FIRST_SHARE = 5


@dataclass(frozen=True, slots=True)
class Effort:
    """How long to search.

    Parameters
    ----------
    judged
        Orders judged; 0 for 1,400 a cart, at most 80,000.
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
        return self.judged or min(80_000, 1_400 * carts)


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
        walk.anneal(order, first, effort.seed * 101 + n, _HOT, _SOFT)
        for n, (_, order) in enumerate(starts[:_STARTS])
    ]
    tried += starts[:1]
    best = min(tried, key=lambda t: t[0])
    last = walk.anneal(
        best[1], total - walk.judged, effort.seed * 101 + _STARTS, _HOT // 2, _SOFT_LAST
    )
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


def _steps(judge: Judge) -> list[list[int]]:
    """What a set-up costs from one job to the next; −1, the last row and column, for no job.

    The set-up before the first run is for its material, whatever it is: it changes with no move.
    """
    s = judge.work.saw.seconds
    weight = judge.work.saw.weights.setups
    classes = judge.work.classes
    same = classes[:, None, :] == classes[None, :, :]
    cost = np.where(same[..., 1], np.where(same[..., 2], 0, s.stop), s.stock)
    cost = np.where(same[..., 0], cost, s.material) * weight
    table: list[list[int]] = np.pad(cost, (0, 1)).tolist()
    return table


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
        self._step = _steps(judge)
        self._jobs: list[int] = []
        self._counts: list[int] = []
        self._order: list[int] = []

    def anneal(
        self, start: Listed, orders: int, seed: int, hot: float, soft: float
    ) -> tuple[int, Listed]:
        """The best found from a start within so many orders judged."""
        chance = random.Random(seed)  # noqa: S311 - a search, not a secret
        self._load(list(start))
        judged = self.judge.judge(np.array([self._order]))
        base, excess = int(judged.base[0]), int(judged.excess[0])
        best, listed = int(judged.cost[0]), self._listed()
        full = self.judge.work.saw.weights.carts
        begin, turn = self.judged, 0
        while self.judged - begin < orders and not self.broken_off:
            turn += 1
            if turn % 64 == 0:
                self._report(Step(self.judged, self._total, best))
                self.broken_off = self._ended()
            share = (self.judged - begin) / orders
            heat = hot * (_COLD / hot) ** share
            # Carts above the limit cost little at first, so that visits find their places.
            price = full if soft <= 0 else int(full * soft ** max(0.0, 1 - share / _SOFT_SHARE))
            parted = self._part(chance)
            if parted:
                batch = [(order, 0) for order in self._insertions(chance, parted)]
            else:
                batch = self._moves(chance, heat)
            if not batch:
                self.judged += 1
                continue
            judged = self.judge.judge(np.array([order for order, _ in batch]))
            self.judged += len(batch)
            costs = judged.base + judged.excess * price
            at = int(costs.argmin())
            cost = base + excess * price
            # What a move adds in set-ups was weighed when it was drawn.
            paid = max(0, batch[at][1])
            if costs[at] > cost + paid - heat * math.log(1 - chance.random()):
                if parted:
                    self._unpart(parted)
                continue
            base, excess = int(judged.base[at]), int(judged.excess[at])
            self._order = batch[at][0]
            self._merge()
            if judged.cost[at] < best:
                best, listed = int(judged.cost[at]), self._listed()
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

    def _moves(self, chance: random.Random, heat: float) -> list[tuple[list[int], int]]:
        """Several orders, each with a block of runs put elsewhere, and what it adds in set-ups.

        A move that adds set-ups passes by the chance that it would have if nothing else changed:
        so the dear part, judging carts, is spent on few of the moves drawn.
        """
        order = self._order
        size = len(order)
        jobs = [self._jobs[r] for r in order]
        stocks: dict[int, list[int]] = defaultdict(list)
        patterns: dict[int, list[int]] = defaultdict(list)
        for i, j in enumerate(jobs):
            stocks[self._classes[j][1]].append(i)
            patterns[self._classes[j][2]].append(i)
        batch: list[tuple[list[int], int]] = []
        for _ in range(_DRAWN):
            a, b = self._block(chance, jobs)
            if b - a == size:
                continue
            # Put before the run now at `at`, which lies outside the block.
            at = self._target(chance, a, b, stocks[self._classes[jobs[a]][1]], patterns, jobs)
            if a <= at <= b:
                continue
            turned = b - a > 1 and chance.random() < 0.1
            first, last = (jobs[b - 1], jobs[a]) if turned else (jobs[a], jobs[b - 1])
            before, after = (jobs[a - 1] if a else -1), (jobs[b] if b < size else -1)
            left, right = (jobs[at - 1] if at else -1), (jobs[at] if at < size else -1)
            step = self._step
            added = step[left][first] + step[last][right] + step[before][after]
            added -= step[left][right] + step[before][jobs[a]] + step[jobs[b - 1]][after]
            if added > 0 and added > -heat * math.log(1 - chance.random()):
                continue
            block = order[a:b]
            if turned:
                block.reverse()
            if at < a:
                moved = order[:at] + block + order[at:a] + order[b:]
            else:
                moved = order[:a] + order[b:at] + block + order[at:]
            batch.append((moved, added))
            if len(batch) == _BATCH:
                break
        return batch

    def _target(
        self,
        chance: random.Random,
        a: int,
        b: int,
        like: Sequence[int],
        patterns: dict[int, list[int]],
        jobs: Sequence[int],
    ) -> int:
        size = len(jobs)
        where = chance.random()
        if where < 0.6:
            if where < 0.12:
                like = patterns[self._classes[jobs[a]][2]]
            return chance.choice(like) + chance.randrange(2)
        if where < 0.8:
            return min(size, max(0, (a if chance.random() < 0.5 else b) + chance.randrange(-8, 9)))
        return chance.randrange(size + 1)

    def _block(self, chance: random.Random, jobs: Sequence[int]) -> tuple[int, int]:
        """From and to where: a run, a few, the visit to a stock or its end, or to a material."""
        size = len(jobs)
        a = chance.randrange(size)
        width = chance.random()
        if width < 0.2:
            return a, a + 1 + chance.randrange(min(6, size - a))
        if width >= 0.5:
            return a, a + 1
        level = 0 if width >= 0.45 else 1
        code = self._classes[jobs[a]][level]
        b = a + 1
        while b < size and self._classes[jobs[b]][level] == code:
            b += 1
        # The whole visit, or what comes of it from here on, or up to here.
        if width < 0.28:
            while a > 0 and self._classes[jobs[a - 1]][level] == code:
                a -= 1
        elif width < 0.36:
            b = a + 1
            while a > 0 and self._classes[jobs[a - 1]][level] == code:
                a -= 1
        return a, b
