"""Least-cost joints of single runs: one table backwards over the places serves many runs.

Runs with the same step, piece limits and kind of piece share a table whatever their lengths and
first places: between two joints lie the same multiples of the step. Row k of the table stands for
the k-th place of every run; a column for a run.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np
from numpy.typing import NDArray

from cutopt.solve.runs.unit import Cut, Run

__all__ = ["FAR", "Single", "SingleTable", "Values", "far_of"]

#: Floats to search by, int64 to prove by.
Values = NDArray[Any]

#: What stands for "no way" among integers; two of them still add up below 2**63.
FAR = 1 << 60


def far_of(values: Values) -> Any:
    """What stands for "no way" beside values of this kind."""
    return np.inf if values.dtype.kind == "f" else FAR


class SingleTable:
    """The places and pieces of runs that share a table.

    Parameters
    ----------
    runs
        Different runs that are equal but for their length and first place.
    index
        Where the value of each piece is found; -1, the last, holds "no way".
    """

    def __init__(self, runs: Sequence[Run], index: Mapping[Cut, int]) -> None:
        self.runs = tuple(runs)
        one = runs[0]
        self.step, self.longest = one.step, one.longest
        self.low, high = one.multiples
        self.n = max(r.count for r in runs)
        self.high = max(self.low - 1, min(high, self.n - 1))
        self.inner = np.array(
            [index.get(one.piece(m * self.step), -1) for m in range(self.low, self.high + 1)],
            np.int64,
        )
        self.whole = np.array(
            [index[r.cut(r.length)] if r.length <= r.longest else -1 for r in runs], np.int64
        )
        self.lead = np.full((self.n, len(runs)), -1, np.int64)
        self.tail = np.full((self.n, len(runs)), -1, np.int64)
        for c, run in enumerate(runs):
            for k, x in enumerate(run.places):
                if run.fits(x):
                    self.lead[k, c] = index.get(run.piece(x), -1)
                if run.fits(run.length - x):
                    self.tail[k, c] = index.get(run.piece(run.length - x), -1)

    def price(self, values: Values, firsts: Values) -> Single:
        """The table for these values of pieces behind a joint, and of first and whole ones.

        Behind both stands a "no way".
        """
        return Single(self, values, firsts)


class Single:
    """A priced table.

    Attributes
    ----------
    rest : array, shape (places, runs)
        The least value of what follows a joint at that place.
    tail : array, shape (places, runs)
        The value of ending the run with one piece from that place.
    lead : array, shape (places, runs)
        The value of a first piece that ends there.
    whole, best : array, shape (runs,)
        The value of the run in one piece, and the least of all.
    """

    def __init__(self, table: SingleTable, values: Values, firsts: Values) -> None:
        self.table, self.values, self.first_values = table, values, firsts
        self.inner = values[table.inner]
        self.tail = values[table.tail]
        self.lead = firsts[table.lead]
        self.whole = firsts[table.whole]
        low, high, n = table.low, table.high, table.n
        self.rest = rest = self.tail.copy()
        steps = self.inner[:, None]
        for k in range(n - 1 - low, -1, -1):
            end = min(high, n - 1 - k)
            if end >= low:
                way = steps[: end - low + 1] + rest[k + low : k + end + 1]
                np.minimum(rest[k], way.min(axis=0), out=rest[k])
        self.best = self.whole.copy()
        if n:
            np.minimum(self.best, (self.lead + rest).min(axis=0), out=self.best)

    def joints(self, column: int) -> tuple[int, ...]:
        """Joints of a least way for a run that has one; where equal, the longest piece first."""
        if self.whole[column] <= self.best[column]:
            return ()
        ways = (self.lead[:, column] + self.rest[:, column])[::-1]
        return self.follow(column, self.table.n - 1 - int(ways.argmin()))

    def follow(self, column: int, k: int) -> tuple[int, ...]:
        """A least way on from a joint at place k, that joint among the joints."""
        table, run = self.table, self.table.runs[column]
        low, high, n = table.low, table.high, table.n
        joints = [run.start + k * run.step]
        while self.tail[k, column] > self.rest[k, column]:
            end = min(high, n - 1 - k)
            ways = self.inner[: end - low + 1] + self.rest[k + low : k + end + 1, column]
            k += end - int(ways[::-1].argmin())
            joints.append(run.start + k * run.step)
        return tuple(joints)

    def firsts(self, column: int) -> list[tuple[Any, int]]:
        """(value, place) of the best way through each first joint, least first; -1: one piece."""
        ways = (self.lead[:, column] + self.rest[:, column]).tolist()
        found = [(v, k) for k, v in enumerate(ways)]
        found.append((self.whole[column].item(), -1))
        return sorted(found)
