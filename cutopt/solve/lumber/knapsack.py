"""The bounded knapsack behind all pricing: one table serves every stick of a material.

The same code runs in floats, to search by, and in int64, to prove by.
"""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

from cutopt.solve.lumber.model import Bools, Ints

__all__ = ["Filled", "Knapsack", "Values", "never"]

#: Floats to search by, int64 to prove by.
Values = NDArray[Any]


def never(kind: np.dtype[Any]) -> Any:
    """What a room that can't be filled to the unit is worth."""
    return -np.inf if kind.kind == "f" else -(1 << 62)


class Knapsack:
    """Items that may be put into rooms of up to `room` units.

    Parameters
    ----------
    weight : array, shape (items,)
        Above 0.
    room
        The largest room.
    most
        Most pieces in a room, None for no limit.
    joined : array, shape (items,)
        Items that jointed runs may ask for: they are put in first, the lightest before others, so
        that what they alone are worth can be read.
    exact
        Whether a room is filled to its last unit or not at all. Then items worth nothing, or less,
        are put in where they fill it.
    """

    def __init__(
        self, weight: Ints, room: int, most: int | None, joined: Bools, exact: bool = False
    ) -> None:
        self.exact = exact
        self.weight: list[int] = weight.tolist()
        self.room = room
        self.most = most
        first = joined.tolist()
        self._order = sorted(
            range(len(weight)),
            key=lambda i: (0, self.weight[i]) if first[i] else (1, -self.weight[i]),
        )
        self._first = sum(first)
        self._shape = (room + 1,) if most is None else (most + 1, room + 1)
        self._taken = np.zeros((0, *self._shape), bool)
        self._spare: dict[str, tuple[Values, Values]] = {}

    def fill(self, worth: Values, copies: Ints) -> Filled:
        """The most that any room holds.

        Parameters
        ----------
        worth : array, shape (items,)
            float64 or int64; items worth nothing or less are left out.
        copies : array, shape (items,)
            Most of each in one room.

        Notes
        -----
        The result shares this object's memory and holds until the next call.
        """
        kind = worth.dtype.kind
        if kind not in self._spare:
            self._spare[kind] = (
                np.zeros(self._shape, worth.dtype),
                np.zeros(self._shape, worth.dtype),
            )
        best = self._spare[kind][0]
        best.fill(never(worth.dtype) if self.exact else 0)
        best[..., 0] = 0
        steps: list[tuple[int, int, int, Any]] = []
        worths, counts = worth.tolist(), copies.tolist()
        most = self.room if self.most is None else self.most
        # What lighter items are worth bounds a heavier one only where any number may be put in.
        skips = (
            self._first > 0
            and self.most is None
            and all(counts[i] * self.weight[i] > self.room for i in self._order[: self._first])
        )
        alone: Values | None = None
        for n, i in enumerate(self._order):
            if n == self._first and skips:
                alone = best.copy()
            w, p = self.weight[i], worths[i]
            if w > self.room or (p <= 0 and not self.exact):
                continue
            if skips and n < self._first and p <= best[w] and not self.exact:
                continue
            left = min(counts[i], self.room // w, most)
            q = 1
            while left > 0:
                q = min(q, left)
                self._put(len(steps), q, q * w, q * p, kind)
                steps.append((i, q, q * w, q * p))
                left -= q
                q *= 2
        if skips and alone is None:
            alone = best.copy()
        return Filled(self._taken, self.most, steps, best if self.most is None else best[-1], alone)

    def _put(self, step: int, pieces: int, w: int, p: Any, kind: str) -> None:
        """Offer every room so many pieces of weight `w` and worth `p` together."""
        if step == len(self._taken):
            more = np.zeros((max(64, step // 2), *self._shape), bool)
            self._taken = np.concatenate([self._taken, more])
        best, spare = self._spare[kind]
        row = self._taken[step]
        end = self.room + 1 - w
        if self.most is None:
            row[:w] = False
            reach, way = best[w:], spare[:end]
            np.add(best[:end], p, out=way)
            np.greater(way, reach, out=row[w:])
        else:
            row[:pieces] = False
            row[:, :w] = False
            rest = self.most + 1 - pieces
            reach, way = best[pieces:, w:], spare[:rest, :end]
            np.add(best[:rest, :end], p, out=way)
            np.greater(way, reach, out=row[pieces:, w:])
        np.maximum(way, reach, out=reach)


class Filled:
    """A filled table.

    Attributes
    ----------
    value : array, shape (room + 1,)
        The most that pieces of a total weight up to each place are worth, or of just that weight.
    joined_value : array or None
        The same of the items that jointed runs may ask for alone, where any number may be put in.
    exact : Filled or None
        Where rooms may have to be filled to the unit: the table of that.
    """

    def __init__(
        self,
        taken: Bools,
        most: int | None,
        steps: list[tuple[int, int, int, Any]],
        value: Values,
        joined_value: Values | None,
    ) -> None:
        self._taken = taken
        self._most = most
        self._steps = steps
        self.value = value
        self.joined_value = joined_value
        self.exact: Filled | None = None

    def pieces(self, place: int) -> dict[int, int]:
        """What is in a room of so many units: item, how many."""
        found: dict[int, int] = {}
        s, left = len(self._steps), self._most
        while True:
            column = self._taken[:s, place] if left is None else self._taken[:s, left, place]
            at = column.nonzero()[0]
            if not len(at):
                return found
            s = int(at[-1])
            i, q, w, _ = self._steps[s]
            found[i] = found.get(i, 0) + q
            place -= w
            if left is not None:
                left -= q
