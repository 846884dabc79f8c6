"""What an order of runs comes to: open carts, set-ups, minutes, lateness; many orders at once.

Pieces of a kind go to carts by rank: the first pieces cut to the cart wanted first, until it has
all it needs, then to the next. So a cart opens with the earliest piece and closes with the latest
piece of its shares, and both follow from how many pieces of each kind the runs have cut so far.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from cutopt.saw.running.work import Ints, Work

__all__ = ["Judge", "Judged", "Runs"]

_FAR = np.int64(1) << 60


@dataclass(frozen=True)
class Runs:
    """Runs without an order: of `count[r]` sticks each, cut to job `job[r]`."""

    job: Ints
    count: Ints

    def __len__(self) -> int:
        return len(self.job)


@dataclass(frozen=True)
class Judged:
    """Figures of B orders: arrays of B, carts' times of B × carts; milliseconds.

    `cost` is `base` and, for what lies above the limit on carts, `excess` times its weight.
    `over` counts cart-sticks above the limit, `area` cart-sticks in all, `changes` is B × 3:
    set-ups for material, stock, stop. `opens` and `closes` number the sticks of the day from 0.
    """

    cost: Ints
    base: Ints
    excess: Ints
    peak: Ints
    over: Ints
    area: Ints
    setup_time: Ints
    changes: Ints
    end: Ints
    late: Ints
    opens: Ints
    closes: Ints
    full: Ints


class Judge:
    """Judges orders of runs of one saw's work.

    Parameters
    ----------
    work
        What is to be cut.
    ranking
        Carts in the order in which they are served; as wanted, if not given.
    limit
        Open carts at most; the saw's, if not given; 0 for none.
    """

    def __init__(self, work: Work, ranking: Ints | None = None, limit: int | None = None) -> None:
        self.work = work
        count = len(work.carts)
        self.ranking = np.arange(count) if ranking is None else ranking
        most = work.saw.carts if limit is None else limit
        self.limit = most or count
        demand = work.demand
        totals = demand.sum(axis=0)
        self._before = np.concatenate(([0], np.cumsum(totals)))[:-1]
        self.pieces = int(totals.sum())
        ranked = demand[self.ranking]
        ends = np.empty_like(demand)
        ends[self.ranking] = np.cumsum(ranked, axis=0)
        carts, kinds = np.nonzero(demand)
        self._first = self._before[kinds] + ends[carts, kinds] - demand[carts, kinds]
        self._last = self._before[kinds] + ends[carts, kinds] - 1
        self._starts = np.flatnonzero(np.diff(carts, prepend=-1))
        self._classes = work.classes
        s = work.saw.seconds
        self._rates = np.array([s.material, s.stock, s.stop], np.int64)
        per_job: list[dict[int, int]] = []
        for job in work.jobs:
            counts: dict[int, int] = {}
            for k in job.kinds:
                counts[k] = counts.get(k, 0) + 1
            per_job.append(counts)
        self._kinds_of_job = per_job
        self.sticks = sum(j.count for j in work.jobs)
        self.runs: Runs = Runs(np.zeros(0, np.int64), np.zeros(0, np.int64))

    def take(self, runs: Runs) -> None:
        """Set the runs that orders to come are of."""
        self.runs = runs
        kinds: list[int] = []
        of_run: list[int] = []
        each: list[int] = []
        for r, job in enumerate(runs.job.tolist()):
            for kind, n in self._kinds_of_job[job].items():
                kinds.append(kind)
                of_run.append(r)
                each.append(n)
        order = np.argsort(np.array(kinds, np.int64), kind="stable")
        self._entry_run = np.array(of_run, np.int64)[order]
        self._each = np.array(each, np.int64)[order]
        self._total = self._each * runs.count[self._entry_run]
        size = len(runs)
        key = np.array(kinds, np.int64)[order] * size
        # Sorting by 16 bits is a radix sort: several times faster.
        small = bool(len(key)) and int(key[-1]) + size < 1 << 16
        self._key_type: Any = np.uint16 if small else np.int64
        self._key = key.astype(self._key_type)
        self._stick = self.work.stick_time[runs.job]
        self._long = self._stick * runs.count
        self._class = self._classes[runs.job]

    def setups(self, orders: Ints) -> tuple[Ints, Ints]:
        """Which set-up comes before each run (0 material, 1 stock, 2 stop, 3 none) and its time."""
        classes = self._class[orders]
        same = classes[:, 1:] == classes[:, :-1]
        kind = same[..., 0].astype(np.int64)
        kind += same[..., 0] & same[..., 1]
        kind += same[..., 0] & same[..., 1] & same[..., 2]
        first = np.zeros((len(orders), 1), np.int64)
        kind = np.concatenate((first, kind), axis=1)
        return kind, np.append(self._rates, 0)[kind]

    def judge(self, orders: Ints) -> Judged:
        """Figures of every row of `orders`, each an order of the runs taken (B × runs)."""
        many, size = orders.shape
        kind, setup = self.setups(orders)
        counts = self.runs.count[orders]
        ends = np.cumsum(setup + self._long[orders], axis=1)
        sticks = np.cumsum(counts, axis=1)
        rows = np.arange(many)[:, None]
        place = np.empty_like(orders)
        place[rows, orders] = np.arange(size)
        # Per run: when its first stick is brought up, and the number of that stick.
        begin = np.empty_like(orders)
        begin[rows, orders] = ends - self._long[orders]
        number = np.empty_like(orders)
        number[rows, orders] = sticks - counts
        keys = self._key + place.astype(self._key_type)[:, self._entry_run]
        entry = np.argsort(keys, axis=1, kind="stable")
        upto = np.cumsum(self._total[entry], axis=1)
        shift = (np.arange(many) * self.pieces)[:, None]
        flat = (upto + shift).ravel()
        cart = len(self.work.carts)
        opens = np.full((many, cart), _FAR)
        closes = np.zeros((many, cart), np.int64)
        full = np.zeros((many, cart), np.int64)
        if self.pieces:
            base = (np.arange(many) * len(self._key))[:, None]

            def found(pieces: Ints) -> tuple[Ints, Ints]:
                at = np.searchsorted(flat, (pieces + shift).ravel(), side="right")
                at = at.reshape(many, -1) - base
                e = np.take_along_axis(entry, at, axis=1)
                r = self._entry_run[e]
                before = np.take_along_axis(upto, at, axis=1) - self._total[e]
                return r, (pieces - before) // self._each[e]

            r, k = found(self._first)
            which = np.take_along_axis(number, r, axis=1) + k
            opens = np.minimum.reduceat(which, self._starts, axis=1)
            r, k = found(self._last)
            which = np.take_along_axis(number, r, axis=1) + k
            closes = np.maximum.reduceat(which, self._starts, axis=1)
            when = np.take_along_axis(begin, r, axis=1) + (k + 1) * self._stick[r]
            full = np.maximum.reduceat(when, self._starts, axis=1)
        late = np.maximum(full - self.work.due, 0).sum(axis=1)
        peak, over = self._open(opens, closes)
        area = (closes - opens + 1).sum(axis=1)
        setup_time = setup.sum(axis=1)
        w = self.work.saw.weights
        cost = setup_time * w.setups + late * w.jigs
        cost += area * w.picking * 1_000 // max(1, self.sticks)
        excess = np.maximum(peak - self.limit, 0) * 1_000 + over * 1_000 // 30
        base, cost = cost, cost + excess * w.carts
        changes = np.stack([(kind == i).sum(axis=1) for i in range(3)], axis=1)
        end = ends[:, -1] if size else np.zeros(many, np.int64)
        return Judged(
            cost,
            base,
            excess,
            peak,
            over,
            area,
            setup_time,
            changes,
            end,
            late,
            opens,
            closes,
            full,
        )

    def _open(self, opens: Ints, closes: Ints) -> tuple[Ints, Ints]:
        """Most carts open at once, and cart-sticks above the limit."""
        many, cart = opens.shape
        if not cart:
            zero = np.zeros(many, np.int64)
            return zero, zero
        # A cart stands open through its last stick: what opens with the next comes after it.
        times = np.concatenate((opens * 2 + 1, closes * 2 + 2), axis=1)
        order = np.argsort(times, axis=1)
        step = np.where(order < cart, 1, -1)
        now = np.cumsum(step, axis=1)
        at = (np.take_along_axis(times, order, axis=1) - 1) // 2
        at = at + (order >= cart)
        spans = np.diff(at, axis=1)
        over = (np.maximum(now[:, :-1] - self.limit, 0) * spans).sum(axis=1)
        return now.max(axis=1), over
