"""An order decoded visit by visit: what one material and stock allows without too many carts.

A visit cuts every stick of one size of stock that opens no cart beyond the limit; new carts are
taken in the order in which they are wanted, as far ahead as told. Then the stock of the same
material with most to cut comes next, and another material only where this one has nothing left.
Where nothing at all may be cut, the stick that opens fewest carts is.
"""

from __future__ import annotations

import random
from collections import defaultdict

from cutopt.saw.running.starts import Listed
from cutopt.saw.running.work import Work

__all__ = ["Decoder"]


class Decoder:
    """Decodes orders of one saw's work; carts are sets of bits by their rank."""

    def __init__(self, work: Work) -> None:
        self._jobs = work.jobs
        carts = range(len(work.carts))
        demand = work.demand.tolist()
        self._owners = [
            [1 << c for c in carts for _ in range(demand[c][k])] for k in range(len(work.kinds))
        ]
        self._each: list[list[tuple[int, int]]] = []
        for job in work.jobs:
            counts: dict[int, int] = defaultdict(int)
            for k in job.kinds:
                counts[k] += 1
            self._each.append(list(counts.items()))
        self._groups: dict[int, list[int]] = defaultdict(list)
        self._material: dict[int, int] = {}
        classes = work.classes.tolist()
        for j, (material, stock, _) in enumerate(classes):
            self._groups[stock].append(j)
            self._material[stock] = material
        self._stock = [c[1] for c in classes]
        code = {job.material: c[0] for job, c in zip(work.jobs, classes, strict=True)}
        self._takers: dict[int, int] = defaultdict(int)
        for k, kind in enumerate(work.kinds):
            for c in carts:
                if demand[c][k]:
                    self._takers[code[kind.material]] |= 1 << c
        self._pieces = work.demand.sum(axis=1).tolist()

    def decode(self, limit: int, ahead: int, chance: random.Random, noise: float = 0.3) -> Listed:
        """An order.

        Parameters
        ----------
        limit
            Open carts that a visit keeps to.
        ahead
            New carts are taken from so many of those not yet open.
        chance, noise
            The sticks that a stock allows count up to so much more, at random.
        """
        self._begin()
        here = -1
        while any(self._left):
            best = (0.0, -1)
            for stock, jobs in self._groups.items():
                allowed = self._allowed(self._material[stock], limit, ahead)
                waiting = [j for j in jobs if self._left[j]]
                ready = sum(not self._touched(j) & ~allowed for j in waiting)
                if ready:
                    value = ready * (1 + noise * chance.random())
                    value *= 1.3 if ready == len(waiting) else 1
                    if here < 0 or self._material[stock] == self._material[here]:
                        value += 1_000
                    best = max(best, (value, stock))
            if best[1] < 0:
                here = self._stock[self._force(here)]
            else:
                here = best[1]
                self._visit(here, limit, ahead)
        return list(self._order)

    def _begin(self) -> None:
        self._left = [job.count for job in self._jobs]
        self._cut_of = [0] * len(self._owners)
        self._lacks = list(self._pieces)
        self._opened = 0
        self._open = 0
        self._order: Listed = []

    def _allowed(self, material: int, limit: int, ahead: int) -> int:
        """The carts that are or were open, and those that may be opened."""
        found, count = self._opened, self._open
        takers = self._takers[material]
        for c in range(len(self._pieces)):
            bit = 1 << c
            if self._opened & bit:
                continue
            if not ahead or count >= limit:
                break
            ahead -= 1
            if takers & bit:
                found |= bit
                count += 1
        return found

    def _touched(self, job: int) -> int:
        found = 0
        for kind, n in self._each[job]:
            at = self._cut_of[kind]
            for bit in self._owners[kind][at : at + n]:
                found |= bit
        return found

    def _cut(self, job: int) -> None:
        self._left[job] -= 1
        for kind, n in self._each[job]:
            at = self._cut_of[kind]
            for bit in self._owners[kind][at : at + n]:
                if not self._opened & bit:
                    self._opened |= bit
                    self._open += 1
                cart = bit.bit_length() - 1
                self._lacks[cart] -= 1
                if not self._lacks[cart]:
                    self._open -= 1
            self._cut_of[kind] += n
        if self._order and self._order[-1][0] == job:
            self._order[-1] = (job, self._order[-1][1] + 1)
        else:
            self._order.append((job, 1))

    def _visit(self, stock: int, limit: int, ahead: int) -> None:
        material = self._material[stock]
        while True:
            allowed = self._allowed(material, limit, ahead)
            ready = []
            for j in self._groups[stock]:
                if self._left[j]:
                    touched = self._touched(j)
                    if not touched & ~allowed:
                        fresh = (touched & ~self._opened).bit_count()
                        ready.append((fresh, touched.bit_length(), j))
            if not ready:
                return
            job = min(ready)[2]
            self._cut(job)
            while self._left[job] and not self._touched(job) & ~self._allowed(
                material, limit, ahead
            ):
                self._cut(job)

    def _force(self, here: int) -> int:
        """Cut the stick that opens fewest carts."""

        def key(j: int) -> tuple[int, bool, int, int]:
            touched = self._touched(j)
            fresh = (touched & ~self._opened).bit_count()
            return (fresh, self._stock[j] != here, touched & -touched, j)

        job = min((j for j, n in enumerate(self._left) if n), key=key)
        self._cut(job)
        return job
