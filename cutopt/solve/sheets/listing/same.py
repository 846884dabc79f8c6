"""Rows of counts told apart: sums of random numbers find them, a comparison makes sure.

What a part adds to a row's sum is known beforehand, so that "this row and one part more" is found
in one look-up. No answer rests on a sum alone: equal sums are compared number by number.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from cutopt.solve.sheets.points import Ints

__all__ = ["Book", "Bools", "Counts", "Keys", "first_of_each", "keys_for", "keys_of"]

Counts = NDArray[np.int16]
Keys = NDArray[np.uint64]
Bools = NDArray[np.bool_]

_SEED = 20_011


def keys_for(kinds: int) -> Keys:
    """What one part of each kind adds to a row's sum, shape (kinds,)."""
    rng = np.random.default_rng(_SEED)
    return rng.integers(1, 2**63, kinds, dtype=np.uint64) * np.uint64(2) + np.uint64(1)


def keys_of(rows: Counts, keys: Keys) -> Keys:
    """Sums of rows of counts, shape (rows,); they wrap."""
    total: Keys = np.zeros(len(rows), dtype=np.uint64)
    for i, key in enumerate(keys):
        column = rows[:, i]
        if column.any():
            total += column.astype(np.uint64) * key
    return total


def first_of_each(rows: Counts, sums: Keys, best: Ints) -> NDArray[np.intp]:
    """Of equal rows the one with the least `best`; the earliest of those, in rising order.

    Rows that only share their sum all stay.
    """
    ranked = np.sort(sums)
    if not (ranked[1:] == ranked[:-1]).any():
        return np.arange(len(rows))
    order = np.lexsort((np.arange(len(rows)), best, sums))
    ranked = sums[order]
    fresh = np.ones(len(rows), dtype=bool)
    fresh[1:] = ranked[1:] != ranked[:-1]
    heads = order[np.flatnonzero(fresh)]
    head_of = np.repeat(heads, np.diff(np.append(np.flatnonzero(fresh), len(rows))))
    other = ~fresh
    alike = np.ones(len(rows), dtype=bool)
    if other.any():
        alike[other] = (rows[order[other]] == rows[head_of[other]]).all(axis=1)
    return np.sort(order[fresh | ~alike])


@dataclass(frozen=True, slots=True)
class Book:
    """Rows that can be asked for."""

    rows: Counts
    sums: Keys
    order: NDArray[np.intp]

    @classmethod
    def of(cls, rows: Counts, sums: Keys) -> Book:
        """A book of these rows."""
        order = np.argsort(sums, kind="stable")
        return cls(rows, sums[order], order)

    def holds(self, rows: Counts, sums: Keys, more: int | None = None) -> Bools:
        """Which rows, each with one part of kind `more` added, are in the book.

        `sums` are those of what is looked for. A row whose like is hidden behind another of the
        same sum counts as missing.
        """
        found: Bools = np.zeros(len(rows), dtype=bool)
        if not len(self.sums):
            return found
        at = np.minimum(np.searchsorted(self.sums, sums), len(self.sums) - 1)
        hit = np.flatnonzero(self.sums[at] == sums)
        if not len(hit):
            return found
        there = self.rows[self.order[at[hit]]]
        asked = rows[hit]
        if more is not None:
            asked = asked.copy()
            asked[:, more] += 1
        found[hit] = (there == asked).all(axis=1)
        return found
